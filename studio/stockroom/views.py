"""The shelf, its materials, and what is stored where."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.house.lists import LONGEST_ASKED, Listing, listed
from studio.house.models import House
from studio.kit.access import allowed, at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.stockroom.hazards.statements import PICTOGRAMS, precaution_in_words, statement_in_words
from studio.stockroom.ledger import receive, why_not_received
from studio.stockroom.material_forms import MaterialForm, PlaceForm, ReceiveForm
from studio.stockroom.materials import (
    kept_as_added,
    save_material,
    storage_conflicts,
    storage_findings,
    stored_now,
    take_published,
    touched_by,
)
from studio.stockroom.models import CountSheet, Lot, Material, ReservedAmount, StockMovement, StoragePlace
from studio.stockroom.outlook import level_chart
from studio.stockroom.places import as_stored, containers_standing, place_named, places, row_named, save_place
from studio.stockroom.shelf import on_shelf
from studio.stockroom.shelf_rows import ShelfRow, by_group, in_a_sentence, lots_wanting, shelf_rows
from studio.stockroom.storage import Stored


@at_the_desk
@require_safe
def storage(request: DeskRequest) -> HttpResponse:
    """What is stored where, and what must not be stored together."""
    rows = list(stored_now().order_by("storage_place", "name"))
    known = places()
    standing, waste = as_stored(rows, known), containers_standing(known)
    inside: dict[str, list[tuple[Material | None, Stored]]] = {row.name.casefold(): [] for row in known.values()}
    for material, stored in [*zip(rows, standing, strict=True), *((None, stored) for stored in waste)]:
        inside.setdefault(stored.place.casefold(), []).append((material, stored))
    nowhere = inside.pop("", [])
    return render(request, "stockroom/storage.html", {
        "places": [(place_named(mine[0][1].place if mine else known[name].name, known), mine)
                   for name, mine in sorted(inside.items())],
        "nowhere": nowhere, "findings": storage_findings([*standing, *waste]),
        "unclassed": sum(stored.is_unclassed for stored in standing),
    })


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def storage_place(request: DeskRequest) -> HttpResponse:
    """Say what a storage place is for. A name that materials give and nobody entered yet is entered so."""
    name = request.GET.get("name", "").strip()
    if len(name) > LONGEST_ASKED:
        raise Http404
    row = row_named(name)
    if row is None and not Material.objects.filter(storage_place__iexact=name).exclude(storage_place="").exists():
        raise Http404
    row = row or StoragePlace(name=name)
    form = PlaceForm(request.POST or None, instance=row)
    if form.is_valid():
        try:
            save_place(form.instance, sent_saves(request) if row.pk else None)
        except DaybookError as refusal:
            carry_new_saves(request, refusal)
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"{row} is {row.facts.in_words}.")
            return redirect("stockroom:storage")
    return render(request, "stockroom/storage_place.html", {"form": form, "place": row},
                  status=REFUSED if form.is_bound else 200)


#: a row without a day, or a worth, comes last
SORTS: dict[str, Callable[[ShelfRow], Any]] = {
    "kind": by_group, "name": lambda row: row.material.name.casefold(),
    "usable": lambda row: row.standing.usable, "free": lambda row: row.standing.free,
    "turns": lambda row: (row.first is None, row.first.on if row.first else date.max),
    "stands": lambda row: (not row.wants_somebody, row.material.name.casefold()),
    "worth": lambda row: row.worth or Decimal(0),
}


@at_the_desk
@require_safe
def shelf(request: DeskRequest) -> HttpResponse:
    """The shelf at a glance: how every material stands, found by name, lot, CAS number or place."""
    day = today()
    read = on_shelf()
    rows = shelf_rows(day, with_worth=request.user.may(May.ORDERS), shelf=read)
    asked, only_wanting = request.GET.get("q", "").strip(), "wants" in request.GET
    shown = [row for row in rows if row.answers(asked) and (row.wants_somebody or not only_wanting)]
    listing = listed(request, shown, SORTS)
    here = as_stored(row.material for row in rows if row.standing.on_hand > 0)
    findings = storage_findings([*here, *containers_standing()])
    wanting = lots_wanting(day, read)
    return render(request, "stockroom/shelf.html", {
        "listing": listing, "groups": grouped(listing), "materials": len(rows), "asked": asked,
        "only_wanting": only_wanting, "lots": sum(row.lots for row in rows), "counted_on": last_counted_on(),
        "said": in_a_sentence(len(wanting), rows), "wanting": wanting[:WANTING_SHOWN],
        "more_wanting": max(len(wanting) - WANTING_SHOWN, 0),
        "value": sum((row.worth or Decimal(0) for row in rows), Decimal(0)),
        "deadly": [finding for finding in findings if finding.stops],
        "unclassed": sum(row.material.is_unclassed for row in rows),
        "other_conflicts": sum(not finding.stops for finding in findings),
    })


#: the rest stand in the list
WANTING_SHOWN = 6


def grouped(listing: Listing[ShelfRow]) -> list[tuple[str, list[ShelfRow]]]:
    """Return a page's rows under their groups where it is sorted by kind, else under no heading."""
    if listing.sort != "kind":
        return [("", list(listing.rows))]
    return [(group, list(mine)) for group, mine in groupby(listing.rows, key=lambda row: row.group)]


def last_counted_on() -> date | None:
    last = CountSheet.objects.filter(posted_at__isnull=False).order_by("-posted_at").first()
    return None if last is None or last.posted_at is None else localdate(last.posted_at)


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def new_material(request: DeskRequest) -> HttpResponse:
    return _write_material(request, None)


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def edit_material(request: DeskRequest, code: str) -> HttpResponse:
    """Change a material; whatever was made of it is checked again."""
    return _write_material(request, get_object_or_404(Material, code=code))


def _write_material(request: DeskRequest, material: Material | None) -> HttpResponse:
    form = MaterialForm(request.POST or None, instance=material, preference=House.unit_preference())
    if form.is_valid():
        try:
            saved = save_material(form.instance, sent_saves(request), request.user,
                                  why_taken_away=form.cleaned_data["why_taken_away"])
        except DaybookError as refusal:
            carry_new_saves(request, refusal)
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        else:
            for sentence in [*(conflict.sentence for conflict in storage_conflicts(saved)), *touched_by(saved)]:
                messages.warning(request, sentence)
            kept = set(saved.reacts_as) - set(form.cleaned_data["reacts_as"])
            if kept:
                messages.warning(request, kept_as_added(saved, kept))
            if form.cleaned_data["none_apply"] and not saved.none_apply:
                messages.warning(request, f"{saved} reacts as {saved.classes_in_words}: “none apply” is not kept.")
            messages.success(request, f"{saved} is saved.")
            return redirect("stockroom:material", saved.code)
    return render(request, "stockroom/material_form.html", {"form": form, "material": material},
                  status=REFUSED if form.is_bound else 200)


@allowed(May.ORDERS)
@require_POST
def receive_lot(request: DeskRequest, code: str) -> HttpResponse:
    """Receive a lot, once for each form; a refusal keeps what was typed."""
    material = get_object_or_404(Material, code=code)
    form = ReceiveForm(request.POST, material=material)
    if not form.is_valid():
        return _material_page(request, material, form, REFUSED)
    values = form.cleaned_data
    try:
        lot = receive(
            key=values["key"],
            by=request.user,
            material=material,
            lot_number=values["lot_number"],
            quantity=values["amount"],
            cost_with_carriage=values["cost_with_carriage"],
            received_on=values["received_on"],
            supplier=values["supplier"],
            expires_on_given=values["expires_on"],
        )
    except ValidationError as refusal:
        for sentence in refusal.messages:
            form.add_error("lot_number", sentence)
        return _material_page(request, material, form, REFUSED)
    except DaybookError as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        return _material_page(request, material, form, REFUSED)
    for finding in storage_conflicts(material):
        messages.warning(request, finding.sentence)
    messages.success(request, f"{lot} is on the shelf.")
    return redirect("stockroom:material", code)


@at_the_desk
@require_safe
def material_page(request: DeskRequest, code: str) -> HttpResponse:
    """A material: its lots in picking order, what is promised, its hazards; the owner can receive a lot."""
    material = get_object_or_404(Material, code=code)
    form = ReceiveForm(material=material, initial={"received_on": today()})
    return _material_page(request, material, form)


@allowed(May.ORDERS)
@require_POST
def take_published_hazards(request: DeskRequest, code: str) -> HttpResponse:
    """Enter the published statements of what a material's number names, where none are entered yet."""
    material = get_object_or_404(Material, code=code)
    try:
        name = take_published(material, sent_saves(request), request.user)
    except DaybookError as refusal:
        messages.warning(request, str(refusal))
    else:
        messages.success(request, f"The published hazards of {name} are entered: compare them with the supplier's own "
                                  "data sheet, which comes first.")
    return redirect("stockroom:material", code)


def _published(material: Material) -> dict[str, object] | None:
    """Return what is published of a material's hazards, in words, while none are entered."""
    entry = material.published_hazards
    if entry is None:
        return None
    return {
        "name": entry.name, "signal_word": entry.signal_word, "source": entry.where_statements_are_from,
        "pictograms": [PICTOGRAMS[code] for code in entry.pictograms],
        "statements": [(code, statement_in_words(code)) for code in entry.statements],
    }


#: the heads of a material's lots, in the order they are picked where none is asked; what has no day comes last
LOT_SORTS: dict[str, Callable[[Lot], Any]] = {
    "picked": lambda lot: (lot.level.on_hand == 0, lot.expires_on or date.max, lot.received_on),
    "lot": lambda lot: lot.lot_number.casefold(), "supplier": lambda lot: (lot.supplier.casefold(), lot.received_on),
    "received": lambda lot: lot.received_on, "opened": lambda lot: (lot.opened_on or date.max, lot.received_on),
    "expires": lambda lot: (lot.expires_on or date.max, lot.received_on),
    "on-hand": lambda lot: (lot.level.on_hand, lot.received_on),
}
#: a helper sees no costs, nor which lot cost most
OWNERS_LOT_SORTS = LOT_SORTS | {"cost": lambda lot: (lot.unit_cost, lot.received_on)}


def _material_page(request: DeskRequest, material: Material, form: ReceiveForm, status: int = 200) -> HttpResponse:
    day, refused = today(), why_not_received(material)
    lots = list(material.lots.select_related("level"))
    for lot in lots:
        lot.material = material  # read once, however many lots there were of it
    listing = listed(request, lots, OWNERS_LOT_SORTS if request.user.may(May.ORDERS) else LOT_SORTS)
    promised = list(ReservedAmount.objects.filter(material=material, reservation__released_at=None)
                    .select_related("reservation"))
    movements = StockMovement.objects.filter(lot__material=material).order_by("posting__at", "pk")
    by_day = ((at.date(), quantity) for at, quantity in movements.values_list("posting__at", "quantity"))
    chart = level_chart(by_day, day, material.reorder_point)
    return render(request, "stockroom/material.html", {
        "material": material, "storage": storage_conflicts(material),
        "place": place_named(material.storage_place, places()), "day": day,
        "chart": chart, "listing": listing, "lots": [(lot, lot.has_expired(day)) for lot in listing.rows],
        "promised": promised,
        "taken_away": list(material.classes_taken_away.select_related("by")),
        "published": _published(material),
        "statements": [
            (code, statement_in_words(code, material.statement_categories.get(code, "")))
            for code in material.hazard_statements
        ],
        "label": material.label, "pictograms": [PICTOGRAMS[code] for code in material.label.pictograms],
        "precautions": [(code, precaution_in_words(code)) for code in material.precautions],
        "form": form if request.user.may(May.ORDERS) and (form.is_bound or not refused) else None,
        "why_not_received": refused,
    }, status=status)
