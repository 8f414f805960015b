"""When each load starts, so that no pair of hands is needed twice at once and no dwell runs over that must not.

A load goes through *stretches*: steps that follow each other at once, because the glass between them is
wet and a dwell must not run over. A stretch ends with a step that dries the pane, or inspects it: after
that the load may wait. In a stretch everything is fixed but its start. Hands and benches are limited:
a step's work, and an attended dwell, needs one pair of hands; a stretch needs a bench from its first
minute to its last; what dries stands in a rack. Job set-up, cutting and packing happen outside.

Mixing is work of hands (`Mix.minutes`), before the step that uses the mix. What is mixed for the job comes first: one
pair of hands mixes it, one mix after the other, and the loads begin after it. What is mixed for a load is mixed before
its step, but wet glass never waits for it: where a dwell, or a step that puts on what works on the glass, stands
between in the same stretch, it is mixed before that. What is mixed pane by pane is mixed in its step, once per pane.

Making safe stands straight after the last silver rinse of each load (`bench_rules.in_bench_order`) and waits for
nothing: where the step before it leaves the pane to dry, it is done while the pane dries, and the bench stays taken
until it is over.

Small cases are solved exactly by branching over who comes first in each clash (minimal forbidden sets;
De Reyck and Herroelen, European Journal of Operational Research 111 (1998) 152-174): earliest starts are
longest paths, a clash is resolved in every possible way, and what cannot beat the best so far is not followed.
Larger ones keep the best of several first-come orders, and of as much of that search as its limit allows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import lcm

from jobs.estimating.basis import House
from jobs.estimating.hand_order import may_wait_after, mixed_before
from jobs.estimating.loads import Load
from jobs.estimating.mixes import Mix
from recipes.facts import RecipeFacts, StepFacts
from recipes.step_kinds import kind_of

MOST_NODES = 300
#: Beyond so many stretches the search is not begun: the best of the first-come orders stands.
MOST_STRETCHES = 40
HANDS, BENCH = "hands", "bench"


@dataclass(frozen=True)
class Task:
    """A time in which a stretch holds a resource: from `offset` after its start, for `length`."""

    resource: str
    offset: int
    length: int


@dataclass(frozen=True)
class Stretch:
    """Steps of one chain that follow each other at once. wait: at least so long after it before the chain goes on."""

    chain: int
    length: int
    wait: int
    tasks: tuple[Task, ...]


@dataclass(frozen=True)
class Starts:
    """A start for each stretch, when all is over, and whether no timetable is over sooner."""

    at: tuple[int, ...]
    over: int
    proved: bool


@lru_cache(maxsize=128)
def _scheduled(stretches: tuple[Stretch, ...], hands: int, benches: int) -> Starts:
    return schedule(stretches, {HANDS: hands, BENCH: benches})


def schedule(stretches: Sequence[Stretch], capacity: Mapping[str, int], most_nodes: int = MOST_NODES) -> Starts:
    """Return starts that keep every chain's order, every wait and every capacity, over as soon as can be found."""
    if not stretches:
        return Starts((), 0, True)
    best: tuple[int, ...] | None = None
    for order in _orders(stretches):
        starts = _first_come(stretches, capacity, order)
        if best is None or _over(stretches, starts) < _over(stretches, best):
            best = starts
    assert best is not None
    if len(stretches) > MOST_STRETCHES:
        return Starts(best, _over(stretches, best), False)
    search = _Search(stretches, capacity, best, most_nodes)
    search.run()
    return Starts(search.best, search.over, search.finished or search.over == search.floor)


def _over(stretches: Sequence[Stretch], starts: Sequence[int]) -> int:
    return max(start + stretch.length + stretch.wait for start, stretch in zip(starts, stretches, strict=True))


def _chains(stretches: Sequence[Stretch]) -> dict[int, list[int]]:
    chains: dict[int, list[int]] = {}
    for at, stretch in enumerate(stretches):
        chains.setdefault(stretch.chain, []).append(at)
    return chains


def _orders(stretches: Sequence[Stretch]) -> Iterator[list[int]]:
    """Yield orders in which stretches are placed: load after load, turn about, and what has most still before it."""
    chains = list(_chains(stretches).values())
    yield [at for chain in chains for at in chain]
    yield [chain[turn] for turn in range(max(map(len, chains))) for chain in chains if turn < len(chain)]
    ahead = {}
    for chain in chains:
        rest = 0
        for at in reversed(chain):
            rest += stretches[at].length + stretches[at].wait
            ahead[at] = rest
    for sign in (-1, 1):
        waiting = [list(chain) for chain in chains]
        order = []
        while any(waiting):
            shortest = min(filter(None, waiting), key=lambda rest: (sign * ahead[rest[0]], rest[0]))
            order.append(shortest.pop(0))
        yield order


def _first_come(stretches: Sequence[Stretch], capacity: Mapping[str, int], order: Sequence[int]) -> tuple[int, ...]:
    """Place stretches one after the other, each as early as what is placed already allows."""
    starts: dict[int, int] = {}
    free: dict[int, int] = {}
    held: dict[str, list[tuple[int, int]]] = {name: [] for name in capacity}
    for at in order:
        stretch = stretches[at]
        start = free.get(stretch.chain, 0)
        while True:
            later = next((
                over - task.offset for task in stretch.tasks
                if (over := _taken_until(held[task.resource], start + task.offset, task.length,
                                         capacity[task.resource])) is not None
            ), None)
            if later is None:
                break
            start = later
        starts[at] = start
        free[stretch.chain] = start + stretch.length + stretch.wait
        for task in stretch.tasks:
            held[task.resource].append((start + task.offset, start + task.offset + task.length))
    return tuple(starts[at] for at in range(len(stretches)))


def _taken_until(held: Sequence[tuple[int, int]], start: int, length: int, capacity: int) -> int | None:
    """Return when the first moment of a spell at which all is taken is over; None where there is room throughout."""
    meeting = [(low, high) for low, high in held if low < start + length and start < high]
    if len(meeting) < capacity:
        return None
    for moment in sorted([start, *(low for low, _ in meeting if low > start)]):
        taken = [high for low, high in meeting if low <= moment < high]
        if len(taken) >= capacity:
            return min(taken)
    return None


@dataclass
class _Search:
    """Branch and bound. `after` holds (first, second, distance): second starts at least so long after first."""

    stretches: Sequence[Stretch]
    capacity: Mapping[str, int]
    best: tuple[int, ...]
    most_nodes: int
    nodes: int = 0
    finished: bool = True
    over: int = 0
    floor: int = 0
    holders: list[tuple[int, Task]] = field(default_factory=list)

    def run(self) -> None:
        self.over = _over(self.stretches, self.best)
        self.holders = [
            (at, task) for at, stretch in enumerate(self.stretches) for task in stretch.tasks if task.length
        ]
        after = []
        for chain in _chains(self.stretches).values():
            for earlier, later in pairwise(chain):
                after.append((earlier, later, self.stretches[earlier].length + self.stretches[earlier].wait))
        starts = self._earliest(after, [0] * len(self.stretches), self.over + 1)
        assert starts is not None  # the best so far keeps every order too
        self.floor = max([_over(self.stretches, starts), *(
            -(-sum(task.length for _, task in self.holders if task.resource == name) // most)
            for name, most in self.capacity.items()
        )])
        self._branch(after, starts)

    def _earliest(
        self, after: Sequence[tuple[int, int, int]], known: Sequence[int], below: int
    ) -> list[int] | None:
        """Return earliest starts (longest paths), or None where they contradict each other or are over too late."""
        starts = list(known)
        for _ in range(len(self.stretches) + 1):
            moved = False
            for first, second, distance in after:
                if starts[first] + distance > starts[second]:
                    starts[second] = starts[first] + distance
                    moved = True
            if not moved:
                return starts
            if _over(self.stretches, starts) >= below:
                return None
        return None

    def _branch(self, after: list[tuple[int, int, int]], starts: list[int]) -> None:
        if self.over <= self.floor:
            return
        self.nodes += 1
        if self.nodes > self.most_nodes:
            self.finished = False
            return
        clash = self._clash(starts)
        if clash is None:
            self.best, self.over = tuple(starts), _over(self.stretches, starts)
            return
        ways = []
        for first, task in clash:
            for second, other_task in clash:
                if first != second:
                    more = (first, second, task.offset + task.length - other_task.offset)
                    later = self._earliest([*after, more], starts, self.over)
                    if later is not None and _over(self.stretches, later) < self.over:
                        ways.append((_over(self.stretches, later), sum(later), first, second, more, later))
        for over, _, _, _, more, later in sorted(ways, key=lambda way: way[:4]):
            if over < self.over:
                self._branch([*after, more], later)

    def _clash(self, starts: Sequence[int]) -> list[tuple[int, Task]] | None:
        """Return the earliest set of one more than can be served at once, or None."""
        found: tuple[int, list[tuple[int, Task]]] | None = None
        for name, most in self.capacity.items():
            mine = sorted(((starts[at] + task.offset, at, task) for at, task in self.holders if task.resource == name),
                          key=lambda place: place[:2])
            for moment, _, _ in mine:
                held = [(at, task) for low, at, task in mine if low <= moment < low + task.length]
                if len(held) > most:
                    if found is None or moment < found[0]:
                        found = (moment, held[: most + 1])
                    break
        return found[1] if found else None


@dataclass(frozen=True, kw_only=True)
class StepTime:
    """One step of one load: minutes from the start of the work on the bench.

    work_minutes: hands at work. mixing_minutes: how many of them are mixing. only_mixing: it is not the step itself
    that is timed here, but the mixing for it. dwell_each_minutes: a pane's share of a dwell that nobody stays with and
    that is counted for each pane; 0 where it is counted for the load.
    """

    step: int
    name: str
    starts: Fraction
    work_minutes: Fraction
    dwell_minutes: Fraction
    attended: bool
    may_wait: bool
    mixing_minutes: Fraction = Fraction(0)
    only_mixing: bool = False
    dwell_each_minutes: Fraction = Fraction(0)

    @property
    def ends(self) -> Fraction:
        return self.starts + self.work_minutes + self.dwell_minutes


@dataclass(frozen=True, kw_only=True)
class LoadTime:
    recipe: str
    load: int
    steps: tuple[StepTime, ...]

    @property
    def starts(self) -> Fraction:
        return self.steps[0].starts

    @property
    def ends(self) -> Fraction:
        return max(step.ends for step in self.steps)


@dataclass(frozen=True, kw_only=True)
class Timetable:
    """Every load's steps in time. labour_minutes: hands at work; idle: hands there with nothing to do.

    job_mixing_minutes: what is mixed for the job, from the first minute on, before the loads.
    """

    hands: int
    benches: int
    loads: tuple[LoadTime, ...]
    finish_minutes: Fraction
    labour_minutes: Fraction
    proved: bool
    job_mixing_minutes: Fraction = Fraction(0)

    @property
    def idle_minutes(self) -> Fraction:
        return self.hands * self.finish_minutes - self.labour_minutes


def work_and_dwell(step: StepFacts, load: Load) -> tuple[Fraction, Fraction]:
    """Return minutes in which hands are needed (an attended dwell among them), and minutes of unattended dwell."""
    panes = len(load.panes)
    work = step.minutes_per_load + step.minutes_per_pane * panes + step.minutes_per_m2 * load.treated_m2(step)
    dwell = step.all_dwell_minutes(panes)
    return (work + dwell, Fraction(0)) if step.attended else (work, dwell)


#: A step of a load: recipe, load and step.
Place = tuple[str, int, int]


@dataclass(frozen=True, kw_only=True)
class Mixing:
    """Minutes of mixing: for the job, for a step of a load, and pane by pane within one."""

    for_job: Fraction = Fraction(0)
    for_load: Mapping[Place, Fraction] = field(default_factory=dict)
    by_pane: Mapping[Place, Fraction] = field(default_factory=dict)

    def is_mixed_for(self, recipe: str, step: int) -> bool:
        """Say whether any load of a recipe waits for a mix of its own before a step."""
        return any((recipe, step) == (place[0], place[2]) for place, minutes in self.for_load.items() if minutes)


def mixing_of(mixes: Iterable[Mix], house: House) -> Mixing:
    """Return when the mixes of a job are mixed; a nested one when that is which it goes into."""
    for_job = Fraction(0)
    for_load: dict[Place, Fraction] = defaultdict(Fraction)
    by_pane: dict[Place, Fraction] = defaultdict(Fraction)
    for mix in mixes:
        if mix.load is None or mix.step is None:
            for_job += mix.minutes(house)
        else:
            (by_pane if mix.pane else for_load)[mix.recipe, mix.load, mix.step] += mix.minutes(house)
    return Mixing(for_job=for_job, for_load=for_load, by_pane=by_pane)


@dataclass(frozen=True, kw_only=True)
class _Entry:
    """What a load goes through: a step, or the mixing for one. waits: the load may wait after it; closes: a stretch."""

    step: StepFacts
    work: Fraction
    dwell: Fraction = Fraction(0)
    mixing: Fraction = Fraction(0)
    only_mixing: bool = False
    waits: bool = False
    closes: bool = False

    @property
    def dwell_each(self) -> Fraction:
        return self.step.dwell_minutes if self.dwell and self.step.dwells_by_pane else Fraction(0)

    @property
    def name(self) -> str:
        name = self.step.name or self.step.kind
        return f"mixing for {name}" if self.only_mixing else name


def timetable(
    recipes: Sequence[RecipeFacts], loads: Mapping[str, Sequence[Load]], hands: int = 1, benches: int = 1,
    mixing: Mixing | None = None,
) -> Timetable:
    """Return the timetable of a job's loads with so many pairs of hands and benches. Steps in the order of the bench.

    mixing: what is mixed when; None: nothing takes time.
    """
    mixing = mixing or Mixing()
    chains = [
        (load, _entries(recipe, load, mixing)) for recipe in recipes for load in loads[recipe.key] if recipe.steps
    ]
    unit = lcm(*(
        value.denominator for _, entries in chains for entry in entries for value in (entry.work, entry.dwell)
    ))
    stretches: list[Stretch] = []
    places: list[list[tuple[int, int]]] = []  # per chain and entry: its stretch, and its offset there
    for number, (_, entries) in enumerate(chains):
        places.append(_stretches(number, entries, unit, stretches))
    found = _scheduled(tuple(stretches), hands, benches)
    timed = []
    for number, (load, entries) in enumerate(chains):
        steps = tuple(
            StepTime(
                step=entry.step.number, name=entry.name,
                starts=mixing.for_job + Fraction(found.at[stretch] + offset, unit), work_minutes=entry.work,
                dwell_minutes=entry.dwell, attended=entry.step.attended and not entry.only_mixing,
                may_wait=entry.waits, mixing_minutes=entry.mixing, only_mixing=entry.only_mixing,
                dwell_each_minutes=entry.dwell_each,
            )
            for entry, (stretch, offset) in zip(entries, places[number], strict=True)
        )
        timed.append(LoadTime(recipe=load.recipe, load=load.number, steps=steps))
    labour = sum((entry.work for _, entries in chains for entry in entries), mixing.for_job)
    return Timetable(
        hands=hands, benches=benches, loads=tuple(timed),
        finish_minutes=mixing.for_job + Fraction(found.over, unit), labour_minutes=labour, proved=found.proved,
        job_mixing_minutes=mixing.for_job,
    )


def _entries(recipe: RecipeFacts, load: Load, mixing: Mixing) -> list[_Entry]:
    """Return what a load goes through, in order: every step, and its mixing where wet glass does not wait for it."""
    mixes: dict[int, list[_Entry]] = defaultdict(list)
    for step, before in zip(recipe.steps, mixed_before(recipe.steps), strict=True):
        if mixing.is_mixed_for(recipe.key, step.number):
            minutes = mixing.for_load.get((recipe.key, load.number, step.number), Fraction(0))
            mixes[before].append(_Entry(step=step, work=minutes, mixing=minutes, only_mixing=True))
    found: list[_Entry] = []
    waits = False
    for at, step in enumerate(recipe.steps):
        work, dwell = work_and_dwell(step, load)
        by_pane = mixing.by_pane.get((recipe.key, load.number, step.number), Fraction(0))
        waits = may_wait_after(step) or (waits and _makes_safe(step))
        closes = waits and not (at + 1 < len(recipe.steps) and _makes_safe(recipe.steps[at + 1]))
        found += mixes[at]
        found.append(_Entry(step=step, work=work + by_pane, dwell=dwell, mixing=by_pane, waits=waits, closes=closes))
    return found


def _makes_safe(step: StepFacts) -> bool:
    return kind_of(step.kind).makes_safe


def _stretches(chain: int, entries: Sequence[_Entry], unit: int, stretches: list[Stretch]) -> list[tuple[int, int]]:
    """Add a load's stretches; return where each of its entries lies."""
    places: list[tuple[int, int]] = []
    tasks: list[Task] = []
    offset, dry = 0, 0  # dry: when what dries in the stretch is dry
    on_bench: int | None = None
    for at, entry in enumerate(entries):
        places.append((len(stretches), offset))
        if on_bench is None and not entry.only_mixing:
            on_bench = offset
        minutes, still = int(entry.work * unit), int(entry.dwell * unit)
        if minutes:
            tasks.append(Task(HANDS, offset, minutes))
        offset += minutes
        last = at + 1 == len(entries)
        if entry.waits or last:
            dry = max(dry, offset + still)
        else:
            offset += still
        if entry.closes or last:
            if on_bench is not None and offset > on_bench:
                tasks.append(Task(BENCH, on_bench, offset - on_bench))
            stretches.append(Stretch(chain, offset, max(dry - offset, 0), tuple(tasks)))
            tasks, offset, dry, on_bench = [], 0, 0, None
    return places
