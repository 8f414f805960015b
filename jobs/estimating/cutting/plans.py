"""Panes on stock sheets and kept offcuts by edge-to-edge cuts: the cheapest plan found, and how good it can be at all.

The first answer is strips right across (`strips`), and a rectangle packer's guillotine rules. Where
that is not as good as the bound already, patterns are generated and the cheapest set of them chosen
(`patterns`); the plan is never worse than the first answer. `guillotine` gives the order of cuts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import groupby
from math import lcm
from typing import Literal

from jobs.estimating.basis import GlassFacts, House
from jobs.estimating.cutting.guillotine import Parted, part
from jobs.estimating.cutting.packing import MOST_PANES, packed_layouts
from jobs.estimating.cutting.patterns import area_bound, improve
from jobs.estimating.cutting.sheets import Layout, Placed, Rules, Stock, Want
from jobs.estimating.cutting.strips import strip_layouts
from jobs.estimating.loads import Pane
from jobs.estimating.refusals import EstimateError
from studio.kit.rounding import decimal_string

Method = Literal["strips", "patterns"]
#: So few sizes are planned by patterns however many panes there are; else the first answer stands for many panes.
FEW_SIZES = 8
#: Of plans with more sheets than this that are alike in stock, two are looked at for the larger left-over.
MANY_SHEETS = 30


@dataclass(frozen=True, kw_only=True)
class Piece:
    """A pane to cut: where its lower left corner lies on the sheet, in mm, and how large it is cut."""

    pane: Pane
    left_mm: Fraction
    bottom_mm: Fraction
    width_mm: Fraction
    height_mm: Fraction
    turned: bool


@dataclass(frozen=True, kw_only=True)
class Offcut:
    left_mm: Fraction
    bottom_mm: Fraction
    width_mm: Fraction
    height_mm: Fraction

    @property
    def area_m2(self) -> Fraction:
        return self.width_mm * self.height_mm / 1_000_000


@dataclass(frozen=True, kw_only=True)
class Cut:
    """One cut, edge to edge of the piece in hand: upright or level, so far from its left or lower edge."""

    number: int
    upright: bool
    measured_mm: Fraction
    piece_left_mm: Fraction
    piece_bottom_mm: Fraction
    piece_width_mm: Fraction
    piece_height_mm: Fraction


@dataclass(frozen=True, kw_only=True)
class SheetPlan:
    """One stock sheet, or one kept offcut, with its pieces, its cuts in order, and the offcuts worth keeping."""

    number: int
    glass: str
    width_mm: Fraction
    height_mm: Fraction
    pieces: tuple[Piece, ...]
    offcuts: tuple[Offcut, ...]
    cuts: tuple[Cut, ...] = ()
    trim_mm: Fraction = Fraction(0)
    kept_offcut: int | None = None

    @property
    def area_m2(self) -> Fraction:
        return self.width_mm * self.height_mm / 1_000_000

    @property
    def cut_m2(self) -> Fraction:
        return sum((piece.width_mm * piece.height_mm for piece in self.pieces), Fraction(0)) / 1_000_000


def used_share(sheets: Sequence[SheetPlan]) -> Fraction:
    """Return the share of the sheets' area that becomes panes; 0 of no sheets."""
    area = sum((sheet.area_m2 for sheet in sheets), Fraction(0))
    return sum((sheet.cut_m2 for sheet in sheets), Fraction(0)) / area if area else Fraction(0)


@dataclass(frozen=True, kw_only=True)
class CuttingPlan:
    """How the panes of one glass are cut.

    fewest_m2: stock area that no plan can go below. first_sheets, first_cost: whole sheets and cost of
    the first answer.
    """

    glass: GlassFacts
    sheets: tuple[SheetPlan, ...]
    cost: Fraction
    fewest_m2: Fraction
    first_sheets: int
    first_cost: Fraction

    @property
    def whole_sheets(self) -> int:
        return sum(1 for sheet in self.sheets if sheet.kept_offcut is None)

    @property
    def used_share(self) -> Fraction:
        return used_share(self.sheets)

    @property
    def fewest_sheets(self) -> int | None:
        """Return the number of sheets that no plan can go below; None where sizes are mixed or offcuts used."""
        sizes = {(sheet.width_mm, sheet.height_mm, sheet.trim_mm) for sheet in self.sheets}
        if len(sizes) != 1 or any(sheet.kept_offcut is not None for sheet in self.sheets):
            return None
        width, height, trim = sizes.pop()
        return (self.fewest_m2 * 1_000_000 / ((width - 2 * trim) * (height - 2 * trim))).__ceil__()


class SheetTooSmall(EstimateError):
    def __init__(self, pane: Pane, glass: GlassFacts, *, kept_only: bool = False) -> None:
        line = pane.size.line
        if kept_only:
            super().__init__("no room on kept offcuts", line.name, line.number, glass=glass.name)
            return
        super().__init__(
            "pane larger than the sheet", line.name, line.number, glass=glass.name,
            sheet=f"{decimal_string(glass.sheet_width_mm or Fraction(0), 1)} × "
                  f"{decimal_string(glass.sheet_height_mm or Fraction(0), 1)}",
        )


@dataclass(frozen=True)
class _Source:
    """What a stock size is, outside the whole numbers: its glass, and the kept offcuts it stands for."""

    glass: str
    width_mm: Fraction
    height_mm: Fraction
    trim_mm: Fraction
    cost: Fraction
    kept: tuple[int, ...] = ()


def plan_cutting(
    panes: Sequence[Pane], glass: GlassFacts, house: House, directed: frozenset[int] = frozenset(), *,
    others: Sequence[GlassFacts] = (), method: Method = "patterns", kept_only: bool = False,
) -> CuttingPlan:
    """Nest panes on whole sheets and kept offcuts of one glass, at the least cost found.

    directed: line numbers whose panes may not turn, because their finish has a direction.
    others: further stock sizes of the same glass. method "strips" is the first answer alone, on
    whole sheets of `glass`: how quotes were worked out before patterns. kept_only: no whole sheets.
    Raises SheetTooSmall, naming the line, and EstimateError when the sheet's size is not known.
    """
    sources = _sources(glass, others, house, method, kept_only)
    if not sources and not kept_only:
        raise EstimateError("sheet without a size", glass.name)
    unit = lcm(*(value.denominator for source in sources for value in (source.width_mm, source.height_mm)),
               house.trim_mm.denominator, house.clearance_mm.denominator, house.smallest_strip_mm.denominator,
               *(value.denominator for pane in panes for value in (pane.size.cut_width_mm, pane.size.cut_height_mm)))
    kinds: dict[tuple[int, int, bool], list[Pane]] = {}
    for pane in panes:
        size = (int(pane.size.cut_width_mm * unit), int(pane.size.cut_height_mm * unit))
        kinds.setdefault((*size, pane.line_number not in directed), []).append(pane)
    wants = tuple(Want(width, height, len(mine), turns) for (width, height, turns), mine in kinds.items())
    stocks = tuple(
        Stock(str(at), int((source.width_mm - 2 * source.trim_mm) * unit),
              int((source.height_mm - 2 * source.trim_mm) * unit), source.cost, len(source.kept) or None)
        for at, source in enumerate(sources)
    )
    rules = Rules(int(house.clearance_mm * unit), int(house.smallest_strip_mm * unit))
    found = _nest(wants, stocks, rules, method)
    if found is None:
        raise SheetTooSmall(_worst(panes, stocks, unit, directed), glass, kept_only=kept_only)
    return _as_plan(found, list(kinds.values()), sources, glass, house, unit)


def _sources(
    glass: GlassFacts, others: Sequence[GlassFacts], house: House, method: Method, kept_only: bool
) -> list[_Source]:
    """Return whole sheets, the line's own glass first, then kept offcuts, alike ones together."""
    sources: list[_Source] = []
    sizes = [glass] if method == "strips" else [glass, *others]
    for stock in sizes:
        if stock.sheet_width_mm and stock.sheet_height_mm and not kept_only:
            sources.append(_Source(stock.key, stock.sheet_width_mm, stock.sheet_height_mm, house.trim_mm,
                                   stock.sheet_cost or Fraction(0)))
    if method == "strips":
        return sources
    kept: dict[tuple[str, Fraction, Fraction, Fraction], list[int]] = {}
    for stock in sizes:
        for offcut in stock.offcuts:
            cost = stock.offcut_cost(offcut, house.offcut_credit_share)
            kept.setdefault((stock.key, offcut.width_mm, offcut.height_mm, cost), []).append(offcut.number)
    return sources + [
        _Source(key, width, height, Fraction(0), cost, tuple(numbers))
        for (key, width, height, cost), numbers in kept.items()
    ]


def _worst(panes: Sequence[Pane], stocks: Sequence[Stock], unit: int, directed: frozenset[int]) -> Pane:
    for pane in panes:
        size = (pane.size.cut_width_mm * unit, pane.size.cut_height_mm * unit)
        ways = [size] if pane.line_number in directed else [size, size[::-1]]
        if not any(w <= stock.width and h <= stock.height for stock in stocks for w, h in ways):
            return pane
    return panes[0]


@dataclass(frozen=True)
class _Nested:
    """A plan in whole numbers: layouts with their cuts, the bound on stock area, and the first answer."""

    layouts: tuple[tuple[Layout, Parted], ...]
    bound_area: int
    first_sheets: int
    first_cost: Fraction


@lru_cache(maxsize=256)
def _nest(
    wants: tuple[Want, ...], stocks: tuple[Stock, ...], rules: Rules, method: Method
) -> _Nested | None:
    """Return the best plan found; the same question is not worked out twice (what-ifs ask it again and again)."""
    plans: list[list[Layout]] = []
    for at, stock in enumerate(stocks):
        if stock.at_most is None:
            plans += strip_layouts(wants, stocks, at, rules)
    bound = area_bound(wants, stocks, rules) if stocks else 0
    first = _best(plans, stocks, rules)
    if method == "strips":
        return None if first is None else _nested(first, bound, first, stocks)
    whole = list(plans) if first is None else [first[0]]
    if first is None or not _as_good_as_can_be(first[0], stocks, bound):
        for at, stock in enumerate(stocks):
            packed = list(packed_layouts(wants, stock, at, rules))
            plans += packed
            whole += [plan for plan in packed if _all_on(plan, wants) and stock.at_most is None]
        # few sheets first, whatever they cost: what is looked at must not hang on a price
        plans.sort(key=lambda plan: (sum(stocks[layout.stock].area for layout in plan), len(plan)))
        known = [layout for plan in plans for layout in plan]
        small = sum(want.number for want in wants) <= MOST_PANES or len(wants) <= FEW_SIZES
        improved = improve(
            wants, stocks, rules, known,
            lambda layout: part(layout.placed, *_extent(layout, stocks), rules) is not None,
        ) if stocks and small else None
        if improved is not None:
            bound = max(bound, improved.bound_area)
            whole += [_without_surplus(plan, wants) for plan in improved.plans]
    best = _best(whole, stocks, rules)
    return None if best is None else _nested(best, bound, first or best, stocks)


def _best(plans: Sequence[list[Layout]], stocks: Sequence[Stock], rules: Rules) -> _Checked | None:
    """Return the best plan that can be cut, with its cuts; only as many plans are parted as it takes to know."""
    for _, alike in groupby(sorted(plans, key=lambda plan: _stock_used(plan, stocks)),
                            key=lambda plan: _stock_used(plan, stocks)):
        looked_at = list(alike)
        if looked_at and len(looked_at[0]) > MANY_SHEETS:
            looked_at = looked_at[:2]
        checked = [(plan, parts) for plan in looked_at if (parts := _parted(plan, stocks, rules)) is not None]
        if checked:
            return min(checked, key=_left_over)
    return None


_Checked = tuple[list[Layout], list[Parted]]


def _nested(best: _Checked, bound: int, first: _Checked, stocks: Sequence[Stock]) -> _Nested:
    return _Nested(
        tuple(zip(best[0], best[1], strict=True)), bound,
        sum(1 for layout in first[0] if stocks[layout.stock].at_most is None),
        sum((stocks[layout.stock].cost for layout in first[0]), Fraction(0)),
    )


def _extent(layout: Layout, stocks: Sequence[Stock]) -> tuple[int, int]:
    return stocks[layout.stock].width, stocks[layout.stock].height


def _parted(plan: Sequence[Layout], stocks: Sequence[Stock], rules: Rules) -> list[Parted] | None:
    parts = []
    for layout in plan:
        parted = part(layout.placed, *_extent(layout, stocks), rules)
        if parted is None:
            return None
        parts.append(parted)
    return parts


def _stock_used(plan: Sequence[Layout], stocks: Sequence[Stock]) -> tuple[Fraction, int]:
    """Rank plans: the cheapest first, then the one that uses least stock."""
    return (sum((stocks[layout.stock].cost for layout in plan), Fraction(0)),
            sum(stocks[layout.stock].area for layout in plan))


def _left_over(checked: _Checked) -> int:
    """Rank plans that are alike in stock: the one with the largest single left-over first."""
    return -max((region.area for parted in checked[1] for region in parted.left_over), default=0)


def _as_good_as_can_be(plan: Sequence[Layout], stocks: Sequence[Stock], bound: int) -> bool:
    """Say whether one more plan is worth looking for: never with one stock size and sheets at the bound."""
    return len(stocks) == 1 and (len(plan) - 1) * stocks[0].area < bound


def _all_on(plan: Sequence[Layout], wants: Sequence[Want]) -> bool:
    counts = Counter(piece.want for layout in plan for piece in layout.placed)
    return all(counts[number] == want.number for number, want in enumerate(wants))


def _without_surplus(plan: Sequence[Layout], wants: Sequence[Want]) -> list[Layout]:
    """Remove panes beyond those wanted, and sheets on which nothing is left; panes move nowhere."""
    left = [want.number for want in wants]
    kept: list[Layout] = []
    for layout in plan:
        placed: list[Placed] = []
        for piece in layout.placed:
            if left[piece.want]:
                left[piece.want] -= 1
                placed.append(piece)
        if placed:
            kept.append(Layout(layout.stock, tuple(placed)))
    return kept


def _as_plan(
    found: _Nested, panes: Sequence[list[Pane]], sources: Sequence[_Source], glass: GlassFacts, house: House, unit: int
) -> CuttingPlan:
    waiting = [list(reversed(mine)) for mine in panes]
    kept = {at: list(reversed(source.kept)) for at, source in enumerate(sources)}
    keep = max(house.smallest_offcut_mm, Fraction(1))
    sheets: list[SheetPlan] = []
    for number, (layout, parted) in enumerate(found.layouts, start=1):
        source = sources[layout.stock]
        trim = source.trim_mm

        def mm(value: int, trim: Fraction = Fraction(0)) -> Fraction:
            return Fraction(value, unit) + trim

        pieces = tuple(
            Piece(pane=waiting[piece.want].pop(), left_mm=mm(piece.left, trim), bottom_mm=mm(piece.bottom, trim),
                  width_mm=mm(piece.width), height_mm=mm(piece.height), turned=piece.turned)
            for piece in layout.placed
        )
        offcuts = tuple(
            Offcut(left_mm=mm(region.left, trim), bottom_mm=mm(region.bottom, trim), width_mm=mm(region.width),
                   height_mm=mm(region.height))
            for region in parted.left_over if mm(region.width) >= keep and mm(region.height) >= keep
        )
        cuts = tuple(
            Cut(number=at, upright=cut.upright, measured_mm=mm(cut.measured),
                piece_left_mm=mm(cut.piece.left, trim), piece_bottom_mm=mm(cut.piece.bottom, trim),
                piece_width_mm=mm(cut.piece.width), piece_height_mm=mm(cut.piece.height))
            for at, cut in enumerate(parted.cuts, start=1)
        )
        sheets.append(SheetPlan(
            number=number, glass=source.glass, width_mm=source.width_mm, height_mm=source.height_mm, pieces=pieces,
            offcuts=offcuts, cuts=cuts, trim_mm=trim,
            kept_offcut=kept[layout.stock].pop() if source.kept else None,
        ))
    return CuttingPlan(
        glass=glass, sheets=tuple(sheets),
        cost=sum((sources[layout.stock].cost for layout, _ in found.layouts), Fraction(0)),
        fewest_m2=Fraction(found.bound_area, unit * unit * 1_000_000), first_sheets=found.first_sheets,
        first_cost=found.first_cost,
    )
