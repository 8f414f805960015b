"""Find in the stockroom: materials, lots, what is ordered, offcuts, waste containers."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from django.db.models import Q
from django.urls import reverse
from django.utils.formats import date_format

from studio.house.clock import today
from studio.kit.units import show_size, show_stock
from studio.stockroom.models import (
    Lot,
    Material,
    Offcut,
    Posting,
    Purchase,
    StockMovement,
    WasteContainer,
    WasteEntry,
)
from studio.whole.find.asking import Found, beside_its_name, holding, keys_first, may_hold, named
from studio.whole.find.jobs_side import size_near
from studio.whole.find.wanted import Wanted
from studio.whole.find.why import Why


def materials(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    columns = ("name", "cas_number", "formula", "storage_place", "same_glass")
    found = holding(Material.objects.order_by("name"), wanted, columns, lambda row: (
        ("", row.name), ("CAS number", row.cas_number), ("formula", row.formula), ("place", row.storage_place),
        ("same glass", row.same_glass),
    ))
    for material, why in found:
        yield Found(name=named(material.name, wanted), why=why, about=material.storage_place,
                    address=reverse("stockroom:material", args=[material.code]))


def lots(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield lots by their own words and how they stand, then by why some of it was discarded, sent back or undone."""
    rows = Lot.objects.select_related("material", "level", "delivery").order_by("-received_on", "-pk")
    columns = ("lot_number", "supplier", "hold_reason", "material__name", "delivery__reference")
    day, seen = today(), set[int]()
    found = holding(rows, wanted, columns, lambda lot: (
        ("", lot_name(lot)), ("supplier", lot.supplier), ("held because", lot.hold_reason),
        ("delivery", lot.delivery.reference if lot.delivery else ""), ("state", lot.standing_on(day)),
    ), own="lot used up undone held expired usable")
    for lot, why in found:
        seen.add(lot.pk)
        yield lot_found(lot, wanted, why)
    # of the postings that may say so alone: they are few beside all that moved
    saying = Posting.objects.filter(may_hold(wanted, ("why",)), kind__in=_WHY_IT_WENT).order_by().values("pk")
    movements = StockMovement.objects.filter(posting__in=saying, reversed_by=None).order_by("-pk")
    movements = movements.select_related("posting", "lot__material", "lot__level")
    for movement, why in holding(movements, wanted, ("posting__why",), lambda row: (
            (_WHY_IT_WENT[row.posting.kind], row.posting.why),)):
        if movement.lot_id not in seen:
            seen.add(movement.lot_id)
            yield lot_found(movement.lot, wanted, why)


#: postings that say why
_WHY_IT_WENT: dict[str, str] = {
    Posting.Kind.DISCARD: "discarded because", Posting.Kind.RETURN: "sent back because",
    Posting.Kind.REVERSAL: "undone because",
}


def lot_name(lot: Lot) -> str:
    return f"Lot {lot.lot_number}, {lot.material.name}"


def lot_found(lot: Lot, wanted: Wanted, why: tuple[Why, ...] = ()) -> Found:
    amount = show_stock(Fraction(lot.level.on_hand), lot.material.stock_unit)
    there = "undone" if lot.is_undone else "used up" if lot.is_used_up else f"{amount} on hand"
    return Found(name=named(lot_name(lot), wanted), address=reverse("stockroom:lot", args=[lot.pk]), why=why,
                 about=f"{there}{', held' if lot.is_held else ''}")


def purchases(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    rows = Purchase.objects.select_related("material", "lot").order_by("-ordered_on", "-pk")
    found = holding(rows, wanted, ("material__name", "supplier", "cancelled_because"), lambda row: (
        ("", _ordered(row)), ("supplier", row.supplier), ("cancelled because", row.cancelled_because),
        ("state", _state(row)),
    ), own="cancelled not come yet came")
    for purchase, why in found:
        lot = purchase.lot
        yield Found(
            name=named(_ordered(purchase), wanted), why=why,
            about=_state(purchase),
            address=reverse("stockroom:lot", args=[lot.pk]) if lot else reverse("jobs:buying"),
        )


def _state(purchase: Purchase) -> str:
    if purchase.lot is not None:
        return f"came as {purchase.lot.lot_number}"
    return "cancelled" if purchase.cancelled_because else "not come yet"


def _ordered(purchase: Purchase) -> str:
    amount = show_stock(Fraction(purchase.quantity), purchase.material.stock_unit)
    return f"{amount} {purchase.material.name}, ordered {date_format(purchase.ordered_on, 'j M Y')}"


def offcuts(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield kept offcuts by their size, either way round, and by their words; one that is gone only by why it is."""
    columns = ("material__name", "place", "came_from")
    asked = may_hold(wanted, columns, "offcut") if wanted.words else Q(pk=None)
    for wanted_size in wanted.sizes:
        asked |= size_near(wanted_size)
    rows = Offcut.objects.filter(gone_at=None).select_related("material").order_by("number")
    for offcut in keys_first(rows, asked):
        fields = (("", str(offcut)), ("glass", offcut.material.name), ("place", offcut.place),
                  ("came from", offcut.came_from))
        sized = wanted.is_size(offcut.width_mm, offcut.height_mm, is_round=False)
        if sized or wanted.holds(*(text for _, text in fields)):
            size = show_size(Fraction(offcut.width_mm), Fraction(offcut.height_mm))
            why = (Why(where="size", pieces=((size, True),)),) if sized else beside_its_name(fields, wanted)
            yield offcut_found(offcut, wanted, why)
    gone = Offcut.objects.exclude(gone_at=None).select_related("material").order_by("-number")
    for offcut, why in holding(gone, wanted, ("gone_because",), lambda row: (("gone because", row.gone_because),)):
        yield offcut_found(offcut, wanted, why)


def offcut_name(offcut: Offcut) -> str:
    return f"{offcut}, {show_size(Fraction(offcut.width_mm), Fraction(offcut.height_mm))} of {offcut.material.name}"


def offcut_found(offcut: Offcut, wanted: Wanted, why: tuple[Why, ...] = ()) -> Found:
    return Found(name=named(offcut_name(offcut), wanted), address=reverse("stockroom:offcuts"), why=why,
                 about="gone" if offcut.gone_at else offcut.place)


def waste(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield containers by their own words, then by what went into them."""
    columns = ("name", "meant_for", "place", "handed_to", "note")
    found = holding(WasteContainer.objects.order_by("name"), wanted, columns, lambda row: (
        ("", row.name), ("meant for", row.meant_for), ("place", row.place), ("handed to", row.handed_to),
        ("note", row.note),
    ))
    for container, why in found:
        yield _container(container, wanted, why)
    entries = WasteEntry.objects.select_related("container").order_by("-pk")
    for entry, why in holding(entries, wanted, ("what", "source"),
                              lambda row: (("went in", row.what), ("from", row.source))):
        yield _container(entry.container, wanted, why)


def _container(container: WasteContainer, wanted: Wanted, why: tuple[Why, ...]) -> Found:
    return Found(name=named(container.name, wanted), address=reverse("stockroom:container", args=[container.pk]),
                 about=container.meant_for_and_place, why=why)
