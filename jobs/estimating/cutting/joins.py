"""Blocks with hardly any waste, built from below: panes and blocks joined along sides that are nearly of one length.

After Wang, "Two algorithms for constrained two-dimensional cutting stock problems", Operations Research 31 (1983)
573–586, in arrays. Sizes are with the clearance, so that what is joined lies a cut apart. Round by round what is new is
joined with all there is; of blocks with the same panes those stay that are not larger both ways than another. Effort
is counted in joins.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from jobs.estimating.cutting.sheets import Layout, Placed, Rules, Stock, Want

Array = np.ndarray[Any, Any]
_WORD = 62
#: New blocks of one round that are joined further: those with the least waste.
MOST_OF_A_ROUND = 2500


class Counts:
    """Numbers of wants packed in words, so that adding is adding and comparing one subtraction."""

    def __init__(self, wants: Sequence[Want]) -> None:
        bits = [want.number.bit_length() + 1 for want in wants]
        self.place: list[tuple[int, int]] = []
        word, at = 0, 0
        for need in bits:
            if at + need > _WORD:
                word, at = word + 1, 0
            self.place.append((word, at))
            at += need
        self.words = word + 1
        limit, guard = [0] * self.words, [0] * self.words
        for (word, at), need, want in zip(self.place, bits, wants, strict=True):
            limit[word] |= want.number << at
            guard[word] |= 1 << (at + need - 1)
        self.all = np.array(limit, dtype=np.int64)
        self.guard = np.array(guard, dtype=np.int64)
        self.mixer = np.array([(0x9E3779B97F4A7C15 * (2 * n + 1)) % 2**63 for n in range(self.words)], dtype=np.int64)

    def one(self, want: int) -> Array:
        counts = np.zeros(self.words, dtype=np.int64)
        word, at = self.place[want]
        counts[word] = 1 << at
        return counts

    def within(self, counts: Array, most: Array) -> Array:
        """Say of rows of counts whether none is above that of `most`."""
        kept: Array = ((((most | self.guard) - counts) & self.guard) == self.guard).all(axis=-1)
        return kept

    def mark(self, counts: Array) -> Array:
        """Return a number for each row of counts, another for each other content as good as surely."""
        mixed: Array = (counts * self.mixer).sum(axis=-1)
        return mixed


@dataclass(frozen=True)
class Blocks:
    """Blocks, a row each: width, height, area of the panes, counts, the two joined (or -1), how, and a pane's want."""

    wide: Array
    high: Array
    area: Array
    counts: Array
    first: Array
    second: Array
    upright: Array
    want: Array
    turned: Array

    def plus(self, more: Blocks) -> Blocks:
        return Blocks(*(np.concatenate([mine, theirs]) for mine, theirs in
                        zip(vars(self).values(), vars(more).values(), strict=True)))

    def at(self, rows: Array) -> Blocks:
        return Blocks(*(column[rows] for column in vars(self).values()))

    def placed(self, row: int, left: int, bottom: int, gap: int) -> Iterator[Placed]:
        """Yield the panes of a block whose lower left corner lies there."""
        first = int(self.first[row])
        if first < 0:
            yield Placed(int(self.want[row]), left, bottom, int(self.wide[row]) - gap, int(self.high[row]) - gap,
                         bool(self.turned[row]))
            return
        yield from self.placed(first, left, bottom, gap)
        if self.upright[row]:
            yield from self.placed(int(self.second[row]), left + int(self.wide[first]), bottom, gap)
        else:
            yield from self.placed(int(self.second[row]), left, bottom + int(self.high[first]), gap)


def blocks(
    wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules, *, apart: Fraction, most_joins: int
) -> tuple[Blocks, int]:
    """Return blocks that fit a stock size, and how many joins were tried.

    apart: the share by which joined sides may differ; 0: no waste at all.
    """
    counts, gap = Counts(wants), rules.clearance
    sheets = [(stock.width + gap, stock.height + gap) for stock in stocks]
    single = [
        (wide + gap, high + gap, number, turned)
        for number, want in enumerate(wants) for wide, high, turned in want.ways
        if any(wide + gap <= w and high + gap <= h for w, h in sheets)
    ]
    rows = len(single)
    wide, high = (np.array([way[at] for way in single], dtype=np.int64) for at in (0, 1))
    nothing = np.full(rows, -1, dtype=np.int64)
    known = Blocks(
        wide, high, wide * high.astype(np.float64),
        np.array([counts.one(way[2]) for way in single], dtype=np.int64).reshape(rows, -1),
        nothing, nothing, np.zeros(rows, dtype=np.bool_), np.array([way[2] for way in single], dtype=np.int64),
        np.array([way[3] for way in single], dtype=np.bool_),
    )
    joins, start = 0, 0
    while start < len(known.wide) and joins < most_joins:
        new, tried = _joined(known, start, counts, sheets, rules, float(apart), most_joins - joins)
        joins += tried
        start = len(known.wide)
        known = _without_beaten(known, new, counts)
    return known, joins


def _joined(
    known: Blocks, start: int, counts: Counts, sheets: Sequence[tuple[int, int]], rules: Rules, apart: float, most: int
) -> tuple[Blocks, int]:
    """Join blocks from `start` on with all others along both sides."""
    made: list[Blocks] = []
    tried = 0
    for upright in (True, False):
        side = known.high if upright else known.wide
        order = np.argsort(side, kind="stable")
        ordered = side[order]
        mine = np.arange(start, len(side))
        low = np.searchsorted(ordered, np.ceil(side[mine] * (1 - apart)), side="left")
        top = np.searchsorted(ordered, side[mine], side="right")
        # blocks of one round meet twice, which is no harm; an earlier, larger one is met by its own search
        if start:
            top = np.searchsorted(ordered, np.floor(side[mine] / (1 - apart)), side="right")
        many = top - low
        cut = np.searchsorted(np.cumsum(many), most // 2, side="right")
        mine, low, many = mine[:cut], low[:cut], many[:cut]
        total = int(many.sum())
        tried += total
        if not total:
            continue
        one = np.repeat(mine, many)
        offsets = np.arange(total) - np.repeat(np.cumsum(many) - many, many)
        two = order[np.repeat(low, many) + offsets]
        both = known.counts[one] + known.counts[two]
        fits = counts.within(both, counts.all)
        one, two, both = one[fits], two[fits], both[fits]
        if upright:
            wide, high = known.wide[one] + known.wide[two], np.maximum(known.high[one], known.high[two])
        else:
            wide, high = np.maximum(known.wide[one], known.wide[two]), known.high[one] + known.high[two]
        fits = np.zeros(len(wide), dtype=np.bool_)
        for w, h in sheets:
            fits |= (wide <= w) & (high <= h)
        if rules.smallest_strip:
            rest = np.abs(side[one] - side[two])
            fits &= (rest == 0) | (rest >= rules.smallest_strip)
        one, two, both, wide, high = one[fits], two[fits], both[fits], wide[fits], high[fits]
        rows = len(one)
        made.append(Blocks(wide, high, known.area[one] + known.area[two], both, one, two,
                           np.full(rows, upright), np.full(rows, -1, dtype=np.int64), np.zeros(rows, dtype=np.bool_)))
    if not made:
        return known.at(np.zeros(0, dtype=np.int64)), tried
    return made[0].plus(made[1]) if len(made) == 2 else made[0], tried


def _without_beaten(known: Blocks, new: Blocks, counts: Counts) -> Blocks:
    """Add new blocks to those known: none that is as large both ways as another of the same panes, the best alone."""
    together = known.plus(new)
    marks = counts.mark(together.counts)
    order = np.lexsort((np.arange(len(marks)), together.high, together.wide, marks))
    marks, high = marks[order], together.high[order]
    segment = np.cumsum(np.concatenate([[0], (marks[1:] != marks[:-1]).astype(np.int64)]))
    shifted = high - segment * (int(high.max(initial=0)) + 1)
    lowest = np.minimum.accumulate(shifted)
    fresh = np.ones(len(order), dtype=np.bool_)
    fresh[1:] = shifted[1:] < lowest[:-1]
    add = np.sort(order[fresh & (order >= len(known.wide))])
    if len(add) > MOST_OF_A_ROUND:
        waste = 1 - together.area[add] / (together.wide[add] * together.high[add].astype(np.float64))
        add = np.sort(add[np.argsort(waste, kind="stable")[:MOST_OF_A_ROUND]])
    return known.plus(together.at(add))


@dataclass(frozen=True)
class Full:
    """Sheets that are nearly full, best used first: a layout each, and their counts."""

    layouts: list[Layout]
    counts: Array
    waste: Array


def full_sheets(
    found: Blocks, wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules, waste: Fraction, most: int
) -> Full:
    """Return sheets on which at most the share `waste` of the sheet is lost, at most so many."""
    gap, counts, least = rules.clearance, Counts(wants), 1 - float(waste)
    listed: list[tuple[float, int, int]] = []
    for at, stock in enumerate(stocks):
        w, h = stock.width + gap, stock.height + gap
        fits = (found.wide <= w) & (found.high <= h) & (found.area >= least * w * h)
        if rules.smallest_strip:
            for rest in (w - found.wide, h - found.high):
                fits &= (rest == 0) | (rest >= rules.smallest_strip)
        rows = np.nonzero(fits)[0]
        if len(rows):
            _, first = np.unique(counts.mark(found.counts[rows]), return_index=True)
            rows = rows[first]
        listed += [(float(1 - found.area[row] / (w * h)), at, int(row)) for row in rows]
    listed = sorted(listed)[:most]
    rows = np.array([row for *_, row in listed], dtype=np.int64)
    return Full([Layout(at, tuple(found.placed(row, 0, 0, gap))) for _, at, row in listed], found.counts[rows],
                np.array([share for share, *_ in listed]))


def cover(
    full: Full, wants: Sequence[Want], sheets: int, spare: Fraction, most_tries: int = 600
) -> list[Layout] | None:
    """Return so many sheets of one size that hold every pane, from those given; None where none were found.

    spare: the area that all together may lose, in sheets.
    """
    counts = Counts(wants)
    marks = counts.mark(full.counts)
    order = np.argsort(marks, kind="stable")
    ranked = marks[order]
    tries = [most_tries]
    ones = [counts.one(want) for want in range(len(wants))]

    def known(asked: Array) -> tuple[Array, Array]:
        """Return where rows of counts stand among the sheets, and which of them do."""
        wanted = counts.mark(asked)
        place = np.minimum(np.searchsorted(ranked, wanted), len(ranked) - 1)
        return order[place], ranked[place] == wanted

    def rest_of(remaining: Array, number: int, spare: float) -> list[int] | None:
        tries[0] -= 1
        if tries[0] < 0:
            return None
        if number == 1:
            place, there = known(remaining[None, :])
            return [int(place[0])] if there[0] else None
        # the first pane that is left, wants standing by size, lies on one of the sheets
        pivot = next(one for one in ones if counts.within(one, remaining))
        mine = np.nonzero(counts.within(full.counts, remaining) & (full.waste <= spare)
                          & counts.within(np.broadcast_to(pivot, full.counts.shape), full.counts))[0]
        if number == 2:
            place, there = known(remaining - full.counts[mine])
            hit = np.nonzero(there)[0]
            return [int(mine[hit[0]]), int(place[hit[0]])] if len(hit) else None
        for row in mine.tolist():
            found = rest_of(remaining - full.counts[row], number - 1, spare - float(full.waste[row]))
            if found is not None:
                return [row, *found]
        return None

    if not len(full.layouts):
        return None
    rows = rest_of(counts.all, sheets, float(spare) + 1e-9)
    return None if rows is None else [full.layouts[row] for row in rows]

