"""A studio's calendar as bits: of each person and bench, a bit for every five minutes of a day that is free.

What is asked stands here in slots of five minutes, people and benches and mixes by number, helper before owner. A
`Room` is how much of it is still free; whatever is taken is written on a trail, so that it can be given back.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from jobs.calendar.asked import DAY_MINUTES, GRID_MINUTES, CalendarAsked, LoadAsked, MixAsked, StretchAsked, WorkAsked

DAY_SLOTS = DAY_MINUTES // GRID_MINUTES
DAY_BITS = (1 << DAY_SLOTS) - 1
#: later than anything
NEVER = 1 << 40


def slots_up(minutes: int) -> int:
    return -(-minutes // GRID_MINUTES)


@lru_cache(maxsize=1 << 17)
def runs(bits: int, length: int) -> int:
    """Return the slots at which `length` free ones begin."""
    done = 1
    while done * 2 <= length:
        bits &= bits >> done
        done *= 2
    return bits & bits >> (length - done) if done < length else bits


def spread(bits: int, times: int) -> int:
    """Return the slots reached from a given one by going on by 0 to `times` - 1."""
    done = 1
    while done * 2 <= times:
        bits |= bits << done
        done *= 2
    return bits | bits << (times - done) if done < times else bits


@dataclass(frozen=True, slots=True)
class WorkShape:
    """A work in slots. hands: whose hands may do it, those preferred first."""

    length: int
    hands: tuple[tuple[int, ...], ...]
    never_alone: bool
    least: int
    most: int


@dataclass(frozen=True, slots=True)
class UseShape:
    """A use of a mix. gap: at most so long from the end of the mixing to its first work, whatever else holds."""

    kind: int
    ml: int
    first: int
    safe: int | None
    gap: int


@dataclass(frozen=True, slots=True)
class KindShape:
    length: int
    hands: tuple[int, ...]
    keeps: int
    most_ml: int
    shared: str
    safe_within: int | None


@dataclass(frozen=True, slots=True)
class StretchShape:
    """A stretch in slots. number: its place among all. longest: from its first start to its last end at most.

    offset: minutes by which a pinned start is off the grid; then each of its works touches a slot more.
    """

    number: int
    asked: StretchAsked
    load: LoadAsked
    works: tuple[WorkShape, ...]
    uses: tuple[UseShape, ...]
    earliest: int
    latest: int
    least: int
    most: int | None
    longest: int
    mix_from: int
    pinned: tuple[int, int] | None
    offset: int


#: a mixing in slots: start, end, whose hands, millilitres, jobs it may serve, stretches it serves
Batch = tuple[int, int, int, int, tuple[str, ...], tuple[int, ...]]


class Ground:
    """What is asked, in slots. loads: all that may be placed, of further jobs too."""

    def __init__(self, asked: CalendarAsked) -> None:
        self.asked = asked
        everybody = sorted(asked.people, key=lambda person: person.role == "owner")
        self.people = tuple(person.name for person in everybody)
        self.roles = tuple(person.role for person in everybody)
        self.owners = frozenset(at for at, person in enumerate(everybody) if person.role == "owner")
        ends = [person.hours[-1].end_minute for person in everybody if person.hours]
        self.days = max(asked.days, 1, *map(day_after, ends))
        self.hours = [[0] * self.days for _ in everybody]
        self.seams = [[0] * self.days for _ in everybody]
        now = slots_up(asked.now_minute)
        for at, person in enumerate(everybody):
            for spell in person.hours:
                low, high = max(slots_up(spell.start_minute), now), spell.end_minute // GRID_MINUTES
                for day in range(low // DAY_SLOTS, slots_up(spell.end_minute) // DAY_SLOTS + 1):
                    first, last = max(low - day * DAY_SLOTS, 0), min(high - day * DAY_SLOTS, DAY_SLOTS)
                    if first < last:
                        bits = (1 << last) - (1 << first)
                        if first and self.hours[at][day] >> (first - 1) & 1:
                            self.seams[at][day] |= 1 << first
                        self.hours[at][day] |= bits
        self.open_days = [day for day in range(self.days) if any(hours[day] for hours in self.hours)]
        self.benches = asked.benches
        self.now = now
        self.kinds = tuple(map(self._kind, asked.mixes))
        self.kind_of = {kind.key: at for at, kind in enumerate(asked.mixes)}
        #: what was found for a stretch on a day in a state (`placing`)
        self.remembered: dict[tuple[object, ...], object] = {}
        self._company: dict[tuple[int, int, int], int] = {}
        self.jobs = {job.id: job for job in asked.jobs}
        self.loads = list(asked.loads)
        for ask in asked.asks:
            self.jobs[ask.job.id] = ask.job
            self.loads += ask.loads
        self.stretches: list[StretchShape] = []
        self.chains: list[tuple[StretchShape, ...]] = []
        for load in self.loads:
            self.chains.append(tuple(self._stretch(stretch, load) for stretch in load.stretches))
        self.before = {job.id: tuple(map(self.work, job.before)) for job in self.jobs.values()}
        self.after = {job.id: tuple(map(self.work, job.after)) for job in self.jobs.values()}
        self.loads_of: dict[str, list[int]] = {job: [] for job in self.jobs}
        for at, load in enumerate(self.loads):
            for job in load.jobs:
                self.loads_of[job].append(at)

    def _kind(self, mix: MixAsked) -> KindShape:
        return KindShape(
            slots_up(mix.minutes), self._one(mix.owner), mix.keeps_minutes // GRID_MINUTES, mix.most_ml, mix.shared,
            None if mix.safe_within_minutes is None else mix.safe_within_minutes // GRID_MINUTES,
        )

    def _one(self, owner: bool) -> tuple[int, ...]:
        return tuple(at for at in range(len(self.people)) if not owner or at in self.owners)

    def work(self, work: WorkAsked) -> WorkShape:
        hands = tuple(
            some for some in combinations(range(len(self.people)), work.hands)
            if (not work.owner or self.owners & set(some))
            and (not work.by or any(self.roles[at] == work.by for at in some))
        )
        return WorkShape(slots_up(work.minutes), hands, work.never_alone and work.hands < 2,
                         slots_up(work.wait_least_minutes), work.wait_most_minutes // GRID_MINUTES)

    def _stretch(self, stretch: StretchAsked, load: LoadAsked) -> StretchShape:
        works = tuple(map(self.work, stretch.works))
        uses = []
        for use in sorted(stretch.mixes, key=lambda use: use.first_work):
            kind = self.kinds[self.kind_of[use.key]]
            gap = kind.keeps
            if kind.safe_within is not None:
                if use.safe_work is None:
                    gap = -1
                else:
                    rest = works[use.first_work:use.safe_work + 1]
                    least = sum(work.length for work in rest) + sum(work.least for work in rest[:-1])
                    gap = min(gap, kind.safe_within - kind.length - least)
            if use.ml > kind.most_ml:
                gap = -1
            uses.append(UseShape(self.kind_of[use.key], use.ml, use.first_work, use.safe_work, gap))
        pin = stretch.pinned
        shape = StretchShape(
            number=len(self.stretches), asked=stretch, load=load, works=works, uses=tuple(uses),
            earliest=max(slots_up(stretch.earliest_minute or 0), self.now),
            latest=NEVER if stretch.latest_minute is None else stretch.latest_minute // GRID_MINUTES,
            least=slots_up(stretch.wait_least_minutes),
            most=None if stretch.wait_most_minutes is None else stretch.wait_most_minutes // GRID_MINUTES,
            longest=sum(work.length for work in works) + sum(work.most for work in works[:-1]),
            mix_from=max(self.now, *(slots_up(self.jobs[job].earliest.bench_minute) for job in load.jobs)),
            pinned=None if pin is None else (
                pin.start_minute // GRID_MINUTES, self.benches.index(pin.bench) if pin.bench in self.benches else -1),
            offset=0 if pin is None else pin.start_minute % GRID_MINUTES,
        )
        self.stretches.append(shape)
        return shape

    def company(self, person: int, length: int, day: int) -> int:
        """Return the slots at which somebody else's spell holds a work of that length."""
        known = self._company.get((person, length, day))
        if known is None:
            known = 0
            for other, hours in enumerate(self.hours):
                if other != person:
                    known |= self.within(runs(hours[day], length), other, length, day)
            self._company[person, length, day] = known
        return known

    def within(self, starts: int, person: int, length: int, day: int) -> int:
        """Return the starts of which no work of that length runs from one spell into the next that touches it."""
        seams = self.seams[person][day]
        if seams and starts:
            for ahead in range(1, length):
                starts &= ~(seams >> ahead)
        return starts


def day_after(minute: int) -> int:
    return -(-minute // DAY_MINUTES)


class Room:
    """What is free: bits by person and day, by bench and day; the mixings by kind."""

    __slots__ = ("batches", "benches", "free", "trail")

    def __init__(self, free: list[list[int]], benches: list[list[int]], batches: list[tuple[Batch, ...]]) -> None:
        self.free, self.benches, self.batches = free, benches, batches
        self.trail: list[tuple[list[int] | list[tuple[Batch, ...]], int, int | tuple[Batch, ...]]] = []

    @classmethod
    def of(cls, ground: Ground) -> Room:
        return cls([list(hours) for hours in ground.hours], [[DAY_BITS] * ground.days for _ in ground.benches],
                   [()] * len(ground.kinds))

    def copy(self) -> Room:
        return Room([list(days) for days in self.free], [list(days) for days in self.benches], list(self.batches))

    def take(self, days: list[int], start: int, length: int) -> None:
        """Take slots of one day out of what is free."""
        day, slot = divmod(start, DAY_SLOTS)
        self.trail.append((days, day, days[day]))
        days[day] &= ~(((1 << length) - 1) << slot)

    def put(self, kind: int, batches: tuple[Batch, ...]) -> None:
        self.trail.append((self.batches, kind, self.batches[kind]))
        self.batches[kind] = batches

    def back_to(self, mark: int) -> None:
        """Give back all that was taken since the trail was so long."""
        trail = self.trail
        while len(trail) > mark:
            where, at, what = trail.pop()
            where[at] = what  # type: ignore[assignment]
