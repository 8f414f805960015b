"""The earliest place for one work or one stretch in what is still free, all rules kept.

A stretch lies within one day. Backwards from its last work, bits say where each work may start so that the rest still
fits; forwards the first such start is taken, hands as preferred, each mix as late as it may be.
"""

from __future__ import annotations

from bisect import bisect_left

from jobs.calendar.forwards import Forwards
from jobs.calendar.ground import (
    DAY_BITS,
    DAY_SLOTS,
    NEVER,
    Batch,
    Ground,
    Room,
    StretchShape,
    UseShape,
    WorkShape,
    runs,
    spread,
)
from jobs.calendar.places import Hands, Masks, StretchPlace

#: so many days in so many states are remembered
MOST_REMEMBERED = 60000


class Placing:
    """Finds places in a room and takes them. most_steps: how long it looks within one day of one bench."""

    def __init__(self, ground: Ground, room: Room, most_steps: int = 120) -> None:
        self.ground, self.room, self.most_steps = ground, room, most_steps

    def free_for(self, work: WorkShape, day: int, wider: int = 0) -> list[tuple[Hands, int]]:
        """Return who may begin a work when on a day. wider: slots more that it touches."""
        free, ground, length, found = self.room.free, self.ground, work.length + wider, []
        for hands in work.hands:
            starts = DAY_BITS
            for person in hands:
                starts &= runs(free[person][day], length)
                if ground.seams[person][day]:
                    starts = ground.within(starts, person, length, day)
            if work.never_alone and starts:
                starts &= ground.company(hands[0], length, day)
            if starts:
                found.append((hands, starts))
        return found

    def place_work(self, work: WorkShape, low: int) -> tuple[int, Hands] | None:
        """Take the earliest start of a work on no bench, from `low` on; None where there is none."""
        if not work.length and work.hands:
            return low, work.hands[0]
        open_days = self.ground.open_days
        for day in open_days[bisect_left(open_days, low // DAY_SLOTS):]:
            shift = low - day * DAY_SLOTS
            best, who = NEVER, None
            for hands, starts in self.free_for(work, day):
                if shift > 0:
                    starts = starts >> shift << shift
                if starts and (first := (starts & -starts).bit_length() - 1) < best:
                    best, who = first, hands
            if who is not None:
                for person in who:
                    self.room.take(self.room.free[person], day * DAY_SLOTS + best, work.length)
                return day * DAY_SLOTS + best, who
        return None

    def find(self, shape: StretchShape, low: int, high: int = NEVER) -> StretchPlace | None:
        """Return the earliest place of a stretch that starts from `low` to `high`; nothing is taken."""
        low, high = max(low, shape.earliest), min(high, shape.latest)
        if shape.pinned:
            low, high = max(low, shape.pinned[0]), min(high, shape.pinned[0])
        open_days = self.ground.open_days
        for day in open_days[bisect_left(open_days, low // DAY_SLOTS):]:
            first = day * DAY_SLOTS
            if first > high or low > high:
                return None
            place = self._on_day(shape, day, max(low - first, 0), min(high - first, DAY_SLOTS - 1))
            if place:
                return place
        return None

    def starts(self, shape: StretchShape, day: int, bench: int, low: int, high: int) -> list[int] | None:
        """Return for each work the slots of a day at which it may start on a bench; None where the stretch has none."""
        anybody = self._anybody(shape, day)
        if anybody is None:
            return None
        starts = self._backwards(shape, anybody[1], self.room.benches[bench][day])
        starts[0] &= ((1 << (high + 1)) - 1) >> low << low
        return starts if starts[0] else None

    def _anybody(self, shape: StretchShape, day: int) -> tuple[Masks, list[int]] | None:
        """Return for each work who may begin it when, and when anybody may; None where there is no place for one."""
        masks: Masks = []
        anybody: list[int] = []
        for work in shape.works:
            some = self.free_for(work, day, 1 if shape.offset else 0)
            if not some:
                return None
            masks.append(some)
            starts = 0
            for _, bits in some:
                starts |= bits
            anybody.append(starts)
        for use in shape.uses:
            if use.gap < 0:
                return None
            anybody[use.first] &= self._usable(shape, use, day)
            if not anybody[use.first]:
                return None
        return masks, anybody

    def _on_day(self, shape: StretchShape, day: int, low: int, high: int) -> StretchPlace | None:
        """Return the first place on a day; what was found for the same day in the same state is remembered."""
        ground, room, first = self.ground, self.room, day * DAY_SLOTS
        state: list[object] = [shape.number, day, low, high, *(days[day] for days in room.benches)]
        state += [free[day] for free in room.free]
        for use in shape.uses:
            kind = ground.kinds[use.kind]
            if kind.safe_within is None:
                back = self._days_back(use, day)
                state += [days[one] for days in room.free for one in range(day - back, day)]
            if kind.shared != "no":
                state += [(at, batch) for at, batch in enumerate(room.batches[use.kind])
                          if first - kind.keeps <= batch[1] < first + DAY_SLOTS]
        key = tuple(state)
        if key not in ground.remembered:
            if len(ground.remembered) > MOST_REMEMBERED:
                ground.remembered.clear()
            ground.remembered[key] = self._anew_on_day(shape, day, low, high)
        return ground.remembered[key]  # type: ignore[return-value]

    def _days_back(self, use: UseShape, day: int) -> int:
        """Return how many days before a use its mixing may be."""
        kind = self.ground.kinds[use.kind]
        return 0 if kind.safe_within is not None else min(-(-(use.gap + kind.length) // DAY_SLOTS), day)

    def _anew_on_day(self, shape: StretchShape, day: int, low: int, high: int) -> StretchPlace | None:
        found = self._anybody(shape, day)
        if found is None:
            return None
        masks, anybody = found
        within = ((1 << (high + 1)) - 1) >> low << low
        best: StretchPlace | None = None
        for bench, days in enumerate(self.room.benches):
            if not days[day] or (shape.pinned and shape.pinned[1] != bench):
                continue
            at = self._backwards(shape, anybody, days[day])
            at[0] &= within
            if best:
                at[0] &= (1 << (best.start - day * DAY_SLOTS)) - 1
            if at[0]:
                best = Forwards(self, shape, day, bench, masks, at).first() or best
        return best

    def _backwards(self, shape: StretchShape, anybody: list[int], bench: int) -> list[int]:
        """Return for each work the slots at which it may start so that the rest of its stretch fits on the bench."""
        wider = 1 if shape.offset else 0
        last = shape.works[-1]
        starts = [anybody[-1] & runs(bench, last.length + wider)]
        for at in range(len(shape.works) - 2, -1, -1):
            work = shape.works[at]
            reach, found = starts[0], 0
            for gap in range(work.most + 1):
                if gap:
                    reach = reach >> 1 & bench
                if gap >= work.least:
                    found |= reach
                if not reach:
                    break
            starts.insert(0, anybody[at] & runs(bench, work.length + wider) & found >> work.length)
        return starts

    def _usable(self, shape: StretchShape, use: UseShape, day: int) -> int:
        """Return the slots of a day at which some mixing, there or possible, may be used, roughly: none is left out."""
        kind, first = self.ground.kinds[use.kind], day * DAY_SLOTS
        back = self._days_back(use, day)
        begin = first - back * DAY_SLOTS
        starts = 0
        for person in kind.hands:
            for one in range(day - back, day + 1):
                bits = runs(self.room.free[person][one], kind.length)
                if bits:
                    bits = self.ground.within(bits, person, kind.length, one)
                    starts |= bits << (one * DAY_SLOTS - begin)
        if (shift := shape.mix_from - begin) > 0:
            starts = starts >> shift << shift
        usable = spread(starts << kind.length, use.gap + 1) >> (back * DAY_SLOTS) & DAY_BITS
        for batch in self.room.batches[use.kind]:
            if self.may_join(shape, use, batch) and batch[1] + use.gap >= first and batch[1] < first + DAY_SLOTS:
                low, high = max(batch[1] - first, 0), min(batch[1] + use.gap - first, DAY_SLOTS - 1)
                usable |= ((1 << (high + 1)) - 1) >> low << low
        return usable

    def may_join(self, shape: StretchShape, use: UseShape, batch: Batch) -> bool:
        """Say whether a mixing's sharing, size and start let a stretch use it too."""
        kind = self.ground.kinds[use.kind]
        return (
            kind.shared != "no" and batch[3] + use.ml <= kind.most_ml and batch[0] >= shape.mix_from
            and (kind.shared == "jobs" or sorted(batch[4]) == sorted(shape.load.jobs))
        )

    def take(self, place: StretchPlace) -> None:
        """Take a place that was found: hands, bench, mixings."""
        room, shape, wider = self.room, place.shape, 1 if place.shape.offset else 0
        for (start, hands), work in zip(place.works, shape.works, strict=True):
            for person in hands:
                room.take(room.free[person], start, work.length + wider)
        room.take(room.benches[place.bench], place.start, place.end + wider - place.start)
        for mix in place.mixes:
            batches, kind = room.batches[mix.use.kind], self.ground.kinds[mix.use.kind]
            if mix.joins is None:
                room.take(room.free[mix.person], mix.start, kind.length)
                made = (mix.start, mix.start + kind.length, mix.person, mix.use.ml, shape.load.jobs, (shape.number,))
                room.put(mix.use.kind, (*batches, made))
            else:
                old = batches[mix.joins]
                more = (*old[:3], old[3] + mix.use.ml, old[4], (*old[5], shape.number))
                room.put(mix.use.kind, (*batches[:mix.joins], more, *batches[mix.joins + 1:]))
