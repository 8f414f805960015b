"""The lots that a ticket says to take, as they stand today: one that is held, expired or gone stops the mix."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from jobs.work.bench import BenchError, MixState
from recipes.reading import solution_version_of
from studio.exact import STOCK_DECIMALS
from studio.house.clock import today
from studio.kit.rounding import as_decimal
from studio.stockroom.models import Lot, Material
from studio.stockroom.picking import LotOnShelf, picking_order
from studio.stockroom.shelf import as_on_shelf, lots_on_shelf

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
        raise BenchError(f"{' '.join(stopped.values())} Record it under “Other amounts, or another lot”, with the lot "
                         "that was poured, if it is in already.")
    return as_printed(state)


def as_made_again(state: MixState, first: MixState, shelves: Shelves, day: date) -> dict[str, Any]:
    """Return what is recorded of a further making: as the ticket has it, and where its lot may not be taken, from the
    lot that the first was mixed from, or the next in order.

    Raises BenchError where the shelf has no other.
    """
    content, stopped = as_printed(state), not_to_take(state, shelves, day)
    for row in state.mix.ingredients:
        if row.number not in stopped:
            continue
        usable = [lot.lot_number for lot in shelves.get(row.code, ()) if lot.usable_on(day)]
        if not usable:
            raise BenchError(stopped[row.number])
        before = [number for number, _ in first.lots.get(row.number, ()) if number in usable]
        content["lots"][str(row.number)] = [[(before or usable)[0], f"{row.amount:f}"]]
    return content


def as_printed(state: MixState) -> dict[str, Any]:
    """Return what is recorded of a batch that was mixed by its ticket while nobody could know better: just that."""
    rows = state.mix.ingredients
    return {"made": True, "amounts": {str(row.number): f"{row.amount:f}" for row in rows}, "lots": _printed_lots(state)}


def _printed_lots(state: MixState) -> dict[str, list[list[str]]]:
    return {
        str(row.number): [[pick.lot_number, f"{pick.amount:f}"] for pick in row.picks]
        for row in state.mix.ingredients if row.code and row.picks and row.short <= 0
    }


def made_lots_for(state: MixState) -> list[Lot]:
    """Return the usable lots mixed ahead that hold enough for a mix: of the same version, as it is written."""
    mix = state.mix
    if not mix.keeps or mix.strength != 1:
        return []
    lots = Lot.objects.filter(
        made__solution_version=solution_version_of(mix.solution_key),
        level__on_hand__gte=as_decimal(mix.volume_ml, STOCK_DECIMALS),
    ).select_related("material", "level")
    on = today()
    return [lot for lot in lots if as_on_shelf(lot).usable_on(on)]


def made_lots(mixes: Iterable[MixState]) -> dict[str, list[Lot]]:
    """Return, by mix key, the lots mixed ahead that it could be taken from. One query."""
    rows_of_mixes = list(mixes)
    wanted = {row.mix.solution_key for row in rows_of_mixes if row.mix.keeps and row.mix.strength == 1}
    if not wanted:
        return {}
    rows = Lot.objects.filter(made__isnull=False, level__on_hand__gt=0).select_related(
        "material", "level", "made__solution_version__solution"
    )
    usable: dict[str, list[Lot]] = {}
    for lot in rows:
        if as_on_shelf(lot).usable_on(today()):
            usable.setdefault(lot.made.solution_version.key, []).append(lot)
    return {
        row.key: [lot for lot in usable.get(row.mix.solution_key, [])
                      if lot.level.on_hand >= as_decimal(row.mix.volume_ml, STOCK_DECIMALS)]
        for row in rows_of_mixes if row.mix.solution_key in wanted
    }
