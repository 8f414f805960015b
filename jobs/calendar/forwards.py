"""One stretch on one bench on one day, forwards: each work at the first start that leaves the rest a place.

Hands as preferred; a mixing that is there and may be shared, or a new one as late as it may be.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from jobs.calendar.ground import DAY_SLOTS, StretchShape, UseShape, runs
from jobs.calendar.places import Hands, Masks, MixPlace, StretchPlace

if TYPE_CHECKING:
    from jobs.calendar.placing import Placing


class Forwards:
    """One stretch on one bench on one day: works in order, each as early as may be, tried until all of it fits."""

    def __init__(self, placing: Placing, shape: StretchShape, day: int, bench: int, masks: Masks,
                 starts: list[int]) -> None:
        self.placing, self.shape, self.first_slot, self.bench = placing, shape, day * DAY_SLOTS, bench
        self.day, self.masks, self.starts = day, masks, starts
        self.bits = placing.room.benches[bench][day]
        self.works: list[tuple[int, Hands]] = []
        self.mixes: list[MixPlace] = []
        self.busy = [0] * len(placing.ground.people)
        self.steps = 0

    def first(self) -> StretchPlace | None:
        """Return the first that fits, None where none was found in so many steps."""
        candidates = self.starts[0]
        while candidates:
            lowest = candidates & -candidates
            candidates ^= lowest
            self.steps = 0
            if self._work(0, lowest):
                start = self.first_slot + self.works[0][0]
                end = self.first_slot + self.works[-1][0] + self.shape.works[-1].length
                works = tuple((self.first_slot + slot, hands) for slot, hands in self.works)
                return StretchPlace(self.shape, self.bench, works, tuple(self.mixes), start, end)
        return None

    def _work(self, at: int, candidates: int) -> bool:
        """Place work `at` at one of the candidates and all after it."""
        shape = self.shape
        if at == len(shape.works):
            return all(self._safe(mix) for mix in self.mixes)
        work = shape.works[at]
        uses = [use for use in shape.uses if use.first == at]
        while candidates:
            lowest = candidates & -candidates
            candidates ^= lowest
            slot = lowest.bit_length() - 1
            for hands, bits in self.masks[at]:
                if not bits & lowest:
                    continue
                self.steps += 1
                if self.steps > self.placing.most_steps:
                    return False
                mixed, busy = len(self.mixes), list(self.busy)
                if not all(self._mix(use, slot) for use in uses):
                    del self.mixes[mixed:]
                    self.busy = busy
                    break  # whose hands do this work changes nothing before it
                for person in hands:
                    self.busy[person] |= ((1 << work.length) - 1) << slot
                self.works.append((slot, hands))
                if self._work(at + 1, self._next(at, slot + work.length)):
                    return True
                self.works.pop()
                del self.mixes[mixed:]
                self.busy = busy
        return False

    def _next(self, at: int, end: int) -> int:
        """Return where the work after `at` may start, on a bench that stays this stretch's."""
        if at + 1 == len(self.shape.works):
            return 0
        work = self.shape.works[at]
        taken = ~self.bits >> end
        gap = min(work.most, (taken & -taken).bit_length() - 1) if taken else work.most
        if gap < work.least:
            return 0
        return self.starts[at + 1] & ((1 << (gap + 1)) - (1 << work.least)) << end

    def _mix(self, use: UseShape, slot: int) -> bool:
        """Find a mixing for a use at a slot: one that is there, or a new one as late as it may be."""
        placing, shape, ground = self.placing, self.shape, self.placing.ground
        kind, when = ground.kinds[use.kind], self.first_slot + slot
        for joins, batch in enumerate(placing.room.batches[use.kind]):
            if batch[1] <= when <= batch[1] + use.gap and placing.may_join(shape, use, batch):
                if kind.safe_within is not None and batch[0] // DAY_SLOTS != self.day:
                    continue
                self.mixes.append(MixPlace(use, joins, batch[0], batch[2]))
                return True
        low, high = max(when - use.gap - kind.length, shape.mix_from, 0), when - kind.length
        days = [self.day] if kind.safe_within is not None else range(self.day, max(low, 0) // DAY_SLOTS - 1, -1)
        for day in days:
            first = day * DAY_SLOTS
            if high < first:
                continue
            below, best, who = max(low - first, 0), -1, -1
            for person in kind.hands:
                free = placing.room.free[person][day]
                if day == self.day:
                    free &= ~self.busy[person]
                bits = ground.within(runs(free, kind.length), person, kind.length, day)
                bits = (bits & ((1 << (high - first + 1)) - 1)) >> below << below
                if bits.bit_length() - 1 > best:
                    best, who = bits.bit_length() - 1, person
            if best >= 0:
                if day == self.day:
                    self.busy[who] |= ((1 << kind.length) - 1) << best
                self.mixes.append(MixPlace(use, None, first + best, who))
                return True
        return False

    def _safe(self, mix: MixPlace) -> bool:
        kind, safe = self.placing.ground.kinds[mix.use.kind], mix.use.safe
        if kind.safe_within is None:
            return True
        if safe is None:
            return False
        end = self.works[safe][0] + self.shape.works[safe].length + self.first_slot
        return end - mix.start <= kind.safe_within
