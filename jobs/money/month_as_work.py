"""A month closed in one file, as long work: every table, and every request for money as paper."""

from __future__ import annotations

from datetime import date
from zipfile import ZIP_DEFLATED, ZipFile

from jobs.models import MoneyRequest
from jobs.money import month
from jobs.money.columns import PARTS
from studio.house.clock import house_zone
from studio.house.long_work.kinds import Came, Course, Inputs, Kind
from studio.house.models import HouseRates
from studio.kit.one_moment import one_moment
from studio.kit.roles import May


def inputs_of(first: date, last: date) -> Inputs:
    return {"first": first.isoformat(), "last": last.isoformat()}


def _title(inputs: Inputs) -> str:
    first, last = (date.fromisoformat(inputs[name]) for name in ("first", "last"))
    return f"The books from {first:%-d %b %Y} to {last:%-d %b %Y}"


def write_month(course: Course, inputs: Inputs) -> Came:
    """Each table of the days as CSV, all of one moment, and the paper of each request that was asked in them.

    A request's paper that was never written is kept, as its own page does.
    """
    from jobs.money.paper import request_paper  # the makers of paper are slow to load: by a worker alone
    from jobs.money.tables import lines_of

    first, last = (date.fromisoformat(inputs[name]) for name in ("first", "last"))
    days = month.Days(first=first, last=last, zone=house_zone(),
                      currency=HouseRates.objects.values_list("currency", flat=True).first() or "")
    packed = course.folder / "month.zip"
    with ZipFile(packed, "w", ZIP_DEFLATED) as file:
        with one_moment():
            requests = list(MoneyRequest.objects.filter(asked_on__range=(first, last)).order_by("number").values_list(
                "pk", flat=True))
            parts = len(PARTS) + len(requests)
            for done, part in enumerate(PARTS):
                course.at(done, parts, part.title)
                file.writestr(f"{part.name}.csv", "".join(lines_of(part, month.ROWS[part.name](days))))
        for done, pk in enumerate(requests, start=len(PARTS)):
            request = MoneyRequest.objects.select_related("paper").get(pk=pk)
            course.at(done, parts, f"request {request.label}")
            file.writestr(f"request-{request.number}.pdf", request_paper(request))
    return Came(said=f"{len(PARTS)} tables and {len(requests)} request{'' if len(requests) == 1 else 's'} for money.",
                file=packed, name=f"books-{first.isoformat()}-to-{last.isoformat()}.zip", media_type="application/zip")


MONTH = Kind(name="month", title=_title, needs=May.MARGINS, do=write_month)
