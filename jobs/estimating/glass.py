"""The cost of the glass, by its source: stock sheets, kept offcuts, bought cut, or the customer's own.

Formula: sheets·cost + kept offcuts at their credit − offcuts credited, shared by n·A within a glass; bought cut,
n·max(W·H·price per m², minimum each); the customer's own, nothing. Source: the studio's rule; the plan is `cutting`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from jobs.estimating.basis import Basis, GlassFacts, LineFacts
from jobs.estimating.cutting.looked_over import Cutting
from jobs.estimating.cutting.plans import CuttingPlan, SheetPlan, plan_cutting, used_share
from jobs.estimating.loads import Pane
from jobs.estimating.refusals import EstimateError
from jobs.estimating.take_off import TakeOff

CUT_HERE = ("sheet", "offcut")


@dataclass(frozen=True, kw_only=True)
class SheetUse:
    """Whole sheets and kept offcuts of one stock size: how many, what they cost, the credit for offcuts kept."""

    glass: str
    sheets: int
    sheet_cost: Fraction
    credit: Fraction
    plan: tuple[SheetPlan, ...]
    kept_cost: Fraction = Fraction(0)

    @property
    def cost(self) -> Fraction:
        return self.sheets * self.sheet_cost + self.kept_cost - self.credit

    @property
    def kept_offcuts(self) -> tuple[int, ...]:
        return tuple(sheet.kept_offcut for sheet in self.plan if sheet.kept_offcut is not None)

    @property
    def used_share(self) -> Fraction:
        return used_share(self.plan)


@dataclass(frozen=True, kw_only=True)
class GlassCost:
    """sheets: by stock size. plans: one for each glass that is cut here. by_line: cost by line number."""

    sheets: tuple[SheetUse, ...]
    by_line: dict[int, Fraction]
    plans: tuple[CuttingPlan, ...] = ()


def glass_cost(
    basis: Basis, sizes: Sequence[TakeOff], started: Mapping[int, int], cutting: Cutting = plan_cutting
) -> GlassCost:
    """Price the glass of every line.

    started: panes to start by line number. cutting: asked for the plan of each glass, kept
    offcuts first. Sheets and kept offcuts are charged to lines by started area within their glass, all its stock sizes
    together; bought-cut glass by its own panes.
    """
    by_line = {size.line.number: _bought_cut(size, started[size.line.number]) for size in sizes}
    uses: list[SheetUse] = []
    plans: list[CuttingPlan] = []
    groups: dict[tuple[str, bool], list[TakeOff]] = {}
    for size in sizes:
        if size.line.route in CUT_HERE:
            groups.setdefault(_cut_together(basis, size.line), []).append(size)
    taken: frozenset[int] = frozenset()
    for (_, kept_only), group in sorted(groups.items(), key=lambda named: not named[0][1]):  # kept offcuts come first
        group_uses, plan = _cut_here(basis, group, started, kept_only, taken, cutting)
        uses += group_uses
        plans += [plan] if plan else []
        taken |= {number for use in group_uses for number in use.kept_offcuts}
        cost = sum((use.cost for use in group_uses), Fraction(0))
        whole = sum((size.area_m2 * started[size.line.number] for size in group), Fraction(0))
        for size in group:
            by_line[size.line.number] = cost * size.area_m2 * started[size.line.number] / whole
    return GlassCost(sheets=_by_glass(uses), by_line=by_line, plans=tuple(plans))


def _cut_together(basis: Basis, line: LineFacts) -> tuple[str, bool]:
    """Return what lines that are cut from the same sheets share: their glass, and whether from kept offcuts only."""
    return basis.glasses[line.glass].same_glass or line.glass, line.route == "offcut"


def unpriced_glasses(basis: Basis) -> list[GlassFacts]:
    """Return every glass that is to be cut here and has no cost, each once."""
    cut: dict[tuple[str, bool], GlassFacts] = {}
    for line in basis.lines:
        if line.route in CUT_HERE:
            cut.setdefault(_cut_together(basis, line), basis.glasses[line.glass])
    return list({glass.key: glass for glass in cut.values() if glass.sheet_cost is None}.values())


def _bought_cut(size: TakeOff, started: int) -> Fraction:
    line = size.line
    if line.route != "cut":
        return Fraction(0)
    return started * max(size.bounding_m2 * line.cut_price_per_m2, line.cut_minimum_each)


def _cut_here(
    basis: Basis, sizes: Sequence[TakeOff], started: Mapping[int, int], kept_only: bool, taken: frozenset[int],
    cutting: Cutting,
) -> tuple[list[SheetUse], CuttingPlan | None]:
    own = basis.glasses[sizes[0].line.glass]
    glass, *others = (_free(stock, taken) for stock in [own, *_stock_sizes(basis, own)])
    if glass.sheet_cost is None:
        raise EstimateError("glass without a price", glass.name, codes=glass.key)
    if glass.given_sheets is not None:
        return [SheetUse(
            glass=glass.key, sheets=glass.given_sheets, sheet_cost=glass.sheet_cost, credit=Fraction(0), plan=()
        )], None
    panes = [Pane(size=s, copy=c) for s in sizes for c in range(1, started[s.line.number] + 1)]
    directed = frozenset(s.line.number for s in sizes if basis.recipes[s.line.recipe].has_direction)
    plan = cutting(
        panes, glass, basis.house, directed, others=others, method=basis.nesting, kept_only=kept_only
    )
    return [_use(stock, plan, basis) for stock in (glass, *others)
            if any(sheet.glass == stock.key for sheet in plan.sheets)], plan


def _free(glass: GlassFacts, taken: frozenset[int]) -> GlassFacts:
    return replace(glass, offcuts=tuple(offcut for offcut in glass.offcuts if offcut.number not in taken))


def _stock_sizes(basis: Basis, glass: GlassFacts) -> list[GlassFacts]:
    """Return the other stock sizes of a glass that have a price."""
    return [other for key, other in sorted(basis.glasses.items())
            if key != glass.key and glass.same_glass and other.same_glass == glass.same_glass
            and other.sheet_cost is not None]


def _use(glass: GlassFacts, plan: CuttingPlan, basis: Basis) -> SheetUse:
    sheets = tuple(sheet for sheet in plan.sheets if sheet.glass == glass.key)
    share = basis.house.offcut_credit_share
    cost, whole_m2 = glass.sheet_cost or Fraction(0), _whole_m2(glass)
    offcuts = sum((offcut.area_m2 for sheet in sheets for offcut in sheet.offcuts), Fraction(0))
    kept = {offcut.number: glass.offcut_cost(offcut, share) for offcut in glass.offcuts}
    return SheetUse(
        glass=glass.key, sheets=sum(1 for sheet in sheets if sheet.kept_offcut is None), sheet_cost=cost,
        credit=offcuts * cost / whole_m2 * share if whole_m2 else Fraction(0), plan=sheets,
        kept_cost=sum((kept[sheet.kept_offcut] for sheet in sheets if sheet.kept_offcut is not None), Fraction(0)),
    )


def _whole_m2(glass: GlassFacts) -> Fraction:
    return (glass.sheet_width_mm or Fraction(0)) * (glass.sheet_height_mm or Fraction(0)) / 1_000_000


def _by_glass(uses: Sequence[SheetUse]) -> tuple[SheetUse, ...]:
    """Return one use for each stock size, where lines from sheets and lines from kept offcuts share one."""
    merged: dict[str, SheetUse] = {}
    for use in uses:
        known = merged.get(use.glass)
        merged[use.glass] = use if known is None else replace(
            known, sheets=known.sheets + use.sheets, credit=known.credit + use.credit,
            kept_cost=known.kept_cost + use.kept_cost, plan=(*known.plan, *use.plan),
        )
    return tuple(merged.values())
