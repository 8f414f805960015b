"""Stretches of work placed in time, so that no pair of hands and no bench is needed twice at once.

Small cases are solved exactly by branching over who comes first in each clash (minimal forbidden sets;
De Reyck and Herroelen, European Journal of Operational Research 111 (1998) 152-174): earliest starts are
longest paths, a clash is resolved in every possible way, and what cannot beat the best so far is not followed.
Larger ones keep the best of several first-come orders, and of as much of that search as its limit allows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

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


#: Two stretches, and how long after the start of the first the second starts at the earliest; it may be below 0.
After = tuple[int, int, int]


@dataclass(frozen=True)
class Starts:
    """A start for each stretch, when all is over, and whether no timetable is over sooner.

    bound: what none is over before: the longest chain, and what needs the same hands, or benches, shared out evenly.
    """

    at: tuple[int, ...]
    over: int
    proved: bool
    bound: int


@lru_cache(maxsize=128)
def scheduled(stretches: tuple[Stretch, ...], hands: int, benches: int, after: tuple[After, ...]) -> Starts:
    """Return what `schedule` does; the same is asked for again and again, and found once."""
    return schedule(stretches, {HANDS: hands, BENCH: benches}, after=after)


def schedule(
    stretches: Sequence[Stretch], capacity: Mapping[str, int], most_nodes: int = MOST_NODES,
    after: Sequence[After] = (),
) -> Starts:
    """Return starts that keep every chain's order, every wait and every capacity, over as soon as can be found.

    after: what holds between stretches of different chains; the first of two is of an earlier chain.
    """
    if not stretches:
        return Starts((), 0, True, 0)
    best: tuple[int, ...] | None = None
    for order in _orders(stretches):
        starts = _first_come(stretches, capacity, _with_those_before(stretches, order, after), after)
        if best is None or _over(stretches, starts) < _over(stretches, best):
            best = starts
    assert best is not None
    search = _Search(stretches, capacity, best, most_nodes, after)
    if len(stretches) > MOST_STRETCHES:
        search.found_bound()
        return Starts(best, search.over, search.over == search.floor, search.floor)
    search.run()
    proved = search.finished or search.over == search.floor
    return Starts(search.best, search.over, proved, search.over if proved else search.floor)


def first_come(stretches: Sequence[Stretch], capacity: Mapping[str, int]) -> Starts:
    """Return plain first-come: stretch after stretch as they stand, each as early as what is placed already allows."""
    at = _first_come(stretches, capacity, range(len(stretches)))
    return Starts(at, _over(stretches, at), False, 0)


def _over(stretches: Sequence[Stretch], starts: Sequence[int]) -> int:
    return max(start + stretch.length + stretch.wait for start, stretch in zip(starts, stretches, strict=True))


def _chains(stretches: Sequence[Stretch]) -> dict[int, list[int]]:
    chains: dict[int, list[int]] = {}
    for at, stretch in enumerate(stretches):
        chains.setdefault(stretch.chain, []).append(at)
    return chains


def _ahead(stretches: Sequence[Stretch]) -> dict[int, int]:
    """Return for each stretch what lies between its start and the end of its chain, at the least."""
    ahead = {}
    for chain in _chains(stretches).values():
        rest = 0
        for at in reversed(chain):
            rest += stretches[at].length + stretches[at].wait
            ahead[at] = rest
    return ahead


def _orders(stretches: Sequence[Stretch]) -> Iterator[list[int]]:
    """Yield orders in which stretches are placed: load after load, turn about, and what has most still before it."""
    chains = list(_chains(stretches).values())
    yield [at for chain in chains for at in chain]
    yield [chain[turn] for turn in range(max(map(len, chains))) for chain in chains if turn < len(chain)]
    ahead = _ahead(stretches)
    for sign in (-1, 1):
        waiting = [list(chain) for chain in chains]
        order = []
        while any(waiting):
            shortest = min(filter(None, waiting), key=lambda rest: (sign * ahead[rest[0]], rest[0]))
            order.append(shortest.pop(0))
        yield order


def _with_those_before(stretches: Sequence[Stretch], order: Sequence[int], after: Sequence[After]) -> list[int]:
    """Return an order in which whatever a stretch comes after, in its chain or another, stands before it."""
    if not after:
        return list(order)
    before: dict[int, list[int]] = defaultdict(list)
    for chain in _chains(stretches).values():
        for earlier, later in pairwise(chain):
            before[later].append(earlier)
    for first, second, _ in after:
        before[second].append(first)
    placed: dict[int, None] = {}
    for wanted in order:
        waiting = [wanted]
        while waiting:
            missing = [at for at in before[waiting[-1]] if at not in placed]
            if missing:
                waiting += missing
            else:
                placed[waiting.pop()] = None
    return list(placed)


def _first_come(
    stretches: Sequence[Stretch], capacity: Mapping[str, int], order: Sequence[int], after: Sequence[After] = (),
) -> tuple[int, ...]:
    """Place stretches one after the other, each as early as what is placed already allows."""
    those_before: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for first, second, distance in after:
        those_before[second].append((first, distance))
    starts: dict[int, int] = {}
    free: dict[int, int] = {}
    held: dict[str, list[tuple[int, int]]] = {name: [] for name in capacity}
    for at in order:
        stretch = stretches[at]
        start = max([free.get(stretch.chain, 0), *(starts[first] + least for first, least in those_before[at])])
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
    across: Sequence[After] = ()
    nodes: int = 0
    finished: bool = True
    over: int = 0
    floor: int = 0
    holders: list[tuple[int, Task]] = field(default_factory=list)

    def run(self) -> None:
        self._branch(*self.found_bound())

    def found_bound(self) -> tuple[list[After], list[int]]:
        """Find the floor; return what comes after what, and the earliest starts that it allows."""
        self.over = _over(self.stretches, self.best)
        self.holders = [
            (at, task) for at, stretch in enumerate(self.stretches) for task in stretch.tasks if task.length
        ]
        after = list(self.across)
        for chain in _chains(self.stretches).values():
            for earlier, later in pairwise(chain):
                after.append((earlier, later, self.stretches[earlier].length + self.stretches[earlier].wait))
        starts = self._earliest(after, [0] * len(self.stretches), self.over + 1)
        assert starts is not None  # the best so far keeps every order too
        ahead = _ahead(self.stretches)
        self.floor = max([_over(self.stretches, starts), *(
            self._shared_out(name, most, starts, ahead) for name, most in self.capacity.items()
        )])
        return after, starts

    def _shared_out(self, name: str, most: int, earliest: Sequence[int], ahead: Mapping[int, int]) -> int:
        """Return what all is over after, since the spells that need a resource share it.

        Of spells that begin no sooner than some moment, and have no less to come after them than so much, the first
        begins no sooner than that, all of them are shared out evenly, and after the last comes no less (the bound of
        Carlier for one machine, European Journal of Operational Research 11 (1982) 42-47, its work divided among
        several; from memory).
        """
        spells = sorted(((earliest[at] + task.offset, ahead[at] - task.offset - task.length, task.length)
                         for at, task in self.holders if task.resource == name), reverse=True)
        found = 0
        begun: dict[int, int] = defaultdict(int)
        for at, (head, to_come, length) in enumerate(spells):
            begun[to_come] += length
            if at + 1 < len(spells) and spells[at + 1][0] == head:
                continue
            work = 0
            for least in sorted(begun, reverse=True):
                work += begun[least]
                found = max(found, head + -(-work // most) + least)
        return found

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
