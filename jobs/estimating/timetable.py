"""When each load starts, so that no pair of hands is needed twice at once and no dwell runs over that must not.

A load goes through *stretches*: steps that follow each other at once, because the glass between them is
wet and a dwell must not run over. A stretch ends with a step that dries the pane, or inspects it: after
that the load may wait. In a stretch everything is fixed but its start. Hands and benches are limited:
a step's work, and an attended dwell, needs one pair of hands; a stretch needs a bench from its first
minute to its last; what dries stands in a rack. Mixing belongs to a step's own minutes; job set-up,
cutting and packing happen outside.

Small cases are solved exactly by branching over who comes first in each clash (minimal forbidden sets;
De Reyck and Herroelen, European Journal of Operational Research 111 (1998) 152-174): earliest starts are
longest paths, a clash is resolved in every possible way, and what cannot beat the best so far is not followed.
Larger ones keep the best of several first-come orders, and of as much of that search as its limit allows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import lcm

from jobs.estimating.loads import Load
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
    """One step of one load: minutes from the start of the work on the bench."""

    step: int
    name: str
    starts: Fraction
    work_minutes: Fraction
    dwell_minutes: Fraction
    attended: bool
    may_wait: bool

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
    """Every load's steps in time. labour_minutes: hands at work; idle: hands there with nothing to do."""

    hands: int
    benches: int
    loads: tuple[LoadTime, ...]
    finish_minutes: Fraction
    labour_minutes: Fraction
    proved: bool

    @property
    def idle_minutes(self) -> Fraction:
        return self.hands * self.finish_minutes - self.labour_minutes


def may_wait_after(step: StepFacts) -> bool:
    """Say whether a load may wait after a step: when the step dries it, or only looks at it."""
    return bool(step.drying) or kind_of(step.kind).may_wait


def work_and_dwell(step: StepFacts, load: Load) -> tuple[Fraction, Fraction]:
    """Return minutes in which hands are needed (an attended dwell among them), and minutes of unattended dwell."""
    panes = len(load.panes)
    work = step.minutes_per_load + step.minutes_per_pane * panes + step.minutes_per_m2 * load.area_m2
    if not step.attended:
        return work, step.dwell_minutes
    return work + step.dwell_minutes * (panes if step.mixed_pane_by_pane else 1), Fraction(0)


def timetable(
    recipes: Sequence[RecipeFacts], loads: Mapping[str, Sequence[Load]], hands: int = 1, benches: int = 1
) -> Timetable:
    """Return the timetable of a job's loads with so many pairs of hands and benches."""
    chains = [(recipe, load) for recipe in recipes for load in loads[recipe.key] if recipe.steps]
    times = [[work_and_dwell(step, load) for step in recipe.steps] for recipe, load in chains]
    unit = lcm(*(value.denominator for chain in times for pair in chain for value in pair))
    stretches: list[Stretch] = []
    places: list[list[tuple[int, int]]] = []  # per chain and step: its stretch, and its offset there
    for number, (recipe, _) in enumerate(chains):
        places.append(_stretches(number, recipe.steps, times[number], unit, stretches))
    found = _scheduled(tuple(stretches), hands, benches)
    timed = []
    for number, (recipe, load) in enumerate(chains):
        steps = tuple(
            StepTime(
                step=step.number, name=step.name or step.kind,
                starts=Fraction(found.at[stretch] + offset, unit), work_minutes=times[number][at][0],
                dwell_minutes=times[number][at][1], attended=step.attended, may_wait=may_wait_after(step),
            )
            for at, (step, (stretch, offset)) in enumerate(zip(recipe.steps, places[number], strict=True))
        )
        timed.append(LoadTime(recipe=recipe.key, load=load.number, steps=steps))
    labour = sum((work for chain in times for work, _ in chain), Fraction(0))
    return Timetable(
        hands=hands, benches=benches, loads=tuple(timed), finish_minutes=Fraction(found.over, unit),
        labour_minutes=labour, proved=found.proved,
    )


def _stretches(
    chain: int, steps: Sequence[StepFacts], times: Sequence[tuple[Fraction, Fraction]], unit: int,
    stretches: list[Stretch],
) -> list[tuple[int, int]]:
    """Add a load's stretches; return where each of its steps lies."""
    places: list[tuple[int, int]] = []
    tasks: list[Task] = []
    offset = 0
    for at, (step, (work, dwell)) in enumerate(zip(steps, times, strict=True)):
        places.append((len(stretches), offset))
        minutes, still = int(work * unit), int(dwell * unit)
        if minutes:
            tasks.append(Task(HANDS, offset, minutes))
        offset += minutes
        last = at + 1 == len(steps)
        if may_wait_after(step) or last:
            if offset:
                tasks.append(Task(BENCH, 0, offset))
            stretches.append(Stretch(chain, offset, still, tuple(tasks)))
            tasks, offset = [], 0
        else:
            offset += still
    return places
