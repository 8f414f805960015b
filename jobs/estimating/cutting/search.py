"""The search for the cheapest plan: first answers, blocks without waste, a crowd of plans, a covering programme.

Which plans are looked at never hangs on a price; of those seen the cheapest is taken, then the one that leaves the
largest usable offcut, then the one of fewest cuts. The search ends where a plan costs no more than any must.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from hashlib import sha256
from itertools import groupby, product
from math import ceil

import numpy as np

from jobs.estimating.cutting.crowd import Array, Crowd, State
from jobs.estimating.cutting.guillotine import Parted, part
from jobs.estimating.cutting.joins import Counts, Full, blocks, cover, full_sheets
from jobs.estimating.cutting.packing import packed_layouts
from jobs.estimating.cutting.patterns import area_bound, improve, panes_apart
from jobs.estimating.cutting.sheets import Layout, Placed, Rules, Stock, Want
from jobs.estimating.cutting.strips import strip_layouts

#: Up to so many panes a price must be there while one types.
FEW_PANES = 12
#: Beyond so many panes a crowd is smaller, and patterns are looked for where sizes are few.
MANY_PANES, FEW_SIZES = 120, 8
#: Shares by which the sides of joined blocks may differ, one after the other.
APART = tuple(Fraction(percent, 100) for percent in (0, 1, 3, 7, 15, 30))
MOST_FULL = 3000
#: A share of a sheet that rounding may cost.
HAIR = Fraction(1, 10**9)
MOST_PATTERNS = 700
#: Of plans alike in stock, so many are parted to compare what they leave.
MOST_ALIKE = 6

#: Of plans in strips with more sheets than this, two are looked at for the larger left-over.
MANY_SHEETS = 30

#: The longest length, in whole units, that arrays of whole numbers can add to another. Only sides in many odd fractions
#: lead beyond; such an order is cut by its first answers, in Python's own numbers.
MOST_UNITS = 2**62 - 1

Checked = tuple[list[Layout], list[Parted]]


@dataclass(frozen=True)
class Effort:
    """How much is looked at: work of the crowd (about a millionth of a second each), its plans, joins of blocks.

    most_panes: beyond so many the crowd is left alone, for its steps would be few. for_offcuts: the share of the
    crowd's work that goes into a larger offcut where no plan can be cheaper.
    """

    work: float
    plans: int
    joins: int
    most_panes: int
    for_offcuts: float = 0.2


QUICK = Effort(work=35_000, plans=128, joins=150_000, most_panes=200, for_offcuts=0)
FEW = Effort(work=70_000, plans=128, joins=400_000, most_panes=FEW_PANES)
MORE = Effort(work=560_000, plans=128, joins=1_500_000, most_panes=500)


@dataclass(frozen=True)
class Found:
    """A plan in whole numbers: layouts with their cuts, the bound on stock area, and the first answer."""

    layouts: tuple[tuple[Layout, Parted], ...]
    bound_area: int
    first_sheets: int
    first_cost: Fraction


def search(
    wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules, *, quick: bool = False
) -> Found | None:
    """Return the best plan found; None where no plan was found. quick: with little effort."""
    if not stocks or not all(_fits_somewhere(want, stocks, rules) for want in wants):
        return None
    least = least_cost(wants, stocks, rules)
    if least is None:
        return None
    seen = _Seen(wants, stocks, rules, least)
    for at, stock in enumerate(stocks):
        if not stock.kept:
            for plan in strip_layouts(wants, stocks, at, rules):
                seen.add(plan)
    first = seen.best()
    bound = area_bound(wants, stocks, rules)
    if not seen.done():
        for at, stock in enumerate(stocks):
            for plan in packed_layouts(wants, stock, at, rules):
                seen.add(plan)
    panes = sum(want.number for want in wants)
    effort = QUICK if quick else FEW if panes <= FEW_PANES else MORE
    in_arrays = max(max(stock.width, stock.height) for stock in stocks) + rules.clearance <= MOST_UNITS
    looked_at = in_arrays and panes <= effort.most_panes
    if looked_at and not (seen.done() and not effort.for_offcuts):
        _crowd(seen, panes, effort)
    if in_arrays and not seen.done() and panes > FEW_PANES and (panes <= MANY_PANES or len(wants) <= FEW_SIZES):
        bound = max(bound, _patterns(seen, looked_at))
    best = seen.best()
    return None if best is None else as_found(best, bound, first or best, stocks)


def first_answer(wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules) -> Found | None:
    """Return the best plan in strips right across, on the first stock size alone."""
    plans = list(strip_layouts(wants, stocks, 0, rules)) if stocks else []
    for _, group in groupby(sorted(plans, key=len), key=len):
        alike = list(group)
        checked = [(plan, parts) for plan in alike[:2 if len(alike[0]) > MANY_SHEETS else None]
                   if (parts := parted(plan, stocks, rules)) is not None]
        if checked:
            first = min(checked, key=lambda one: -max(
                (region.area for parts in one[1] for region in parts.left_over), default=0))
            return as_found(first, area_bound(wants, stocks, rules), first, stocks)
    return None


def as_found(best: Checked, bound: int, first: Checked, stocks: Sequence[Stock]) -> Found:
    return Found(
        tuple(zip(best[0], best[1], strict=True)), bound,
        sum(1 for layout in first[0] if not stocks[layout.stock].kept),
        sum((stocks[layout.stock].cost for layout in first[0]), Fraction(0)),
    )


def _fits_somewhere(want: Want, stocks: Sequence[Stock], rules: Rules) -> bool:
    return any(
        rules.may_end(stock.width - width) and rules.may_end(stock.height - height)
        for stock in stocks for width, height, _ in want.ways
    )


def _seed(wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules) -> int:
    """Return a number that the question alone decides, its prices left out."""
    asked = repr((
        [(want.width, want.height, want.number, want.turns) for want in wants],
        [(stock.width, stock.height, stock.at_most) for stock in stocks], rules,
    ))
    return int.from_bytes(sha256(asked.encode()).digest()[:8], "big")


def _joined(seen: _Seen, effort: Effort) -> Full:
    """Look for sheets that are hardly wasted, and for plans of nothing else; return the sheets."""
    wants, stocks, rules = seen.wants, seen.stocks, seen.rules
    gap, left = rules.clearance, effort.joins
    area = (stocks[0].width + gap) * (stocks[0].height + gap)
    needed = sum(want.number * (want.width + gap) * (want.height + gap) for want in wants)
    sheets = -(-needed // area)
    spare = Fraction(sheets * area - needed, area)
    best = None
    for apart in APART:
        found, tried = blocks(wants, stocks, rules, apart=apart, most_joins=left // 2 if apart else left)
        left -= tried
        lost = spare + HAIR if len(stocks) == 1 else max(apart, Fraction(2, 100))
        full = full_sheets(found, wants, stocks, rules, lost, MOST_FULL)
        if best is None or len(best.layouts) < 20:
            best = full
        seen.patterns(full.layouts[:MOST_PATTERNS // 4])
        if len(stocks) == 1:
            plan = cover(full, wants, sheets, spare)
            if plan is not None:
                seen.add(plan)
        if seen.done() or tried >= left:
            break
    assert best is not None
    return best


def _crowd(seen: _Seen, panes: int, effort: Effort) -> None:
    wants, stocks, rules = seen.wants, seen.stocks, seen.rules
    seed = _seed(wants, stocks, rules)
    begin_with: list[list[Layout]] = []
    if not seen.done():
        begin_with = list(_apart(wants, stocks, _joined(seen, effort), seed))
    plans = effort.plans if panes <= MANY_PANES else max(effort.plans * MANY_PANES**2 // panes**2, 16)
    chance = np.random.Generator(np.random.PCG64(seed))
    crowd = Crowd(wants, stocks, rules, weights(stocks), plans, seed, begin_with)

    def look(state: State, whole: Array) -> bool:
        seen.look(crowd, state, whole)
        return crowd.spent > effort.for_offcuts * effort.work and seen.done()

    crowd.run(effort.work, look, lambda rows: seen.sets(rows, chance))


def weights(stocks: Sequence[Stock]) -> Array:
    """Return what stock may count: its area, one whole size cheaper or dearer, kept offcuts as good as free."""
    largest = max(stock.area for stock in stocks)
    area = np.array([stock.area / largest for stock in stocks])
    rows = []
    kept = np.array([stock.kept for stock in stocks])
    for share in (1.0, 0.02) if kept.any() and not kept.all() else (1.0,):
        level = np.where(kept, share, 1.0) * area
        rows.append(level)
        whole = [at for at, stock in enumerate(stocks) if not stock.kept]
        for at, times in product(whole, (0.4, 0.65, 0.82, 1.2, 1.5)) if len(whole) > 1 else ():
            row = level.copy()
            row[at] *= times
            rows.append(row)
    return np.array(rows)


def _apart(wants: Sequence[Want], stocks: Sequence[Stock], full: Full, seed: int) -> Iterator[list[Layout]]:
    """Yield sets of nearly full sheets that can be cut together, each once."""
    counts, chance = Counts(wants), np.random.Generator(np.random.PCG64(seed))
    stock = np.array([layout.stock for layout in full.layouts])
    known: set[bytes] = set()
    for turn in range(32 if full.layouts else 0):
        order = np.argsort(full.waste * (1 + 2 * chance.random(len(full.waste)) * (turn > 0)), kind="stable")
        taken, left = _taken(order, full.counts, stock, stocks, counts)
        if left.tobytes() not in known:
            known.add(left.tobytes())
            yield [full.layouts[at] for at in taken]


def _taken(
    order: Array, contents: Array, stock: Array, stocks: Sequence[Stock], counts: Counts, most_sheets: int = 2**31,
) -> tuple[list[int], Array]:
    """Take sheets in an order while the panes on them are still wanted and there is stock; return them, and what is
    left of the panes. contents: of each sheet; stock: what it is cut from.
    """
    left, used, taken = counts.all.copy(), Counter[int](), list[int]()
    while len(taken) < most_sheets and len(order := order[counts.within(contents[order], left)]):
        first = int(order[0])
        of, most = int(stock[first]), stocks[stock[first]].at_most
        if most is not None and used[of] >= most:
            order = order[stock[order] != of]
            continue
        left = left - contents[first]
        used[of] += 1
        taken.append(first)
    return taken, left


def _patterns(seen: _Seen, looked_at: bool) -> int:
    """Let the covering programme choose among all sheets seen; return the bound on stock area that it gives."""
    wants, stocks, rules = seen.wants, seen.stocks, seen.rules
    improved = improve(wants, stocks, rules, seen.chosen_patterns(), looked_at=looked_at)
    for plan in improved.plans:
        seen.add(without_surplus(plan, wants))
    return improved.bound_area


@dataclass
class _Kept:
    """Plans alike in stock: the largest rectangle each leaves, as far as known, and their layouts."""

    plans: list[tuple[float, list[Layout]]] = field(default_factory=list)


class _Seen:
    """Plans seen: of each set of sheets those that leave most, whatever they cost; and the sheets they are made of."""

    def __init__(self, wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules, least: Fraction) -> None:
        self.wants, self.stocks, self.rules = wants, stocks, rules
        self.kinds: dict[tuple[int, ...], _Kept] = {}
        self.sheets: dict[tuple[int, tuple[int, ...]], Layout] = {}
        self.hashes: set[float] = set()
        self.least = least
        self.cheapest: Fraction | None = None
        chance = np.random.Generator(np.random.PCG64(1))
        self.marks = chance.random(len(wants))
        self.stock_marks = chance.random(len(stocks)) * 1000

    def add(self, plan: Sequence[Layout]) -> None:
        """Add a plan if all panes are on it, it keeps within what there is, and it can be cut; and its sheets."""
        sound = [layout for layout in plan if part(layout.placed, *self._extent(layout), self.rules) is not None]
        self.patterns(sound)
        used = Counter(layout.stock for layout in plan)
        if len(sound) < len(plan) or not _all_on(plan, self.wants) or any(
            stock.at_most is not None and used[at] > stock.at_most for at, stock in enumerate(self.stocks)
        ):
            return
        self._keep(tuple(used[at] for at in range(len(self.stocks))), 0.0, list(plan))

    def _keep(self, kind: tuple[int, ...], left: float, plan: list[Layout]) -> None:
        kept = self.kinds.setdefault(kind, _Kept())
        kept.plans.append((left, plan))
        kept.plans.sort(key=lambda one: -one[0])
        del kept.plans[MOST_ALIKE:]
        cost = self.cost_of(kind)
        if self.cheapest is None or cost < self.cheapest:
            self.cheapest = cost

    def cost_of(self, kind: Sequence[int]) -> Fraction:
        return sum((stock.cost * times for stock, times in zip(self.stocks, kind, strict=True)), Fraction(0))

    def done(self) -> bool:
        """Say whether no plan can be cheaper than one seen."""
        return self.cheapest is not None and self.cheapest <= self.least

    def patterns(self, sheets: Iterable[Layout]) -> None:
        for layout in sheets:
            self.sheets.setdefault((layout.stock, layout.count(self.wants)), layout)

    def look(self, crowd: Crowd, state: State, whole: Array) -> None:
        """Take over what is new in a crowd: plans that leave more than those alike in stock, and sheets well used."""
        if len(self.sheets) < 4 * MOST_PATTERNS:
            self._look_at_sheets(crowd, state)
        if not whole.any():
            return
        times = np.stack([(state.stock == at).sum(axis=1) for at in range(len(self.stocks))], axis=1)
        left = crowd.largest_left(state)
        order = np.lexsort((-left, *times.T[::-1]))
        order = order[whole[order]]
        ranked = times[order]
        heads = np.ones(len(order), dtype=np.bool_)
        heads[1:] = (ranked[1:] != ranked[:-1]).any(axis=1)
        for row in order[heads]:
            kind = tuple(int(number) for number in times[row])
            kept = self.kinds.get(kind)
            if kept is None or kept.plans[0][0] < left[row] * 0.999:
                self._keep(kind, float(left[row]), crowd.layouts(state, int(row)))

    def _look_at_sheets(self, crowd: Crowd, state: State) -> None:
        plans, sheets = state.stock.shape
        kinds = np.maximum(state.stock, 0)
        well = (state.used > 0.8 * crowd.stock_area[kinds]) & (state.stock >= 0)
        if not well.any():
            return
        at = (np.arange(plans)[:, None] * (sheets + 1) + np.where(state.on < 0, sheets, state.on)).ravel()
        marks: Array = np.bincount(at, weights=np.broadcast_to(self.marks[crowd.want], state.on.shape).ravel(),
                            minlength=plans * (sheets + 1)).reshape(plans, sheets + 1)[:, :sheets]
        marks = marks + self.stock_marks[kinds]
        rows, slots = np.nonzero(well)
        unique, first = np.unique(marks[rows, slots], return_index=True)
        new = 0
        for mark, where in zip(unique.tolist(), first.tolist(), strict=True):
            if mark not in self.hashes and new < 60:
                new += 1
                self.hashes.add(mark)
                self.patterns([crowd.layout(state, int(rows[where]), int(slots[where]))])

    def sets(self, rows: Array, chance: np.random.Generator) -> list[list[Layout]]:
        """Return a set of sheets seen that can be cut together for each row of weights: those that cost least an area.

        What is left of the panes after them is the crowd's to place.
        """
        packed = Counts(self.wants)
        sheets = sorted(self.sheets.items())[:3 * MOST_PATTERNS]
        if not sheets:
            return [[] for _ in rows]
        ones = np.array([packed.one(want) for want in range(len(self.wants))])
        counts = np.array([content for (_, content), _ in sheets], dtype=np.int64) @ ones
        stock = np.array([at for (at, _), _ in sheets])
        covered = np.array([self._fill(layout) * self.stocks[at].area for (at, _), layout in sheets])
        known: list[list[Layout]] = []
        for row in rows:
            worth = row[stock] / covered * (1 + 0.25 * chance.random(len(stock)) ** 2)
            order = np.argsort(worth, kind="stable")
            taken, _ = _taken(order, counts, stock, self.stocks, packed, int(chance.integers(1, 12)))
            known.append([sheets[at][1] for at in taken])
        return known

    def chosen_patterns(self) -> list[Layout]:
        """Return sheets to cover the order with: those of plans seen, then the best used."""
        of_plans = [layout for _, kept in sorted(self.kinds.items()) for _, plan in kept.plans for layout in plan]
        well = sorted(self.sheets.values(), key=lambda layout: -self._fill(layout))
        return [*of_plans, *well][:4 * MOST_PATTERNS]

    def _fill(self, layout: Layout) -> float:
        gap = self.rules.clearance
        covered = sum((piece.width + gap) * (piece.height + gap) for piece in layout.placed)
        return covered / self.stocks[layout.stock].area

    def best(self) -> Checked | None:
        """Return the cheapest plan seen; of those the one that leaves the largest usable offcut, then fewest cuts."""
        by_cost: dict[tuple[Fraction, int], list[list[Layout]]] = {}
        for kind, kept in sorted(self.kinds.items()):
            area = sum(stock.area * times for stock, times in zip(self.stocks, kind, strict=True))
            by_cost.setdefault((self.cost_of(kind), area), []).extend(plan for _, plan in kept.plans)
        for rank in sorted(by_cost):
            checked = [(plan, parts) for plan in by_cost[rank] if (parts := parted(plan, self.stocks, self.rules))]
            if checked:
                return min(checked, key=lambda one: what_is_left(one, self.rules))
        return None

    def _extent(self, layout: Layout) -> tuple[int, int]:
        return self.stocks[layout.stock].width, self.stocks[layout.stock].height


def parted(plan: Sequence[Layout], stocks: Sequence[Stock], rules: Rules) -> list[Parted] | None:
    """Return the cuts of each sheet of a plan; None where one cannot be cut."""
    parts = []
    for layout in plan:
        stock = stocks[layout.stock]
        one = part(layout.placed, stock.width, stock.height, rules)
        if one is None:
            return None
        parts.append(one)
    return parts


def what_is_left(checked: Checked, rules: Rules) -> tuple[int, int]:
    """Rank plans alike in cost: the largest usable left-over, then the fewest cuts."""
    largest = max((region.area for one in checked[1] for region in one.left_over
                   if min(region.width, region.height) >= rules.keep), default=0)
    return -largest, sum(len(one.cuts) for one in checked[1])


def least_cost(wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules) -> Fraction | None:
    """Return what any plan must cost: by area, and by panes of which no sheet holds two; None where stock is short."""
    gap = rules.clearance
    needed = sum(want.number * (want.width + gap) * (want.height + gap) for want in wants)
    areas = [(stock.width + gap) * (stock.height + gap) for stock in stocks]
    most = [-(-needed // area) if stock.at_most is None else min(stock.at_most, -(-needed // area))
            for stock, area in zip(stocks, areas, strict=True)]
    if sum(area * times for area, times in zip(areas, most, strict=True)) < needed:
        return None
    apart = panes_apart(wants, stocks, rules) * min(stock.cost for stock in stocks)
    ways = 1
    for number in most:
        ways *= number + 1
    if ways > 20_000:
        rest, cost = Fraction(needed), Fraction(0)
        for at in sorted(range(len(stocks)), key=lambda n: stocks[n].cost / areas[n]):
            share = min(rest, Fraction(areas[at] * most[at]))
            cost += stocks[at].cost * share / areas[at]
            rest -= share
        return max(cost, apart)
    costs: list[Fraction] = []
    last = max(range(len(stocks)), key=lambda n: most[n])
    others = [at for at in range(len(stocks)) if at != last]
    for numbers in product(*(range(most[at] + 1) for at in others)):
        rest = Fraction(max(needed - sum(areas[at] * n for at, n in zip(others, numbers, strict=True)), 0))
        more = ceil(rest / areas[last])
        if more <= most[last]:
            costs.append(sum((stocks[at].cost * n for at, n in zip(others, numbers, strict=True)), Fraction(0))
                         + stocks[last].cost * more)
    return max(min(costs), apart)


def _all_on(plan: Sequence[Layout], wants: Sequence[Want]) -> bool:
    counts = Counter(piece.want for layout in plan for piece in layout.placed)
    return all(counts[number] == want.number for number, want in enumerate(wants))


def without_surplus(plan: Sequence[Layout], wants: Sequence[Want]) -> list[Layout]:
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
