"""What will run out or expire within 30 days, what is past use or held: rows with a bar each, for Today."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import cached_property

from django.urls import reverse
from django.utils.timezone import localtime

from studio.house.clock import now
from studio.kit.units import show_stock
from studio.stockroom.bars import LevelBar, level_bar
from studio.stockroom.models import Lot
from studio.stockroom.outlook import days_of_cover, used_a_day
from studio.stockroom.picking import picking_order
from studio.stockroom.shelf import Standing, as_on_shelf
from studio.whole.day_words import day_words, days_words, plain_day
from studio.whole.to_do import EndingLot

SOON = timedelta(days=30)
#: what fills a bar: silver is fresh, straw turns or is held, red is past use
FRESH, TURNING, PAST = "free", "held", "gone"


@dataclass(frozen=True, kw_only=True)
class ShelfRow:
    """A lot or a material to look at. state, tone: how it stands in words; there: an amount as it is read.

    colour: what fills its bar; level: the bar in words.
    """

    name: str
    number: str
    address: str
    state: str
    tone: str
    bar: LevelBar
    colour: str
    level: str
    there: str
    free: bool = False
    act: str = "Look"
    act_address: str = ""


@dataclass(frozen=True, kw_only=True)
class Shelf:
    """Everything on the shelf that a day asks of: lots with material and level fetched, and how materials stand."""

    day: date
    lots: Sequence[Lot]
    standings: Sequence[Standing]

    @property
    def held(self) -> list[Lot]:
        return [lot for lot in self.lots if lot.is_held]

    @property
    def ending(self) -> list[tuple[date, Lot]]:
        """Return the lots that are past use, or will be within 30 days, the first first. Held ones are not used."""
        ends = [(lot.expires_on, lot) for lot in self.lots if not lot.is_held]
        found = [(on, lot) for on, lot in ends if on is not None and on <= self.day + SOON]
        return sorted(found, key=lambda one: (one[0], one[1].pk))

    @cached_property
    def usable(self) -> dict[int, list[Lot]]:
        """Return by material the lots that may be used on the day, in the order they are picked."""
        by_id = {lot.pk: lot for lot in self.lots}
        found: dict[int, list[Lot]] = {}
        for row in picking_order(as_on_shelf(lot) for lot in self.lots):
            if row.usable_on(self.day):
                lot = by_id[row.lot_id]
                found.setdefault(lot.material_id, []).append(lot)
        return found

    def promised_of(self) -> dict[int, Decimal]:
        """Return by lot what of it is promised: its material's promises, taken in the order lots are picked."""
        left = {standing.material.pk: standing.promised for standing in self.standings}
        found: dict[int, Decimal] = {}
        for material, lots in self.usable.items():
            for lot in lots:
                taken = min(lot.level.on_hand, left.get(material, Decimal(0)))
                left[material] = left.get(material, Decimal(0)) - taken
                found[lot.pk] = taken
        return found

    def another(self, lot: Lot) -> str:
        """Return which lot is there instead of one that ends: “L1027 is good until 31 Mar 2027.”"""
        others = [other for other in self.usable.get(lot.material_id, [])
                  if other.pk != lot.pk and (other.expires_on is None or other.expires_on > self.day)]
        if not others:
            return "No other lot of it is usable."
        other = others[0]
        return (f"{other.lot_number} is good until {until_words(other, self.day)}." if other.expires_on
                else f"{other.lot_number} is usable.")


def until_words(lot: Lot, day: date) -> str:
    """Return until when a lot is used: “today”, “Tue 1 Dec”, “16 Nov”, with the minute where it keeps to one."""
    on = lot.expires_on
    if on is None:
        return ""
    said = plain_day(on, day) if on < day else day_words(on, day)
    if lot.discard_at is None or on < localtime(lot.discard_at).date():
        return said
    return f"{said}, {localtime(lot.discard_at):%H:%M}"


def read(amount: Decimal, lot: Lot) -> str:
    return show_stock(Fraction(amount), lot.material.stock_unit)


def ending_lots(shelf: Shelf) -> list[EndingLot]:
    """Return what is past use, and what turns today, as tasks ask of it."""
    promised = shelf.promised_of()
    return [
        EndingLot(
            pk=lot.pk, number=lot.lot_number, material=lot.material.name, there=read(lot.level.on_hand, lot),
            until=until_words(lot, shelf.day), on=on, is_past=lot.has_expired(shelf.day),
            address=reverse("stockroom:lot", args=[lot.pk]),
            promised=read(promised[lot.pk], lot) if promised.get(lot.pk) else "", another=shelf.another(lot),
        )
        for on, lot in shelf.ending if on <= shelf.day
    ]


def shelf_rows(shelf: Shelf, *, runs_desk: bool) -> list[ShelfRow]:
    """Return the rows: held lots, what is past use or turns within 30 days, then what runs short. One query."""
    promised = shelf.promised_of()
    rows = [_of_lot(lot, shelf, promised.get(lot.pk, Decimal(0))) for _, lot in shelf.ending]
    held = [_of_lot(lot, shelf, Decimal(0)) for lot in shelf.held]
    pace = used_a_day(now())
    short = [(standing, days_of_cover(standing.free, pace.get(standing.material.pk))) for standing in shelf.standings]
    return [*_past_first(rows), *held, *(
        _of_material(standing, days, runs_desk) for standing, days in short
        if standing.wants_buying or (days is not None and days <= SOON.days)
    )]


def _past_first(rows: Iterable[ShelfRow]) -> list[ShelfRow]:
    return sorted(rows, key=lambda row: row.tone != "danger")


def _of_lot(lot: Lot, shelf: Shelf, promised: Decimal) -> ShelfRow:
    past, on_hand, address = lot.has_expired(shelf.day), lot.level.on_hand, reverse("stockroom:lot", args=[lot.pk])
    if lot.is_held:
        state, tone, colour = f"held: {lot.hold_reason}", "danger", TURNING
    elif past:
        state, tone, colour = f"expired {until_words(lot, shelf.day)}", "danger", PAST
    else:
        state, tone, colour = f"expires {until_words(lot, shelf.day)}", "attention", TURNING
    says = f"{read(on_hand, lot)} of {read(lot.quantity_received, lot)}{', all past use' if past else ''}"
    return ShelfRow(
        name=lot.material.name, number=lot.lot_number, address=address, state=state, tone=tone,
        there=read(on_hand, lot), act="Discard" if past and not lot.is_held else "Look", act_address=address,
        bar=level_bar(usable=on_hand, promised=promised, received=lot.quantity_received, reorder=None), colour=colour,
        level=f"{says}, {read(promised, lot)} promised" if promised else says,
    )


def _of_material(standing: Standing, days: int | None, runs_desk: bool) -> ShelfRow:
    material, reorder = standing.material, standing.material.reorder_point
    unit, free = material.stock_unit, standing.free
    if standing.is_short:
        state, tone = f"{show_stock(-Fraction(free), unit)} short of what is promised", "danger"
    elif standing.below_reorder_point and reorder is not None:
        state, tone = f"below {show_stock(Fraction(reorder), unit)}", "attention"
    else:
        state, tone = f"lasts {days_words(days or 0)} at the pace of the last 90", "attention"
    address = reverse("stockroom:material", args=[material.code])
    return ShelfRow(
        name=material.name, number="", address=address, state=state, tone=tone, there=show_stock(Fraction(free), unit),
        free=True, act="Buy" if runs_desk else "Look", act_address=reverse("jobs:buying") if runs_desk else address,
        bar=level_bar(usable=standing.usable, promised=standing.promised, received=standing.on_hand, reorder=reorder),
        colour=FRESH, level=_says(standing),
    )


def _says(standing: Standing) -> str:
    unit, reorder = standing.material.stock_unit, standing.material.reorder_point
    said = [f"{show_stock(Fraction(standing.free), unit)} free"]
    if standing.promised:
        said.append(f"{show_stock(Fraction(standing.promised), unit)} promised")
    if reorder is not None:
        said.append(f"reorder at {show_stock(Fraction(reorder), unit)}")
    return ", ".join(said)
