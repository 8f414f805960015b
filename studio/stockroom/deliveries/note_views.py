"""Paste a delivery note, see what was read of it, confirm it: then it is received in one transaction."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.house.clock import today
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest
from studio.house.models import HouseRates
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.kit.typed_numbers import whole_number
from studio.stockroom.deliveries.note import MOST_LETTERS, MOST_ROWS, read_note
from studio.stockroom.deliveries.note_forms import NoteForm, NoteHeadForm, NoteRowForm, shown_day
from studio.stockroom.deliveries.note_goods import Good
from studio.stockroom.deliveries.note_shapes import Note
from studio.stockroom.deliveries.receiving import DeliveryLine, receive_delivery, received_already
from studio.stockroom.forms import unusual_amounts, unusual_prices
from studio.stockroom.hazards.trade import trade_materials
from studio.stockroom.ledger import free_number, why_not_numbered
from studio.stockroom.listed import standing_for
from studio.stockroom.materials import storage_conflicts
from studio.stockroom.models import Material

#: where to go once it is saved: a word that the form carries, and the page's name
BACK = {"start": "studio:start"}


def _materials() -> dict[str, Material]:
    return {row.code: row for row in Material.objects.exclude(kind=Material.Kind.SOLUTION).order_by("name")}


def goods_of(materials: Sequence[Material]) -> list[Good]:
    """Return the stockroom's materials as notes may name them: by name, the trade's other names, and CAS number."""
    names: dict[int, set[str]] = {}
    for listed in trade_materials():
        row = standing_for(listed, materials)
        if row is not None:
            names.setdefault(row.pk, set()).update((listed.name, *listed.synonyms))
    return [
        Good(code=row.code, name=row.name, synonyms=tuple(sorted(names.get(row.pk, set()) - {row.name})),
             cas=row.cas_number, formula=row.formula, sheet_mm=_sheet(row))
        for row in materials
    ]


def _sheet(row: Material) -> tuple[int, int] | None:
    if row.sheet_width_mm is None or row.sheet_height_mm is None:
        return None
    return int(row.sheet_width_mm), int(row.sheet_height_mm)


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def read_delivery_note(request: DeskRequest) -> HttpResponse:
    """Take a pasted note, and show each of its lines as it was read; nothing is saved."""
    form = NoteForm(request.POST or None)
    back = _back(request)
    if not form.is_valid():
        return render(request, "stockroom/deliveries/note.html", {"form": form, "back": back},
                      status=REFUSED if form.is_bound else 200)
    materials = _materials()
    note = _read(form.cleaned_data["note"], materials)
    if not note.rows:
        form.add_error("note", " ".join(note.marks))
        return render(request, "stockroom/deliveries/note.html", {
            "form": form, "back": back, "left_out": note.left_out}, status=REFUSED)
    head = NoteHeadForm(initial={
        "note": form.cleaned_data["note"], "supplier": note.supplier, "reference": note.reference,
        "carriage": note.carriage, "received_on": today(),
    })
    return _shown(request, head, _row_forms(note, materials), note)


def _read(text: str, materials: dict[str, Material]) -> Note:
    rates = HouseRates.known_on(today())
    return read_note(text, goods_of(list(materials.values())), rates.currency if rates else "")


def _row_forms(note: Note, materials: dict[str, Material]) -> list[NoteRowForm]:
    """Return a form for each row of a note, filled in with what was read; a lot without a number gets the next free."""
    forms, taken = [], {row.lot.casefold() for row in note.rows if row.lot}
    for at, row in enumerate(note.rows):
        lot = row.lot or _number(today(), at + 1, taken)
        taken.add(lot.casefold())
        form = NoteRowForm(prefix=f"row-{at}", materials=materials, likely=row.likely, row=row, initial={
            "number": row.number, "text": row.text, "good": row.good, "lot": lot, "amount": row.amount,
            "price": row.price, "expires": shown_day(row.expires),
        })
        form.numbered_here = not row.lot
        forms.append(form)
    return forms


def _number(day: date, at: int, taken: set[str]) -> str:
    """Return a lot number by the day that no lot has, nor another row."""
    wanted = f"{day:%y%m%d}-{at}"
    while wanted.casefold() in taken or why_not_numbered(wanted):
        wanted = free_number(wanted) if why_not_numbered(wanted) else f"{wanted}-2"
    return wanted


@allowed(May.ORDERS)
@require_POST
def receive_note(request: DeskRequest) -> HttpResponse:
    """Receive what was confirmed, all of it or nothing."""
    before = received_already(sent_key(request))
    if before:
        messages.warning(request, before)
        return redirect(BACK.get(_back(request), "stockroom:shelf"))
    materials, rates = _materials(), HouseRates.known_on(today())
    count = min(whole_number(request.POST.get("rows", "")), MOST_ROWS)
    head = NoteHeadForm(request.POST)
    note = _read(request.POST.get("note", "")[:MOST_LETTERS], materials)
    read = dict(enumerate(note.rows[:count]))
    rows = [NoteRowForm(request.POST, prefix=f"row-{at}", materials=materials, row=read.get(at),
                        likely=read[at].likely if at in read else ()) for at in range(count)]
    if all([head.is_valid(), *(row.is_valid() for row in rows)]) and _once_each(rows):
        lines = [row.line for row in rows if row.line is not None]
        if not lines:
            head.add_error(None, "Every line is left out: nothing would be received.")
        elif _may_stand(head, lines) and _received(request, head, lines, rates.minor_digits if rates else 2):
            return redirect(BACK.get(_back(request), "stockroom:shelf"))
    return _shown(request, head, rows, note, REFUSED)


def _once_each(rows: Sequence[NoteRowForm]) -> bool:
    """Refuse a lot number that two rows have."""
    seen: set[str] = set()
    for row in rows:
        if row.line is not None:
            number = row.line.lot_number.casefold()
            if number in seen:
                row.add_error("lot", "Another line has this number: one number names one lot.")
            seen.add(number)
    return not any(row.errors for row in rows)


def _may_stand(head: NoteHeadForm, lines: Sequence[DeliveryLine]) -> bool:
    """Ask of what is unusual, and refuse what must not stand together."""
    question = " ".join(filter(None, [
        unusual_amounts([(line.material, line.amount) for line in lines]),
        unusual_prices([(line.material, Fraction(line.price) / Fraction(line.amount)) for line in lines]),
    ]))
    if question:
        head.ask("goods", question, of="; ".join(f"{line.material} {line.amount} {line.price}" for line in lines))
    if any(conflict.stops for conflict in storage_conflicts(*{line.material for line in lines})):
        head.add_error(None, "These must not stand together: give one of them another storage place first.")
    return not head.errors


def _received(request: DeskRequest, head: NoteHeadForm, lines: Sequence[DeliveryLine], digits: int) -> bool:
    values = head.cleaned_data
    try:
        delivery = receive_delivery(
            key=values["key"], by=request.user, supplier=values["supplier"], received_on=values["received_on"],
            lines=lines, carriage=values["carriage"], reference=values["reference"], minor_digits=digits,
            awaited=values["awaited"],
        )
    except DaybookError as refusal:
        head.add_error(refusal.field if refusal.field in head.fields else None, str(refusal))
        return False
    for conflict in storage_conflicts(*{line.material for line in lines}):
        messages.warning(request, conflict.sentence)
    lots = "1 lot" if len(lines) == 1 else f"{len(lines)} lots"
    messages.success(request, f"{lots} from {delivery.supplier} on the shelf.")
    return True


def _back(request: DeskRequest) -> str:
    back = request.POST.get("back", request.GET.get("back", ""))
    return back if back in BACK else ""


def _shown(
    request: DeskRequest, head: NoteHeadForm, rows: Sequence[NoteRowForm], note: Note, status: int = 200
) -> HttpResponse:
    asked = sum(not row["good"].value() or bool(row.marks) or bool(row.errors) for row in rows)
    context: dict[str, Any] = {
        "head": head, "rows": rows, "note": note, "back": _back(request), "asked": asked,
        "refused": status == REFUSED, "numbered_here": sum(row.numbered_here for row in rows),
    }
    return render(request, "stockroom/deliveries/note_rows.html", context, status=status)
