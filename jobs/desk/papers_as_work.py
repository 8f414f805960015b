"""Every paper of every job in one file, as long work: hundreds of them take minutes."""

from __future__ import annotations

from zipfile import ZIP_STORED, ZipFile

from jobs.models import Job, Quote, WorkTicket
from studio.house.clock import today
from studio.house.long_work.kinds import Came, Course, Inputs, Kind
from studio.kit.roles import May


def write_all_papers(course: Course, inputs: Inputs) -> Came:
    """Quotes and tickets as they were kept, and a fresh ticket of each booked job; nothing is recorded."""
    from jobs.desk.all_papers import all_papers  # the makers of paper are slow to load: by a worker alone

    packed = course.folder / "papers.zip"
    all_of_them = (Quote.objects.count() + WorkTicket.objects.count()
                   + Job.objects.filter(state=Job.State.BOOKED).count())
    written = 0
    course.at(0, all_of_them, "")
    with ZipFile(packed, "w", ZIP_STORED) as papers:
        for name, content in all_papers(course.asked_by):
            papers.writestr(name, content)
            written += 1
            course.at(written, max(all_of_them, written), name)
    return Came(said=f"{written} paper{'' if written == 1 else 's'}.", file=packed,
                name=f"papers-{today().isoformat()}.zip", media_type="application/zip")


PAPERS = Kind(name="papers", title=lambda inputs: "Every paper of every job", needs=May.ORDERS, do=write_all_papers,
              button="Write every paper of every job",
              lead="Quotes and tickets as they were kept, and a fresh ticket of each booked job, in one file.")
