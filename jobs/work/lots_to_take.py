"""The lots that a ticket says to take, as they stand today: one that is held, expired or gone stops the mix."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from jobs.work.bench import BenchError, MixState
from studio.stockroom.models import Material
from studio.stockroom.picking import LotOnShelf, picking_order
from studio.stockroom.shelf import lots_on_shelf

Shelves = Mapping[str, Sequence[LotOnShelf]]


def shelves_for(mixes: Iterable[MixState]) -> dict[str, list[LotOnShelf]]:
    """Return every lot of the materials that mixes measure, by code, in picking order. Two queries."""
    codes = {row.code for mix in mixes for row in mix.mix.ingredients if row.code}
    ids = dict(Material.objects.filter(code__in=codes).values_list("pk", "code"))
    return {ids[pk]: picking_order(lots) for pk, lots in lots_on_shelf(ids).items()}


def offered(shelves: Shelves, day: date) -> dict[str, list[tuple[str, str]]]:
    """Return the lots on hand by material code, number and what is said of it: the usable first, then the others.

    One that may not be used can still be recorded, where it was: finishing then asks the owner why.
    """
    found = {}
    for code, lots in shelves.items():
        there = sorted((lot for lot in lots if lot.on_hand > 0), key=lambda lot: not lot.usable_on(day))
        found[code] = [(lot.lot_number, lot.lot_number if lot.usable_on(day)
                        else f"{lot.lot_number}, {lot.why_not(day)}") for lot in there]
    return found


def not_to_take(state: MixState, shelves: Shelves, day: date) -> dict[int, str]:
    """Return, by ingredient number, why a lot of the ticket is not taken on a day, and which is taken instead."""
    found = {}
    for row in state.mix.ingredients:
        lots = {lot.lot_number: lot for lot in shelves.get(row.code, ())}
        for pick in row.picks:
            lot = lots.get(pick.lot_number)
            if lot is not None and lot.usable_on(day):
                continue
            why = lot.why_not(day) if lot is not None and (lot.held or lot.on_hand > 0) else "used up"
            instead = next((other.lot_number for other in shelves.get(row.code, ()) if other.usable_on(day)), "")
            found[row.number] = f"Lot {pick.lot_number} of {row.name} is not taken: {why}. " + (
                f"Take lot {instead}." if instead else "There is no other on the shelf.")
    return found


def as_written(state: MixState, shelves: Shelves, day: date) -> dict[str, Any]:
    """Return what is recorded of a batch mixed as its ticket says: the amounts, and the lots they came from.

    Raises BenchError where a lot of the ticket may not be taken: it is then recorded with the lot that was.
    """
    stopped = not_to_take(state, shelves, day)
    if stopped:
        raise BenchError(f"{' '.join(stopped.values())} Record it under “Other amounts, or another lot”.")
    rows = state.mix.ingredients
    lots = {
        str(row.number): [[pick.lot_number, f"{pick.amount:f}"] for pick in row.picks]
        for row in rows if row.code and row.picks and row.short <= 0
    }
    return {"made": True, "amounts": {str(row.number): f"{row.amount:f}" for row in rows}, "lots": lots}
