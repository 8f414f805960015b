"""Many plans improved side by side: ruin and recreate by randomised guillotine best fit, in arrays.

Each plan of the crowd loses the panes of some of its sheets (the emptier ones rather) and gets them back one after the
other, each into the free rectangle that it fits best; a rectangle is parted by an edge-to-edge cut as soon as a pane
lies in it. What came of it is accepted by a cooling rule, and now and then a plan far behind becomes a copy of one
ahead (ruin and recreate: Schrimpf and others, J. Computational Physics 159 (2000) 139–171; best fit with cuts:
Jylänki 2010, a thousand ways to pack the bin).

What is looked at never hangs on a price: sheets are weighed by area, some plans with one size dearer or cheaper than
its area. So a dearer sheet can never make a plan cheaper. Chance is seeded by the question, effort counted in steps.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from jobs.estimating.cutting.sheets import Layout, Placed, Rules, Stock, Want

Array = np.ndarray[Any, Any]
_FAR = np.float32(3e38)
#: The first heat of the cooling, as a share of a sheet.
HEAT = 0.05


@dataclass
class State:
    """A crowd of plans; the first axis of each array is the plan.

    Of free rectangles (second axis their number): left, bottom, width, height, sheet. Of panes: the sheet that a pane
    lies on, or -1, its corner, whether turned. Of sheets: stock size or -1, and the area cut from it.
    """

    left: Array
    bottom: Array
    width: Array
    height: Array
    sheet: Array
    rectangles: Array
    on: Array
    pane_left: Array
    pane_bottom: Array
    turned: Array
    stock: Array
    used: Array
    keys: Array
    bent: Array

    def arrays(self) -> Iterator[Array]:
        yield from vars(self).values()

    def copy_rows(self, source: State, to: Array, of: Array) -> None:
        for mine, theirs in zip(self.arrays(), source.arrays(), strict=True):
            mine[to] = theirs[of]

    def copied(self) -> State:
        return State(*(array.copy() for array in self.arrays()))


class Crowd:
    """Plans for one question. Sizes are with the clearance: panes then lie edge to edge on a sheet grown by it."""

    def __init__(
        self, wants: Sequence[Want], stocks: Sequence[Stock], rules: Rules, weights: Array, plans: int, seed: int,
        begin_with: Sequence[Sequence[Layout]] = (),
    ) -> None:
        """weights: of each plan of the crowd (modulo their number), what a sheet of each stock size counts.

        begin_with: full sheets that some plans begin with.
        """
        self.begin_with, self.spent, self.keep = begin_with, 0.0, rules.keep + rules.clearance
        self.wants, self.stocks, self.gap = wants, stocks, rules.clearance
        self.strip = rules.smallest_strip
        self.chance = np.random.Generator(np.random.PCG64(seed))
        self.want = np.repeat(np.arange(len(wants)), [want.number for want in wants])
        self.panes, self.plans = len(self.want), plans
        gap = self.gap
        wide = np.array([want.width + gap for want in wants], dtype=np.int64)[self.want]
        high = np.array([want.height + gap for want in wants], dtype=np.int64)[self.want]
        turns = np.array([want.turns and want.width != want.height for want in wants])[self.want]
        large = max(max(stock.width, stock.height) for stock in stocks) + gap
        self.type: Any = np.int32 if large < 2**28 else np.int64
        never = 2 * large + 1
        self.wide: Array = wide.astype(self.type)
        self.high: Array = high.astype(self.type)
        # turned: how wide and how high; larger than any sheet where a pane may not turn
        self.turned_wide = np.where(turns, high, never).astype(self.type)
        self.turned_high = np.where(turns, wide, never).astype(self.type)
        self.area = wide * high.astype(np.float64)
        self.stock_wide = np.array([stock.width + gap for stock in stocks], dtype=self.type)
        self.stock_high: Array = np.array([stock.height + gap for stock in stocks], dtype=self.type)
        self.stock_area = self.stock_wide.astype(np.float64) * self.stock_high
        self.most = np.array([self.panes if stock.at_most is None else stock.at_most for stock in stocks])
        self.fits_upright = self._fits(self.wide, self.high)
        self.fits_turned = self._fits(self.turned_wide, self.turned_high)
        self.fits = self.fits_upright | self.fits_turned
        self.weights = np.asarray(weights, dtype=np.float64)[np.arange(plans) % len(weights)]
        self.rows = np.arange(plans)
        self.least = int(np.minimum(self.wide, self.high).min())
        self.sheets = self.panes
        self.noise = self.chance.random((plans, 4096), dtype=np.float32)
        self._prepare()

    def _fits(self, wide: Array, high: Array) -> Array:
        beyond_w = self.stock_wide[None, :] - wide[:, None]
        beyond_h = self.stock_high[None, :] - high[:, None]
        return self._ends(beyond_w) & self._ends(beyond_h)

    def _ends(self, rest: Array) -> Array:
        if not self.strip:
            return rest >= 0
        return (rest == 0) | (rest >= self.strip)

    def empty(self) -> State:
        plans, panes, sheets = self.plans, self.panes, self.sheets
        room = panes + sheets + 2

        def zeros(columns: int, kind: Any = self.type) -> Array:
            return np.zeros((plans, columns), dtype=kind)

        return State(
            zeros(room), zeros(room), zeros(room), zeros(room), zeros(room, np.int16), np.zeros(plans, dtype=np.int64),
            np.full((plans, panes), -1, dtype=np.int16), zeros(panes), zeros(panes), zeros(panes, np.bool_),
            np.full((plans, sheets), -1, dtype=np.int16), zeros(sheets, np.float64), self.first_keys.copy(),
            self.chance.random((plans, panes)) < self.flips[:, None],
        )

    def insert(self, state: State, order: Array, counts: Array, sharpness: Array) -> None:
        """Put panes back. order: of each plan the panes, of which the first `counts` are to be inserted.

        sharpness: how much of the choice of a rectangle is chance.
        """
        rows, noise = self.rows, self.noise
        many = int(counts.max()) if len(counts) else 0
        by_area = self.by_area
        for turn in range(many):
            active = turn < counts
            pane = order[:, turn]
            w1, h1 = self.wide[pane], self.high[pane]
            w2, h2 = self.turned_wide[pane], self.turned_high[pane]
            reach = int(state.rectangles.max())
            self.spent += 140 + 0.022 * self.plans * reach
            score = np.empty((self.plans, 2 * reach), dtype=np.float32)
            if reach:
                W, H = state.width[:, :reach], state.height[:, :reach]
                start = int(self.chance.integers(0, 4096 - 2 * reach)) if reach < 2000 else 0
                blur = noise[:, start:start + 2 * reach] * sharpness[:, None]
                room = W * H.astype(np.float32) * by_area[:, None]
                for at, (w, h) in enumerate(((w1, h1), (w2, h2))):
                    dw, dh = W - w[:, None], H - h[:, None]
                    short = np.minimum(dw, dh)
                    value = (short + room) * (1 + blur[:, at * reach:(at + 1) * reach])
                    bad = short < 0
                    if self.strip:
                        bad |= ~(self._ends(dw) & self._ends(dh))
                    value[bad] = _FAR
                    score[:, at * reach:(at + 1) * reach] = value
                best = score.argmin(axis=1)
                found = score[rows, best] < _FAR
            else:
                best = np.zeros(self.plans, dtype=np.int64)
                found = np.zeros(self.plans, dtype=np.bool_)
            which, lies = best % max(reach, 1), best >= max(reach, 1)
            opening = active & ~found
            if opening.any():
                who = np.nonzero(opening)[0]
                opened = self._open(state, who, pane[who])
                who = who[opened]
                which[who] = state.rectangles[who] - 1
                lies[who] = self._lying(state, who, pane[who])
                found[who] = True
            self._place(state, np.nonzero(active & found)[0], pane, which, lies)

    def _open(self, state: State, who: Array, pane: Array) -> Array:
        """Take a new sheet for each of these plans; says which got one."""
        used = np.stack([(state.stock[who] == at).sum(axis=1) for at in range(len(self.stocks))], axis=1)
        wish = self.chance.random((len(who), len(self.stocks))) ** 2 * self.stock_area[None, :] / self.weights[who]
        wish = np.where(self.fits[pane] & (used < self.most[None, :]), wish, -1)
        stock = wish.argmax(axis=1)
        slot = (state.stock[who] >= 0).argmin(axis=1)
        ok = (wish[np.arange(len(who)), stock] >= 0) & (state.stock[who, slot] < 0)
        mine, stock, slot = who[ok], stock[ok], slot[ok]
        at = state.rectangles[mine]
        state.stock[mine, slot] = stock
        state.used[mine, slot] = 0
        state.left[mine, at] = 0
        state.bottom[mine, at] = 0
        state.width[mine, at] = self.stock_wide[stock]
        state.height[mine, at] = self.stock_high[stock]
        state.sheet[mine, at] = slot
        state.rectangles[mine] += 1
        return ok

    def _lying(self, state: State, who: Array, pane: Array) -> Array:
        stock = state.stock[who, state.sheet[who, state.rectangles[who] - 1]]
        upright, turned = self.fits_upright[pane, stock], self.fits_turned[pane, stock]
        return turned & (~upright | (self.chance.random(len(who)) < 0.5))

    def _place(self, state: State, who: Array, pane: Array, which: Array, lies: Array) -> None:
        pane, which, lies = pane[who], which[who], lies[who]
        w = np.where(lies, self.turned_wide[pane], self.wide[pane])
        h = np.where(lies, self.turned_high[pane], self.high[pane])
        left, bottom = state.left[who, which], state.bottom[who, which]
        width, height = state.width[who, which], state.height[who, which]
        slot = state.sheet[who, which]
        state.on[who, pane] = slot
        state.pane_left[who, pane], state.pane_bottom[who, pane] = left, bottom
        state.turned[who, pane] = lies
        state.used[who, slot] += self.area[pane]
        right, above = width - w, height - h
        # the cut that leaves the larger of the two rests whole, mostly
        upright = right * height.astype(np.float64) > above * width.astype(np.float64)
        upright ^= state.bent[who, pane]
        state.left[who, which] = left + w
        state.width[who, which] = right
        state.height[who, which] = np.where(upright, height, h)
        at = state.rectangles[who]
        state.left[who, at] = left
        state.bottom[who, at] = bottom + h
        state.width[who, at] = np.where(upright, w, width)
        state.height[who, at] = above
        state.sheet[who, at] = slot
        state.rectangles[who] += 1

    def remove(self, state: State, sheets: Array) -> tuple[Array, Array]:
        """Empty sheets (a mask, plan by sheet); return the mask of removed panes and how many."""
        sheets = sheets & (state.stock >= 0)
        gone = np.take_along_axis(sheets, np.maximum(state.on, 0).astype(np.int64), axis=1) & (state.on >= 0)
        gone |= state.on < 0
        reach = int(state.rectangles.max())
        live = np.arange(reach)[None, :] < state.rectangles[:, None]
        live &= ~np.take_along_axis(sheets, state.sheet[:, :reach].astype(np.int64), axis=1)
        live &= np.minimum(state.width[:, :reach], state.height[:, :reach]) >= self.least
        order = np.argsort(~live, axis=1, kind="stable")
        state.rectangles[:] = live.sum(axis=1)
        short = int(state.rectangles.max())
        order = order[:, :short]
        beyond = np.arange(short)[None, :] >= state.rectangles[:, None]
        for array in (state.left, state.bottom, state.width, state.height, state.sheet):
            array[:, :short] = np.take_along_axis(array[:, :reach], order, axis=1)
            array[:, short:reach] = 0
        state.width[:, :short][beyond] = 0
        state.on[gone] = -1
        state.stock[sheets] = -1
        state.used[sheets] = 0
        return gone, gone.sum(axis=1)

    def value(self, state: State) -> Array:
        """Weigh plans: what their sheets count, those that are nearly full hardly, and much for panes that lie nowhere.

        A large rectangle left in one piece counts a little for a plan.
        """
        alive = state.stock >= 0
        kinds = np.maximum(state.stock, 0)
        weight = np.take_along_axis(self.weights, kinds.astype(np.int64), axis=1)
        fill = state.used / self.stock_area[kinds]
        out = ((state.on < 0) * self.area[None, :]).sum(axis=1) / self.stock_area.max()
        return (np.where(alive, weight * (1.02 - fill * fill), 0).sum(axis=1) + 9 * out
                - 0.1 * self.largest_left(state) / self.stock_area.max())

    def largest_left(self, state: State) -> Array:
        """Return the largest free rectangle of each plan that is worth keeping, as an area."""
        reach = int(state.rectangles.max())
        width, height = state.width[:, :reach], state.height[:, :reach]
        area = width.astype(np.float64) * height
        area[np.minimum(width, height) < self.keep] = 0
        area[np.arange(reach)[None, :] >= state.rectangles[:, None]] = 0
        return area.max(axis=1, initial=0)

    def _prepare(self) -> None:
        """Give each plan of the crowd its ways: what is inserted first, where, and which cut is made first."""
        longer = np.maximum(self.wide, self.high).astype(np.float32)
        by: list[Array] = [self.area.astype(np.float32) ** np.float32(0.5), longer,
                           (self.wide + self.high).astype(np.float32),
                           np.minimum(self.wide, self.high).astype(np.float32)]
        stacked: Array = np.stack([by[row % 4] for row in range(self.plans)])
        self.first_keys: Array = np.log(stacked)
        self.by_area = (np.array([0, 1, 0.2, 5])[(self.rows // 4) % 4] / float(longer.mean())).astype(np.float32)
        self.flips = np.array([0.02, 0.1, 0.25, 0.9])[(self.rows // 16) % 4]

    def _changed(self, state: State, step: int) -> None:
        """Change the order of some panes, and which cut comes first at them."""
        shape = (self.plans, self.panes)
        rate = (0.02 + 0.5 * self.chance.random((self.plans, 1), dtype=np.float32) ** 3)
        some: Array = self.chance.random(shape, dtype=np.float32) < rate
        state.keys += some * self.chance.standard_normal(shape, dtype=np.float32) * np.float32(0.35)
        # an order that strayed comes back a little to that by size
        state.keys += np.float32(0.03) * (self.first_keys - state.keys)
        state.bent ^= self.chance.random(shape, dtype=np.float32) < 0.5 * rate * (state.bent + 0.3)

    def run(
        self, effort: float, seen: Callable[[State, Any], bool],
        sets_of: Callable[[Array], list[list[Layout]]] | None = None,
    ) -> None:
        """Improve until so much effort is spent.

        seen: told of each state and which plans hold every pane; ends it. sets_of: asked three times for sheets to
        begin anew with, a set for each row of weights.
        """
        plans = self.plans
        anew = 0
        self.spent = 0.0
        state = self.started()
        everything = state.on < 0
        self.insert(state, self._order(state, everything), everything.sum(axis=1), np.zeros(plans, dtype=np.float32))
        value = self.value(state)
        if seen(state, (state.on >= 0).all(axis=1)):
            return
        heat0 = HEAT * float(np.median(self.weights.max(axis=1)))
        step = 0
        while self.spent < effort:
            heat = heat0 * (1 - self.spent / effort) ** 2
            tried = state.copied()
            gone, counts = self.remove(tried, self._ruined(tried))
            self._changed(tried, step)
            sharp = (self.chance.random(plans) < 0.3) * np.float32(0.6) * self.chance.random(plans, dtype=np.float32)
            self.insert(tried, self._order(tried, gone), counts, sharp.astype(np.float32))
            new = self.value(tried)
            if seen(tried, (tried.on >= 0).all(axis=1)):
                return
            accepted: Array = new <= value + heat * self.chance.exponential(size=plans)
            state.copy_rows(tried, accepted, accepted)
            value = np.where(accepted, new, value)
            step += 1
            self.spent += 900 + 0.12 * self.plans * self.panes
            if step % 15 == 0:
                self._follow(state, value)
            if sets_of is not None and self.spent > (anew + 1) * effort / 4:
                anew += 1
                value = self._renewed(state, value, sets_of)
                if seen(state, (state.on >= 0).all(axis=1)):
                    return

    def _renewed(self, state: State, value: Array, sets_of: Callable[[Array], list[list[Layout]]]) -> Array:
        """Let the last third of the crowd begin anew with sheets from other plans."""
        rows = np.argsort(value, kind="stable")[-(self.plans // 3):]
        everything = np.zeros((self.plans, self.sheets), dtype=np.bool_)
        everything[rows] = True
        self.remove(state, everything)
        for row, layouts in zip(rows.tolist(), sets_of(self.weights[rows]), strict=True):
            self._begin(state, row, layouts)
        gone = state.on < 0
        self.insert(state, self._order(state, gone), gone.sum(axis=1), np.zeros(self.plans, dtype=np.float32))
        return self.value(state)

    @staticmethod
    def _order(state: State, gone: Array) -> Array:
        return np.argsort(np.where(gone, -state.keys, np.float32(99)), axis=1, kind="stable")

    def started(self) -> State:
        """Return the first state: a few plans begin with sheets that blocks without waste fill, the rest empty."""
        state = self.empty()
        for row, layouts in enumerate(self.begin_with):
            if row < self.plans:
                self._begin(state, row * 7 % self.plans, layouts)
        return state

    def _begin(self, state: State, row: int, layouts: Sequence[Layout]) -> None:
        unplaced = {want: list(np.nonzero(self.want == want)[0]) for want in range(len(self.wants))}
        for slot, layout in enumerate(layouts[:self.sheets]):
            state.stock[row, slot] = layout.stock
            for piece in layout.placed:
                pane = unplaced[piece.want].pop()
                state.on[row, pane] = slot
                state.pane_left[row, pane], state.pane_bottom[row, pane] = piece.left, piece.bottom
                state.turned[row, pane] = piece.turned
                state.used[row, slot] += self.area[pane]

    def _ruined(self, state: State) -> Array:
        alive = state.stock >= 0
        fill = state.used / self.stock_area[np.maximum(state.stock, 0)]
        wish = self.chance.random(alive.shape) - 0.7 * fill
        wish[~alive] = -9
        many = 1 + self.chance.integers(0, 4, size=self.plans)
        rank = np.argsort(np.argsort(-wish, axis=1), axis=1)
        return (rank < many[:, None]) & alive

    def _follow(self, state: State, value: Array) -> None:
        """Let the last tenth of each group of plans of one weighing become copies of its first tenth."""
        groups: dict[bytes, list[int]] = {}
        for row in range(self.plans):
            groups.setdefault(self.weights[row].tobytes(), []).append(row)
        for rows in groups.values():
            mine = np.array(rows)
            ranked = mine[np.argsort(value[mine], kind="stable")]
            tenth = len(ranked) // 8
            if tenth:
                state.copy_rows(state, ranked[-tenth:], ranked[:tenth])
                value[ranked[-tenth:]] = value[ranked[:tenth]]

    def layouts(self, state: State, row: int) -> list[Layout]:
        """Return one plan of the crowd."""
        return [self.layout(state, row, slot) for slot in np.nonzero(state.stock[row] >= 0)[0].tolist()]

    def layout(self, state: State, row: int, slot: int) -> Layout:
        """Return one sheet of one plan."""
        pieces = []
        for pane in np.nonzero(state.on[row] == slot)[0].tolist():
            want, turned = int(self.want[pane]), bool(state.turned[row, pane])
            width, height = self.wants[want].width, self.wants[want].height
            if turned:
                width, height = height, width
            pieces.append(Placed(want, int(state.pane_left[row, pane]), int(state.pane_bottom[row, pane]), width,
                                 height, turned))
        return Layout(int(state.stock[row, slot]), tuple(pieces))
