"""Count sheets: started, printed, filled in, saved as corrections."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import F, Q, Sum
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.house.http import REFUSED, DeskRequest, csv_response, pdf_response
from studio.house.lists import ordered
from studio.house.models import House
from studio.house.paper import render_pdf
from studio.kit.access import allowed, at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.meant_so import Question, put
from studio.kit.roles import May
from studio.kit.rounding import plain
from studio.stockroom.counts.counting import differences, moment_written, post_count, record_counts, start_count
from studio.stockroom.counts.forms import CountForm, WrittenForm
from studio.stockroom.forms import typed_amount
from studio.stockroom.models import CountLine, CountSheet, Material
from studio.stockroom.tables import as_csv, table_rows

#: so many times too much, or too little, is mostly a slip of the decimal point or of the unit
FAR_OFF = 10
BARE = re.compile(r"[0-9][0-9.,\s]*")


#: the heads of the list of counts, open ones before saved ones; the newest first where none is asked
SORTS: dict[str, Sequence[Any]] = {
    "newest": ("-as_of", "-pk"), "sheet": ("place", "-as_of"), "as-of": ("as_of", "pk"),
    "by": ("by__username", "-as_of"), "state": (F("posted_at").asc(nulls_first=True), "-as_of"),
}


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def counts(request: DeskRequest) -> HttpResponse:
    """Count sheets, and a form for a new one."""
    places = sorted(set(Material.objects.exclude(storage_place="").values_list("storage_place", flat=True)))
    form = CountForm(request.POST or None, places=places, initial={"hide_expected": True})
    if form.is_valid():
        values = form.cleaned_data
        try:
            sheet = start_count(
                key=values["key"], by=request.user, place=values["place"], hide_expected=values["hide_expected"]
            )
            return redirect("stockroom:count", sheet.pk)
        except DaybookError as refusal:
            form.add_error("place", str(refusal))
    return render(request, "stockroom/counts/counts.html", {
        "form": form, "listing": ordered(request, CountSheet.objects.select_related("by"), SORTS),
    }, status=REFUSED if form.is_bound else 200)


def _sheet(pk: int) -> CountSheet:
    return get_object_or_404(CountSheet.objects.select_related("by", "posting"), pk=pk)


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def count(request: DeskRequest, pk: int) -> HttpResponse:
    """A count: amounts are entered and differences seen."""
    sheet = _sheet(pk)
    if request.GET.get("as") == "csv":
        return _count_csv(sheet)
    if request.method != "POST":
        return _count_page(request, sheet)
    return _entered(request, sheet, lambda: None)


@allowed(May.ORDERS)
@require_POST
def count_saved(request: DeskRequest, pk: int) -> HttpResponse:
    """Record what is counted and save the corrections."""
    sheet = _sheet(pk)

    def post() -> None:
        post_count(sheet, request.user)
        messages.success(request, "The count is saved.")

    return _entered(request, sheet, post)


def _entered(request: DeskRequest, sheet: CountSheet, then: Callable[[], None]) -> HttpResponse:
    """Save what a count's form holds, then go on; or show on each line what is wrong with it."""
    typed: dict[int, str] = {}
    wrong: dict[int, str] = {}
    questions: dict[int, Question] = {}
    read: dict[int, Decimal | None] = {}
    written: dict[int, datetime] = {}
    sent = _sent_counts(request)
    lines = list(sheet.lines.select_related("lot__material"))
    times = WrittenForm(request.POST, lines=[line.pk for line in lines])
    times.is_valid()
    moved = {row["lot"] for row in _moved_since(sheet)}
    for line in lines:
        by_lot = sent.get((line.lot.material.name.casefold(), line.lot.lot_number))
        typed[line.pk] = (by_lot or request.POST.get(f"line-{line.pk}", "")).strip()[:30]
        try:
            read[line.pk] = _counted(typed[line.pk], line.lot.material)
            at = _written_at(sheet, line, read[line.pk], times)
        except DaybookError as unread:
            wrong[line.pk] = str(unread)
            read.pop(line.pk, None)
            continue
        if at is not None:
            written[line.pk] = at
        asked = put(f"line-{line.pk}_meant_so", _far_off(line, read[line.pk]) or (
            _which_moment(sheet, line, read[line.pk]) if at is None and line.lot_id in moved else ""),
            typed[line.pk], request.POST)
        if asked.sentence:
            questions[line.pk] = asked
            if not asked.ticked:
                wrong[line.pk] = asked.sentence
                del read[line.pk]
    try:
        record_counts(sheet, read, written)
        if not wrong:
            then()
            return redirect("stockroom:count", sheet.pk)
    except DaybookError as refused:
        return _count_page(request, sheet, typed, wrong, questions, str(refused), times)
    return _count_page(request, sheet, typed, wrong, questions, times=times)


def _written_at(
    sheet: CountSheet, line: CountLine, counted: Decimal | None, times: WrittenForm,
) -> datetime | None:
    """Return when a figure was written, where that is said. Raises DaybookError for a time that cannot be.

    The time of the whole sheet is that of new figures: one saved before keeps its own.
    """
    if counted is None:
        return None
    if said := times.said_of(line.pk):
        raise DaybookError(said)
    own = times.cleaned_data.get(times.name_of(line.pk))
    typed = times.of_line(line.pk)
    if typed is None or (own is None and counted == line.counted):
        return None
    return moment_written(sheet, typed)


def _which_moment(sheet: CountSheet, line: CountLine, counted: Decimal | None) -> str:
    """Return what to ask of a new figure of a lot that moved since its sheet was made, where no time is given."""
    if counted is None or counted == line.counted:
        return ""
    made = timezone.localtime(sheet.as_of)
    return (f"Some of this lot moved since the sheet was made at {made:%H:%M}: give the time at which this figure was "
            "written. Was it written just now?")


def _far_off(line: CountLine, counted: Decimal | None) -> str:
    """Return what to ask of a count that is ten times what the book says or more, a tenth of it or less; else "".

    Nothing there is a count like any other; what was saved before is not asked again. The book's figure stays hidden.
    """
    if not counted or counted == line.counted or line.expected <= 0:
        return ""
    shown = f"{plain(counted)} {line.lot.material.stock_unit}"
    if counted >= FAR_OFF * line.expected:
        return f"{shown} is ten times what the book says or more: is the unit right?"
    if counted * FAR_OFF <= line.expected:
        return f"{shown} is a tenth of what the book says or less: is the unit right?"
    return ""


def _count_page(
    request: DeskRequest, sheet: CountSheet, typed: dict[int, str] | None = None, wrong: dict[int, str] | None = None,
    questions: dict[int, Question] | None = None, refusal: str = "", times: WrittenForm | None = None,
) -> HttpResponse:
    lines, wrong = list(sheet.lines.select_related("lot__material", "lot__level")), wrong or {}
    saved = {line.pk: "" if line.counted is None else f"{plain(line.counted)} {line.lot.material.stock_unit}"
             for line in lines}
    times = times or WrittenForm(lines=[line.pk for line in lines])
    corrections, uncounted = differences(sheet), sum(line.counted is None for line in lines)
    return render(request, "stockroom/counts/count.html", {
        "sheet": sheet, "lines": [
            (line, {**saved, **(typed or {})}[line.pk], wrong.get(line.pk, ""), (questions or {}).get(line.pk),
             times[WrittenForm.name_of(line.pk)])
            for line in lines
        ],
        "times": times, "differences": corrections, "refusal": refusal,
        "value": sum((difference.value for difference in corrections), Decimal(0)),
        "uncounted": uncounted, "can_save": request.user.may(May.ORDERS) and sheet.posted_at is None and not uncounted,
        "moved": _moved_since(sheet),
    }, status=REFUSED if wrong or refusal else 200)


def _count_csv(sheet: CountSheet) -> HttpResponse:
    """The sheet as a table: to be filled in and sent back in."""
    rows = ((line.lot.material.name, line.lot.lot_number, f"{plain(line.expected)} {line.lot.material.stock_unit}"
             if sheet.shows_expected else "", "" if line.counted is None
             else f"{plain(line.counted)} {line.lot.material.stock_unit}")
            for line in sheet.lines.select_related("lot__material"))
    return csv_response(as_csv(("material", "lot", "expected", "counted"), rows), f"count-{sheet.pk}.csv")


def _sent_counts(request: DeskRequest) -> dict[tuple[str, str], str]:
    """Return what was counted by a sent table, by material and lot."""
    sent = request.FILES.get("table")
    if sent is None or (sent.size or 0) > 1_000_000:
        return {}
    rows = table_rows(sent.read().decode("utf-8-sig", "replace"))
    head = [cell.casefold() for cell in rows[0]] if rows else []
    if not {"material", "lot", "counted"} <= set(head):
        return {}
    named = [dict(zip(head, cells, strict=False)) for cells in rows[1:]]
    return {(row.get("material", "").casefold(), row.get("lot", "")): row.get("counted", "") for row in named}


def _counted(text: str, material: Material) -> Decimal | None:
    """Read a figure; a bare number is in the stock unit that stands beside the blank."""
    if not text:
        return None
    if text in ("0", "none"):
        return Decimal(0)
    if BARE.fullmatch(text) and material.stock_unit in ("g", "mL"):
        text = f"{text} {material.stock_unit}"
    try:
        return typed_amount(text, material)
    except ValidationError as refused:
        raise DaybookError(" ".join(refused.messages)) from refused


def _moved_since(sheet: CountSheet) -> list[dict[str, Any]]:
    """Return what moved by lot since its figure was written, until now or until the count was saved.

    Of a lot that is not counted yet, since the sheet was made.
    """
    later = Q(lot__movements__posting__at__gt=Coalesce(F("written_at"), F("sheet__as_of")))
    if sheet.posted_at is not None:
        later &= Q(lot__movements__posting__at__lte=sheet.posted_at) & ~Q(lot__movements__posting=sheet.posting_id)
    rows = sheet.lines.order_by().values("lot", "lot__material__name", "lot__lot_number", "lot__material__stock_unit")
    moved = rows.annotate(total=Sum("lot__movements__quantity", filter=later)).filter(total__isnull=False)
    return [dict(row) for row in moved]


@at_the_desk
@require_safe
def count_pdf(request: DeskRequest, pk: int) -> HttpResponse:
    """The sheet to print: lots of a place, with blanks, and expected amounts unless it hides them."""
    sheet, house = _sheet(pk), House.objects.first()
    pdf = render_pdf("stockroom/counts/paper_count_sheet.html", {
        "sheet": sheet, "lines": sheet.lines.select_related("lot__material"), "house": house,
        "paper_size": house.paper if house else "A4",
    })
    return pdf_response(pdf, f"count-{sheet.pk}.pdf")
