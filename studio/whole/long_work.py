"""What of the whole studio is long work: its book, and its audit. Both are the owner's."""

from __future__ import annotations

from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

from studio.house.clock import today
from studio.house.long_work.kinds import Came, Course, Inputs, Kind
from studio.kit.roles import May


def save_the_book(course: Course, inputs: Inputs) -> Came:
    """The book and its files, as `manage.py save_book` writes them, packed into one."""
    from studio.whole.book.save import files_beside, save_book  # all rooms stand behind it: loaded by a worker alone

    written, packed = course.folder / "book.json", course.folder / "packed"
    save_book(written, course.at)
    kept = sorted(files_beside(written).iterdir()) if files_beside(written).exists() else []
    with ZipFile(packed, "w") as book:
        course.at(0, 1 + len(kept), "packing")
        book.write(written, written.name, ZIP_DEFLATED)
        for done, path in enumerate(kept, start=1):
            course.at(done, 1 + len(kept), "packing")
            book.write(path, f"{path.parent.name}/{path.name}", ZIP_STORED)
    return Came(said=f"The book is saved, with {len(kept)} file{'' if len(kept) == 1 else 's'}: "
                     "unpacked, it can be read into an empty studio.",
                file=packed, name=f"book-{today().isoformat()}.zip", media_type="application/zip")


def audit_the_studio(course: Course, inputs: Inputs) -> Came:
    """The audit, as `manage.py audit` tells it."""
    from studio.whole.audit import audit_and_note
    from studio.whole.known_doubts import known_doubts

    found, _ = audit_and_note(course.at, everything=True)
    doubts = known_doubts()
    lines = (*found, *(f"Known doubt: {sentence}" for sentence in doubts))
    if not found:
        return Came(said="Everything ties.", lines=lines)
    return Came(said=f"{len(found)} thing{' does' if len(found) == 1 else 's do'} not tie.", lines=lines)


BOOK = Kind(name="book", title=lambda inputs: "The studio's book", needs=May.STUDIO, do=save_the_book,
            button="Save the studio's book",
            lead="The whole studio as one document with its files, which another studio can be begun from.")
AUDIT = Kind(name="audit", title=lambda inputs: "Audit", needs=May.STUDIO, do=audit_the_studio,
             button="Audit the studio",
             lead="Works out the stock, the quotes and the rules again from their rows, and says what does not tie.")
