"""Panes on stock sheets and kept offcuts by edge-to-edge cuts: the cheapest plan found, and how good it can be at all.

The first answer is strips right across (`strips`), and a rectangle packer's guillotine rules. Where
that is not as good as the bound already, patterns are generated and the cheapest set of them chosen
(`patterns`); the plan is never worse than the first answer. `guillotine` gives the order of cuts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from math import ceil, lcm

from jobs.estimating.basis import GlassFacts, House, Nesting
from jobs.estimating.cutting.search import Found, first_answer, search
from jobs.estimating.cutting.sheets import Rules, Stock, Want
from jobs.estimating.loads import Pane
from jobs.estimating.refusals import EstimateError
from studio.kit.rounding import decimal_string

Method = Nesting


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
    """A pane that fits no stock size of its glass; the sentence names each of them."""

    def __init__(
        self, pane: Pane, glass: GlassFacts, sizes: Sequence[GlassFacts], trim_mm: Fraction = Fraction(0), *,
        kept_only: bool = False,
    ) -> None:
        line = pane.size.line
        if kept_only:
            super().__init__("no room on kept offcuts", line.name, line.number, glass=glass.name)
            return
        super().__init__(
            "pane larger than the sheet", line.name, line.number, glass=glass.name,
            sheet=" or ".join(_size_in_words(size) for size in sizes) + " mm"
            + (f" less a trim of {decimal_string(trim_mm, 1)} mm" if trim_mm else ""),
        )


class TooFewSheets(EstimateError):
    """All panes fit a stock size, and there are too few sheets; the sentence names each size and how many there are."""

    def __init__(self, subject: str, line: int, glass: GlassFacts, sizes: Sequence[GlassFacts]) -> None:
        super().__init__(
            "too few sheets", subject, line, glass=glass.name,
            sheets=", ".join(
                f"{'any number' if size.sheets_at_most is None else size.sheets_at_most} of {_size_in_words(size)} mm"
                for size in sizes
            ),
        )


def _size_in_words(glass: GlassFacts) -> str:
    return (f"{decimal_string(glass.sheet_width_mm or Fraction(0), 1)} × "
            f"{decimal_string(glass.sheet_height_mm or Fraction(0), 1)}")


@dataclass(frozen=True)
class Source:
    """What a stock size is, outside the whole numbers: its glass, and the kept offcuts it stands for."""

    glass: str
    width_mm: Fraction
    height_mm: Fraction
    trim_mm: Fraction
    cost: Fraction
    kept: tuple[int, ...] = ()
    at_most: int | None = None


@dataclass(frozen=True)
class Question:
    """What is to be cut, and from what. Lengths of wants, stocks and rules are whole `unit`ths of a millimetre.

    panes: those of each want. sources: what each stock stands for.
    """

    glass: GlassFacts
    house: House
    panes: tuple[tuple[Pane, ...], ...]
    sources: tuple[Source, ...]
    wants: tuple[Want, ...]
    stocks: tuple[Stock, ...]
    rules: Rules
    unit: int


def plan_cutting(
    panes: Sequence[Pane], glass: GlassFacts, house: House, directed: frozenset[int] = frozenset(), *,
    others: Sequence[GlassFacts] = (), method: Method = "patterns", kept_only: bool = False,
) -> CuttingPlan:
    """Nest panes on whole sheets and kept offcuts of one glass, at the least cost found.

    directed: line numbers whose panes may not turn, because their finish has a direction.
    others: further stock sizes of the same glass. method "strips" is the first answer alone, on
    whole sheets of `glass`: how quotes were worked out before patterns; "quick patterns" takes an eighth of the
    effort. kept_only: no whole sheets.
    Raises SheetTooSmall, naming the line, TooFewSheets where there are not enough, and EstimateError when the sheet's
    size is not known.
    """
    asked = question(panes, glass, house, directed, others=others, method=method, kept_only=kept_only)
    found = nest(asked.wants, asked.stocks, asked.rules, method)
    if found is None:
        sizes = [stock for stock in (glass, *others) if stock.sheet_width_mm and stock.sheet_height_mm]
        raise _refusal(panes, glass, sizes, house, directed, kept_only)
    return as_plan(found, asked)


def question(
    panes: Sequence[Pane], glass: GlassFacts, house: House, directed: frozenset[int], *, others: Sequence[GlassFacts],
    method: Method, kept_only: bool,
) -> Question:
    """Put what `plan_cutting` is given in whole numbers. Raises EstimateError when the sheet's size is not known."""
    sources = _sources(glass, others, house, method, kept_only)
    if not kept_only and not any(size.sheet_width_mm and size.sheet_height_mm for size in (glass, *others)):
        raise EstimateError("sheet without a size", glass.name)
    unit = lcm(*(value.denominator for source in sources for value in (source.width_mm, source.height_mm)),
               house.trim_mm.denominator, house.offcut_trim_mm.denominator, house.clearance_mm.denominator,
               house.smallest_strip_mm.denominator,
               *(value.denominator for pane in panes for value in (pane.size.cut_width_mm, pane.size.cut_height_mm)))
    kinds: dict[tuple[int, int, bool], list[Pane]] = {}
    for pane in panes:
        size = (int(pane.size.cut_width_mm * unit), int(pane.size.cut_height_mm * unit))
        kinds.setdefault((*size, pane.line_number not in directed), []).append(pane)
    if method != "strips":  # the order of the lines is no part of the question
        kinds = dict(sorted(kinds.items(), key=lambda kind: (-kind[0][0] * kind[0][1], kind[0])))
    wants = tuple(Want(width, height, len(mine), turns) for (width, height, turns), mine in kinds.items())
    stocks = tuple(
        Stock(str(at), int((source.width_mm - 2 * source.trim_mm) * unit),
              int((source.height_mm - 2 * source.trim_mm) * unit), source.cost,
              len(source.kept) or source.at_most, bool(source.kept))
        for at, source in enumerate(sources)
    )
    rules = Rules(int(house.clearance_mm * unit), int(house.smallest_strip_mm * unit),
                  ceil(max(house.smallest_offcut_mm, Fraction(1)) * unit))
    return Question(glass, house, tuple(map(tuple, kinds.values())), tuple(sources), wants, stocks, rules, unit)


def _sources(
    glass: GlassFacts, others: Sequence[GlassFacts], house: House, method: Method, kept_only: bool
) -> list[Source]:
    """Return whole sheets, the line's own glass first, then kept offcuts, alike ones together."""
    sources: list[Source] = []
    sizes = [glass] if method == "strips" else [glass, *others]
    for stock in sizes:
        room = min(stock.sheet_width_mm or Fraction(0), stock.sheet_height_mm or Fraction(0)) - 2 * house.trim_mm
        if room > 0 and stock.sheets_at_most != 0 and not kept_only:
            sources.append(Source(stock.key, stock.sheet_width_mm or Fraction(0),
                                   stock.sheet_height_mm or Fraction(0), house.trim_mm,
                                   stock.sheet_cost or Fraction(0), at_most=stock.sheets_at_most))
    if method == "strips":
        return sources
    kept: dict[tuple[str, Fraction, Fraction, Fraction], list[int]] = {}
    for stock in sizes:
        for offcut in stock.offcuts:
            if min(offcut.width_mm, offcut.height_mm) <= 2 * house.offcut_trim_mm:
                continue
            cost = stock.offcut_cost(offcut, house.offcut_credit_share)
            kept.setdefault((stock.key, offcut.width_mm, offcut.height_mm, cost), []).append(offcut.number)
    return sources + [
        Source(key, width, height, house.offcut_trim_mm, cost, tuple(numbers))
        for (key, width, height, cost), numbers in kept.items()
    ]


def _refusal(
    panes: Sequence[Pane], glass: GlassFacts, sizes: Sequence[GlassFacts], house: House, directed: frozenset[int],
    kept_only: bool,
) -> EstimateError:
    """Say what is short: the size, of a pane that fits no stock size whole, or the stock."""

    def fits(pane: Pane, stock: GlassFacts, house: House = house) -> bool:
        size = (pane.size.cut_width_mm, pane.size.cut_height_mm)
        room = ((stock.sheet_width_mm or Fraction(0)) - 2 * house.trim_mm,
                (stock.sheet_height_mm or Fraction(0)) - 2 * house.trim_mm)
        return any(
            all(rest == 0 or rest >= max(house.smallest_strip_mm, Fraction(0))
                for rest in (room[0] - width, room[1] - height))
            for width, height in ([size] if pane.line_number in directed else [size, size[::-1]])
        )

    if kept_only:
        kept = [GlassFacts(key="", name="", sheet_width_mm=offcut.width_mm, sheet_height_mm=offcut.height_mm)
                for size in (glass, *sizes) for offcut in size.offcuts]
        bare = replace(house, trim_mm=house.offcut_trim_mm)
        worst = next((pane for pane in panes if not any(fits(pane, offcut, bare) for offcut in kept)), panes[0])
        return SheetTooSmall(worst, glass, sizes, kept_only=True)
    for pane in panes:
        if not any(fits(pane, stock) for stock in sizes):
            return SheetTooSmall(pane, glass, sizes, house.trim_mm)
    for pane in panes:
        if not any(fits(pane, stock) for stock in sizes if stock.sheets_at_most != 0):
            return TooFewSheets(pane.size.line.name, pane.line_number, glass, sizes)
    return TooFewSheets("all panes", 0, glass, sizes)


@lru_cache(maxsize=256)
def nest(wants: tuple[Want, ...], stocks: tuple[Stock, ...], rules: Rules, method: Method) -> Found | None:
    """Return the best plan found; the same question is not worked out twice (what-ifs ask it again and again)."""
    if method == "strips":
        return first_answer(wants, stocks, rules)
    return search(wants, stocks, rules, quick=method == "quick patterns")


def as_plan(found: Found, asked: Question) -> CuttingPlan:
    """Return a plan in millimetres: which pane lies where, the cuts, and the offcuts worth keeping."""
    sources, house, unit = asked.sources, asked.house, asked.unit
    waiting = [list(reversed(mine)) for mine in asked.panes]
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
        glass=asked.glass, sheets=tuple(sheets),
        cost=sum((sources[layout.stock].cost for layout, _ in found.layouts), Fraction(0)),
        fewest_m2=Fraction(found.bound_area, unit * unit * 1_000_000), first_sheets=found.first_sheets,
        first_cost=found.first_cost,
    )
