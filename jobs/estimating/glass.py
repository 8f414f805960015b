"""What the glass costs, by its route: stock sheets, bought cut, or the customer's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.basis import Basis, EstimateError
from jobs.estimating.cutting import CuttingPlan, plan_cutting
from jobs.estimating.loads import Pane
from jobs.estimating.take_off import TakeOff


@dataclass(frozen=True, kw_only=True)
class SheetUse:
    """Whole sheets of one glass: how many, what they cost, and the credit for kept offcuts."""

    glass: str
    sheets: int
    sheet_cost: Fraction
    credit: Fraction
    plan: CuttingPlan | None

    @property
    def cost(self) -> Fraction:
        return self.sheets * self.sheet_cost - self.credit


@dataclass(frozen=True, kw_only=True)
class GlassCost:
    sheets: tuple[SheetUse, ...]
    by_line: dict[int, Fraction]


def glass_cost(basis: Basis, sizes: Sequence[TakeOff], started: Mapping[int, int]) -> GlassCost:
    """Price the glass of every line.

    started: panes to start by line number. Sheets are charged to lines by started area
    within their glass, bought-cut glass by its own panes.
    """
    by_line = {size.line.number: _bought_cut(size, started[size.line.number]) for size in sizes}
    uses = []
    for key in dict.fromkeys(size.line.glass for size in sizes if size.line.route == "sheet"):
        mine = [size for size in sizes if size.line.route == "sheet" and size.line.glass == key]
        use = _sheets_for(basis, key, mine, started)
        uses.append(use)
        whole = sum((size.area_m2 * started[size.line.number] for size in mine), Fraction(0))
        for size in mine:
            by_line[size.line.number] = use.cost * size.area_m2 * started[size.line.number] / whole
    return GlassCost(sheets=tuple(uses), by_line=by_line)


def _bought_cut(size: TakeOff, started: int) -> Fraction:
    line = size.line
    if line.route != "cut":
        return Fraction(0)
    return started * max(size.bounding_m2 * line.cut_price_per_m2, line.cut_minimum_each)


def _sheets_for(basis: Basis, key: str, sizes: Sequence[TakeOff], started: Mapping[int, int]) -> SheetUse:
    glass = basis.glasses[key]
    if glass.sheet_cost is None:
        raise EstimateError(f"{glass.name} has never been received and has no list price: give it one.", "glass")
    if glass.given_sheets is not None:
        return SheetUse(
            glass=key, sheets=glass.given_sheets, sheet_cost=glass.sheet_cost, credit=Fraction(0), plan=None
        )
    panes = [Pane(size=s, copy=c) for s in sizes for c in range(1, started[s.line.number] + 1)]
    directed = frozenset(s.line.number for s in sizes if basis.recipes[s.line.recipe].has_direction)
    plan = plan_cutting(panes, glass, basis.house, directed)
    sheet_m2 = (glass.sheet_width_mm or Fraction(0)) * (glass.sheet_height_mm or Fraction(0)) / 1_000_000
    credit = plan.offcut_area_m2 * glass.sheet_cost / sheet_m2 * basis.house.offcut_credit_share
    return SheetUse(glass=key, sheets=len(plan.sheets), sheet_cost=glass.sheet_cost, credit=credit, plan=plan)
