"""The shelf at a glance: of every material what is usable, free and promised, what turns first, and how it stands."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from studio.house.clock import now
from studio.kit.units import show_stock
from studio.stockroom.bars import TURNING, FirstToTurn, LevelBar, Life, first_to_turn, level_bar
from studio.stockroom.models import Lot, Material
from studio.stockroom.outlook import OVER_A_YEAR, days_of_cover, in_words, used_a_day, worth
from studio.stockroom.shelf import OnShelf, Standing, on_shelf, promised_amounts, standings_of

WAIT, GOOD, ATTENTION, DANGER = "wait", "good", "attention", "danger"

#: the shelf's groups, in their order, by kind of material
GROUPS = {
    Material.Kind.CHEMICAL: "Chemicals", Material.Kind.SOLUTION: "Mixed here", Material.Kind.WATER: "Water",
    Material.Kind.SEALER: "Behind the silver", Material.Kind.BACKING: "Behind the silver",
    Material.Kind.GLASS: "Glass", Material.Kind.CONSUMABLE: "Used up at work",
}
_IN_ORDER = list(dict.fromkeys(GROUPS.values()))


@dataclass(frozen=True, kw_only=True)
class ShelfRow:
    """How one material stands. states: tone and words, the gravest first; never “enough” where nothing is usable."""

    standing: Standing
    bar: LevelBar
    first: FirstToTurn | None
    lots: int
    held: Decimal
    expired: Decimal
    promised_to: tuple[str, ...]
    lasts: str
    worth: Decimal | None
    numbers: tuple[str, ...]

    @property
    def material(self) -> Material:
        return self.standing.material

    @property
    def group(self) -> str:
        return GROUPS.get(Material.Kind(self.material.kind), "Other")

    @property
    def usable_figure_and_unit(self) -> list[str]:
        """Return the usable amount as one reads it, its figure and its unit apart: “78.1”, “L”."""
        return show_stock(Fraction(self.standing.usable), self.material.stock_unit).rsplit(" ", 1)

    @property
    def level_in_words(self) -> str:
        """Return what is free and promised: “566 g free; 108 g for job 4, job 5; lasts 40 days”."""
        stock, unit = self.standing, self.material.stock_unit
        said = [f"{show_stock(Fraction(stock.free), unit)} free"]
        if stock.promised > 0:
            said.append(f"{show_stock(Fraction(stock.promised), unit)} for {', '.join(self.promised_to)}")
        if self.lasts and self.lasts != OVER_A_YEAR:
            said.append(f"lasts {self.lasts}")
        return "; ".join(said)

    @property
    def wants_somebody(self) -> bool:
        return any(tone in (ATTENTION, DANGER) for tone, _ in self.states)

    @property
    def states(self) -> list[tuple[str, str]]:
        said = list(self._grave()) + list(self._soon())
        if said:
            return said
        return [(GOOD, "enough")] if self.standing.usable > 0 else [(WAIT, "none on the shelf")]

    def _grave(self) -> Iterable[tuple[str, str]]:
        stock, unit = self.standing, self.material.stock_unit
        if self.material.is_unclassed:
            yield DANGER, "unknown how it reacts"
        if stock.is_short:
            yield DANGER, f"short by {show_stock(Fraction(-stock.free), unit)}"
        if self.expired > 0:
            yield DANGER, f"discard {show_stock(Fraction(self.expired), unit)}"
        if stock.usable <= 0 and self.held > 0:
            yield DANGER, "held"

    def _soon(self) -> Iterable[tuple[str, str]]:
        if self.standing.below_reorder_point and not self.standing.is_short:
            yield ATTENTION, "below reorder point"
        if self.first is not None and self.first.tone == TURNING:
            yield ATTENTION, f"use {self.first.lot_number} first"

    def answers(self, asked: str) -> bool:
        """Say whether a row is meant by what was typed: a name, lot, CAS number or place."""
        words = (self.material.name, self.material.cas_number, self.material.storage_place, *self.numbers)
        return any(asked.casefold() in word.casefold() for word in words if word)


def shelf_rows(day: date, *, with_worth: bool, shelf: OnShelf | None = None) -> list[ShelfRow]:
    """Return every material's row, in order of group and name. A fixed number of queries.

    shelf: read here where nobody read it yet.
    """
    shelf = shelf or on_shelf()
    rows = standings_of(shelf.materials, shelf.lots, day)
    lots_of: dict[int, list[Lot]] = defaultdict(list)
    for lot in shelf.lots:
        lots_of[lot.material_id].append(lot)
    promised = promised_amounts(row.material.pk for row in rows)
    pace, money = used_a_day(now()), worth(shelf.lots) if with_worth else {}
    made = [
        _row(row, lots_of[row.material.pk], day, now(), tuple(who for who, _ in promised[row.material.pk]),
             in_words(days_of_cover(row.free, pace.get(row.material.pk))), money.get(row.material.pk))
        for row in rows
    ]
    return sorted(made, key=by_group)


def by_group(row: ShelfRow) -> tuple[int, str]:
    place = _IN_ORDER.index(row.group) if row.group in _IN_ORDER else len(_IN_ORDER)
    return place, row.material.name.casefold()


def _row(
    standing: Standing, lots: Sequence[Lot], day: date, at: datetime, promised_to: tuple[str, ...], lasts: str,
    worth_here: Decimal | None,
) -> ShelfRow:
    over = {lot.pk: lot for lot in lots if lot.has_expired(day, at)}
    lives = [
        Life(lot_number=lot.lot_number, received_on=lot.received_on, expires_on=ends_on, over=lot.pk in over)
        for lot in lots if (ends_on := lot.expires_on) is not None and not (lot.is_held and lot.pk not in over)
    ]
    return ShelfRow(
        standing=standing,
        bar=level_bar(
            usable=standing.usable, promised=standing.promised, reorder=standing.material.reorder_point,
            received=sum((lot.quantity_received for lot in lots), Decimal(0)),
        ),
        first=first_to_turn(lives, day), lots=len(lots),
        held=sum((lot.level.on_hand for lot in lots if lot.is_held), Decimal(0)),
        expired=sum((lot.level.on_hand for lot in over.values()), Decimal(0)),
        promised_to=promised_to, lasts=lasts, worth=worth_here, numbers=tuple(lot.lot_number for lot in lots),
    )


@dataclass(frozen=True, kw_only=True)
class WantingLot:
    """A lot that wants somebody this week: past its use, or turning. what_for: the jobs its material is promised to."""

    lot: Lot
    days: int
    over: bool
    what_for: tuple[str, ...]

    @property
    def tone(self) -> str:
        return DANGER if self.over else ATTENTION

    @property
    def advice(self) -> str:
        """Return what to do with it, or what it is promised to: “: discard it”, “: promised to job 4”."""
        if self.over:
            return ": discard it"
        return f": promised to {', '.join(self.what_for)}" if self.what_for else ""

    @property
    def when(self) -> str:
        if self.over:
            return "expired"
        return {0: "today", 1: "tomorrow"}.get(self.days, f"{self.days} days")


THIS_WEEK = timedelta(days=7)


def lots_wanting(day: date, shelf: OnShelf | None = None) -> list[WantingLot]:
    """Return the lots that are past their use or turn within a week, the first to turn first.

    shelf: read here where nobody read it yet.
    """
    at = now()
    asked = [
        (lot, until, over) for lot in (shelf or on_shelf()).lots
        if (until := lot.expires_on) is not None and ((over := lot.has_expired(day, at)) or not lot.is_held)
    ]
    mine = [(lot, until, over) for lot, until, over in asked if over or until <= day + THIS_WEEK]
    promised = promised_amounts({lot.material_id for lot, _, _ in mine})
    wanting = [
        WantingLot(lot=lot, days=(until - day).days, over=over,
                   what_for=() if over else tuple(who for who, _ in promised[lot.material_id]))
        for lot, until, over in mine
    ]
    return sorted(wanting, key=lambda wanted: (not wanted.over, wanted.days, wanted.lot.pk))


def in_a_sentence(wanting: int, rows: Sequence[ShelfRow]) -> str:
    """Return how the shelf stands: “3 lots want you this week; nothing booked is short.”"""
    short = sum(row.standing.is_short for row in rows)
    lots = "No lot wants you this week"
    if wanting:
        lots = "1 lot wants you this week" if wanting == 1 else f"{wanting} lots want you this week"
    booked = f"{short} material{'' if short == 1 else 's'} {'is' if short == 1 else 'are'} short for what is booked"
    return f"{lots}; {booked if short else 'nothing booked is short'}."
