"""Better cutting plans by pattern generation (Gilmore and Gomory 1961, 1965).

A *pattern* is one sheet with what is cut from it. A linear programme weighs the patterns known so
far; what a pane is worth in it is the price for which a better pattern is looked for, exactly, by
dynamic programming over the distances at which edge-to-edge cuts can matter (Herz 1972; Beasley,
"Algorithms for unconstrained two-dimensional guillotine cutting", J. Opl Res. Soc. 36 (1985)
297–306). When none is left the programme's value bounds every plan from below; a whole-number
programme then chooses among all patterns. Linear and whole-number programmes: HiGHS, by SciPy.

Patterns are looked for by area, never by price, so that a dearer sheet cannot make a plan cheaper.
Effort is limited in steps, not by the clock alone: the same order gives the same plan.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

import numpy as np
from scipy.optimize import LinearConstraint, linprog, milp

from jobs.estimating.cutting.sheets import Layout, Placed, Rules, Stock, Want

MOST_CELLS = 12_000
#: Cells looked at in all rounds together.
MOST_WORK = 150_000
MOST_NODES = 30
MOST_PATTERNS = 48
#: Of orders that the crowd has looked at.
MOST_PATTERNS_MORE = 60
SECONDS = 10
_EPSILON = 1e-7

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


@dataclass(frozen=True)
class Pattern:
    """A pattern by what it yields; layout is how it is cut."""

    layout: Layout
    counts: tuple[int, ...]


@dataclass(frozen=True)
class Improved:
    """The whole-number programme's plans, and the stock area that no plan can go below."""

    plans: list[list[Layout]]
    bound_area: int


def points(sizes: Sequence[int], counts: Sequence[int], extent: int) -> list[int]:
    """Return the distances up to `extent` that are sums of pane sizes, each used as often as it is wanted."""
    reached = {0}
    for size, count in zip(sizes, counts, strict=True):
        more = set(reached)
        for start in reached:
            for times in range(1, min(count, (extent - start) // size) + 1):
                more.add(start + times * size)
        reached = more
        if len(reached) > 4 * MOST_CELLS:
            break
    return sorted(reached)


class PatternSearch:
    """Finds the pattern of the highest value on one stock size, exactly, whatever panes are worth.

    Without limits on how many of a pane one sheet holds. `possible` is False where the sheet
    has too many distances that matter for this to be quick.
    """

    def __init__(self, wants: Sequence[Want], stock: Stock, at: int, rules: Rules) -> None:
        self.at, self.gap = at, rules.clearance
        width, height = stock.width + self.gap, stock.height + self.gap
        #: want, width and height with the clearance, turned
        self.ways = [
            (number, wide + self.gap, high + self.gap, turned)
            for number, want in enumerate(wants) for wide, high, turned in want.ways
            if wide <= stock.width and high <= stock.height
        ]
        often = [wants[number].number for number, *_ in self.ways]
        self.x = [p for p in points([way[1] for way in self.ways], often, width) if p]
        self.y = [p for p in points([way[2] for way in self.ways], often, height) if p]
        self.possible = bool(self.ways) and len(self.x) * len(self.y) <= MOST_CELLS
        if self.possible:
            self._prepare(width, height)

    @property
    def cells(self) -> int:
        return max(len(self.x) * len(self.y), 1)

    def _prepare(self, width: int, height: int) -> None:
        self.x = sorted({*self.x, width})
        self.y = sorted({*self.y, height})
        self.rest_x = [self._rests(self.x, place) for place in range(len(self.x))]
        self.rest_y = [self._rests(self.y, place) for place in range(len(self.y))]

    @staticmethod
    def _rests(distances: list[int], place: int) -> tuple[np.ndarray, np.ndarray]:
        """Return for each cut of a piece at most half its extent: the places of both parts among the distances."""
        whole, known = distances[place], np.array(distances)
        first = np.nonzero(known * 2 <= whole)[0]
        rest = np.searchsorted(known, whole - known[first], side="right") - 1
        keep = rest >= 0
        return first[keep], rest[keep]

    def best(self, worth: Sequence[float]) -> tuple[float, Layout]:
        """Return the highest value of a pattern, and one pattern that has it."""
        columns, rows = len(self.x), len(self.y)
        value: Floats = np.zeros((columns, rows))
        self.choice: list[list[tuple[str, int, int]]] = [[("", 0, 0)] * rows for _ in range(columns)]
        for number, (want, wide, high, _) in enumerate(self.ways):
            gain = worth[want]
            i, j = np.searchsorted(self.x, wide), np.searchsorted(self.y, high)
            for column in range(int(i), columns):
                for row in np.nonzero(value[column, j:] < gain)[0] + j:
                    self.choice[column][row] = ("pane", number, 0)
                value[column, j:] = np.maximum(value[column, j:], gain)
        for column in range(columns):
            first, rest = self.rest_x[column]
            if len(first):
                sums = value[first] + value[rest]
                which = sums.argmax(axis=0)
                top = sums[which, np.arange(rows)]
                for row in np.nonzero(top > value[column] + _EPSILON)[0]:
                    self.choice[column][row] = ("upright", int(first[which[row]]), int(rest[which[row]]))
                value[column] = np.maximum(value[column], top)
            for row in range(rows):
                low, above = self.rest_y[row]
                if not len(low):
                    continue
                line = value[column]
                heights = line[low] + line[above]
                pick = int(heights.argmax())
                if heights[pick] > line[row] + _EPSILON:
                    line[row] = heights[pick]
                    self.choice[column][row] = ("level", int(low[pick]), int(above[pick]))
        placed: list[Placed] = []
        self._place(columns - 1, rows - 1, 0, 0, placed)
        return float(value[-1, -1]), Layout(self.at, tuple(placed))

    def _place(self, column: int, row: int, left: int, bottom: int, placed: list[Placed]) -> None:
        what, first, second = self.choice[column][row]
        if what == "pane":
            want, wide, high, turned = self.ways[first]
            placed.append(Placed(want, left, bottom, wide - self.gap, high - self.gap, turned))
        elif what == "upright":
            self._place(first, row, left, bottom, placed)
            self._place(second, row, left + self.x[first], bottom, placed)
        elif what == "level":
            self._place(column, first, left, bottom, placed)
            self._place(column, second, left, bottom + self.y[first], placed)


def panes_apart(wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules) -> int:
    """Return how many panes are so large that no sheet holds two of them."""
    gap = rules.clearance
    widest, highest = max(s.width for s in stocks) + gap, max(s.height for s in stocks) + gap
    return sum(
        want.number for want in wants
        if all(2 * (wide + gap) > widest and 2 * (high + gap) > highest for wide, high, _ in want.ways)
    )


def area_bound(wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules) -> int:
    """Return the stock area that no plan can go below, by the panes' own area and by panes that exclude each other."""
    gap = rules.clearance
    smallest = min(stock.area for stock in stocks)
    # every stock size, clearance included, covers the panes on it with theirs
    share = max(Fraction((stock.width + gap) * (stock.height + gap), stock.area) for stock in stocks)
    needed = sum(want.number * (want.width + gap) * (want.height + gap) for want in wants)
    return max(ceil(Fraction(needed) / share), panes_apart(wants, stocks, rules) * smallest)


def improve(
    wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules, known: Sequence[Layout], *, looked_at: bool = False,
) -> Improved:
    """Look for better plans than those whose sheets are `known`, with every stock size and kept offcut.

    looked_at: whether plans were looked for otherwise, so that sheets of several sizes need not be chosen here: that
    would take too long for a price while one types.

    Returns plans to choose the cheapest of, and the bound on stock area.
    """
    patterns: dict[tuple[int, tuple[int, ...]], Pattern] = {}
    most = MOST_PATTERNS_MORE if looked_at else MOST_PATTERNS
    for layout in known:
        counts = layout.count(wants)
        if len(patterns) < most:
            patterns.setdefault((layout.stock, counts), Pattern(layout, counts))
    searches = [PatternSearch(wants, stock, at, rules) for at, stock in enumerate(stocks)]
    bound = area_bound(wants, stocks, rules)
    if not patterns:
        return Improved([], bound)
    if all(search.possible or not search.ways for search in searches):
        bound = max(bound, _generate(wants, stocks, searches, patterns))
    listed = list(patterns.values())
    if looked_at and len(stocks) > 1:
        return Improved([], bound)
    plans = [_choose(wants, stocks, listed, weights) for weights in _weights(stocks)]
    return Improved([plan for plan in plans if plan is not None], bound)


def _matrix(patterns: Sequence[Pattern]) -> Floats:
    return np.array([pattern.counts for pattern in patterns], dtype=float).T


def _limits(stocks: Sequence[Stock], patterns: Sequence[Pattern]) -> tuple[list[list[float]], list[float], list[int]]:
    limited = [at for at, stock in enumerate(stocks) if stock.at_most is not None]
    rows = [[1.0 if pattern.layout.stock == at else 0.0 for pattern in patterns] for at in limited]
    return rows, [float(stocks[at].at_most or 0) for at in limited], limited


def _generate(
    wants: Sequence[Want], stocks: Sequence[Stock], searches: Sequence[PatternSearch],
    patterns: dict[tuple[int, tuple[int, ...]], Pattern],
) -> int:
    """Add patterns until none is worth more than its area; return the bound reached, 0 when cut short."""
    unit = float(max(stock.area for stock in stocks))
    demand = np.array([want.number for want in wants], dtype=float)
    for _ in range(max(MOST_WORK // sum(search.cells for search in searches), 1)):
        listed = list(patterns.values())
        limits, most, limited = _limits(stocks, listed)
        solved = linprog(
            c=[stocks[pattern.layout.stock].area / unit for pattern in listed],
            A_ub=np.vstack([-_matrix(listed), *([limits] if limits else [])]), b_ub=[*-demand, *most], method="highs",
        )
        if not solved.success:
            return 0
        duals = -np.asarray(solved.ineqlin.marginals)
        worth, rent = duals[: len(wants)], dict(zip(limited, duals[len(wants):], strict=True))
        found = False
        for search in searches:
            if not search.ways:
                continue
            value, layout = search.best([float(share) for share in worth])
            price = stocks[search.at].area / unit - float(rent.get(search.at, 0.0))
            counts = layout.count(wants)
            if value > price + 1e-6 and (search.at, counts) not in patterns:
                patterns[search.at, counts] = Pattern(layout, counts)
                found = True
        if not found:
            return ceil(float(solved.fun) * unit * (1 - 1e-9) - 0.5)
    return 0


def _weights(stocks: Sequence[Stock]) -> Iterator[list[float]]:
    """Yield what stock may be worth against its area: all alike, one whole size dearer or cheaper, kept offcuts free.

    None of it is today's price: whatever a sheet costs, the same plans are looked at, and the cheapest of them
    taken. So a dearer sheet can never make the glass cheaper.
    """
    whole = [at for at, stock in enumerate(stocks) if not stock.kept]
    for kept in (1.0, 0.0) if len(whole) < len(stocks) and whole else (1.0,):
        level = [1.0 if stock.at_most is None else kept for stock in stocks]
        yield level
        for at in whole if len(whole) > 1 else ():
            for times in (0.6, 1.6):
                yield [share * times if place == at else share for place, share in enumerate(level)]


def _choose(
    wants: Sequence[Want], stocks: Sequence[Stock], patterns: Sequence[Pattern], weights: Sequence[float]
) -> list[Layout] | None:
    """Return the whole-number choice of patterns of the least weighted area, as far as the effort allows."""
    largest = float(max(stock.area for stock in stocks))
    limits, most, _ = _limits(stocks, patterns)
    rows = np.vstack([_matrix(patterns), *([limits] if limits else [])])
    low = [*(float(want.number) for want in wants), *(0.0 for _ in most)]
    high = [*(np.inf for _ in wants), *most]
    solved = milp(
        # a little of the bare area too, so that what is free is not wasted
        c=[
            (weights[pattern.layout.stock] + 1e-4) * stocks[pattern.layout.stock].area / largest
            for pattern in patterns
        ],
        constraints=LinearConstraint(rows, low, high), integrality=np.ones(len(patterns)),
        options={"node_limit": MOST_NODES, "time_limit": SECONDS, "mip_rel_gap": 0.0},
    )
    if solved.x is None:
        return None
    times = Counter({at: round(float(value)) for at, value in enumerate(solved.x) if round(float(value))})
    return [patterns[at].layout for at in sorted(times) for _ in range(times[at])]
