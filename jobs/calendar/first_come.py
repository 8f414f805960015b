"""Jobs placed one after the other in a given order, each work at the earliest start that keeps every rule.

Jobs that share a load are placed together, pinned stretches before all. What an order has in common with the one
tried before it is not placed again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jobs.calendar.asked import DAY_MINUTES, GRID_MINUTES, JobAsked
from jobs.calendar.ground import NEVER, Ground, Room, StretchShape, WorkShape, slots_up
from jobs.calendar.places import Hands, StretchPlace
from jobs.calendar.placing import Placing

MOST_TURNS = 60


@dataclass(frozen=True, slots=True)
class JobPlace:
    """A job in slots, but its finish in minutes. late: weight × days after due. parts: ready for the bench, cured."""

    before: tuple[tuple[int, Hands], ...]
    after: tuple[tuple[int, Hands], ...]
    finish: int
    finish_day: int
    late: int


@dataclass(frozen=True, slots=True)
class UnitPlace:
    """Jobs that share loads, placed. moved: stretches on another day than in the plan before."""

    jobs: tuple[tuple[str, JobPlace], ...]
    stretches: tuple[StretchPlace, ...]
    late: int
    finish_days: int
    moved: int


Unit = tuple[str, ...]


def units_of(ground: Ground, jobs: Sequence[str], refused: frozenset[str] = frozenset()) -> list[Unit]:
    """Return the jobs by what is placed together: each with those it shares a load with, in the order given.

    refused: a load of one of these is not placed and ties nothing.
    """
    left, units = list(jobs), []
    asked = set(jobs)
    while left:
        unit = [left.pop(0)]
        for name in unit:
            for load in ground.loads_of[name]:
                owners = ground.loads[load].jobs
                if not refused & set(owners):
                    unit += [job for job in owners if job in asked and job not in unit]
        left = [job for job in left if job not in unit]
        units.append(tuple(job for job in jobs if job in unit))
    return units


class FirstCome:
    """Places units in orders. refused: jobs that are left out, with all their loads."""

    def __init__(self, ground: Ground, refused: frozenset[str] = frozenset(), most_steps: int = 120,
                 room: Room | None = None) -> None:
        self.ground, self.refused, self.most_steps = ground, refused, most_steps
        self.room = room or Room.of(ground)
        self.pins: dict[int, StretchPlace] = {}

    def chains_of(self, unit: Unit) -> list[tuple[StretchShape, ...]]:
        """Return the loads of a unit, in the order in which they stand."""
        numbers = sorted({load for job in unit for load in self.ground.loads_of[job]})
        return [self.ground.chains[at] for at in numbers if not self.refused & set(self.ground.loads[at].jobs)]

    def pin(self, units: Sequence[Unit]) -> str | None:
        """Take the places of all pinned stretches; return one that does not fit, if there is one."""
        placing = Placing(self.ground, self.room, max(self.most_steps, 5000))
        shapes = [shape for unit in units for chain in self.chains_of(unit) for shape in chain if shape.pinned]
        for shape in sorted(shapes, key=lambda shape: (shape.pinned or (0, 0), shape.number)):
            place = placing.find(shape, 0)
            if place is None:
                return shape.asked.id
            placing.take(place)
            self.pins[shape.number] = place
        return None

    def place(self, unit: Unit, room: Room) -> UnitPlace | None:
        """Take the earliest places of all that a unit's jobs want; None, and nothing taken, where one has none."""
        mark = len(room.trail)
        placed = _UnitPlacing(self, unit, room).placed()
        if placed is None:
            room.back_to(mark)
        return placed


class _UnitPlacing:
    def __init__(self, first_come: FirstCome, unit: Unit, room: Room) -> None:
        self.ground, self.pins = first_come.ground, first_come.pins
        self.chains, self.unit = first_come.chains_of(unit), unit
        self.placing = Placing(self.ground, room, first_come.most_steps)
        self.room = room
        self.places: list[StretchPlace] = []

    def placed(self) -> UnitPlace | None:
        before, ready, out = {}, {}, {}
        for name in self.unit:
            job = self.ground.jobs[name]
            works = self._works(self.ground.before[name], slots_up(job.earliest.before_minute))
            if works is None:
                return None
            before[name] = works
            end = slots_up(job.earliest.before_minute)
            if works:
                end = works[-1][0] + self.ground.before[name][-1].length
            ready[name] = max(end + slots_up(job.outside_minutes), slots_up(job.earliest.bench_minute))
            out[name] = slots_up(job.earliest.packing_minute)
            if works and not any(name in chain[0].load.jobs for chain in self.chains):
                out[name] = max(out[name], ready[name])
        for chain in self.chains:
            low = max(ready[name] for name in chain[0].load.jobs)
            mark = len(self.places)
            if self._chain(chain, 0, low) is None:
                return None
            end = self.places[-1].end + chain[-1].least + (1 if self.places[-1].shape.offset else 0)
            assert len(self.places) == mark + len(chain)
            for name in chain[0].load.jobs:
                out[name] = max(out[name], end + slots_up(self.ground.jobs[name].cure_minutes))
        jobs = []
        for name in self.unit:
            works = self._works(self.ground.after[name], out[name])
            if works is None:
                return None
            end = works[-1][0] + self.ground.after[name][-1].length if works else out[name]
            place = finished(self.ground, self.ground.jobs[name], before[name], works, end * GRID_MINUTES)
            if place is None:
                return None
            jobs.append((name, place))
        return unit_place(jobs, self.places)

    def _works(self, works: Sequence[WorkShape], low: int) -> tuple[tuple[int, Hands], ...] | None:
        places = []
        for work in works:
            place = self.placing.place_work(work, low)
            if place is None:
                return None
            places.append(place)
            low = place[0] + work.length
        return tuple(places)

    def _chain(self, chain: tuple[StretchShape, ...], at: int, low: int) -> int | None:
        """Place a load's stretches from `at` on; return the start of that one, None where it can't be."""
        shape, room = chain[at], self.room
        for _ in range(MOST_TURNS):
            place = self.pins.get(shape.number)
            if place is None:
                place = self.placing.find(shape, low)
            elif place.start < low:
                return None
            if place is None:
                return None
            mark, length = len(room.trail), len(self.places)
            if not shape.pinned:
                self.placing.take(place)
            self.places.append(place)
            if at + 1 == len(chain):
                return place.start
            end = place.end + (1 if shape.offset else 0)
            following = self._chain(chain, at + 1, end + shape.least)
            if following is not None and (shape.most is None or following <= place.end + shape.most):
                return place.start
            room.back_to(mark)
            del self.places[length:]
            if following is None or shape.pinned or shape.most is None:
                return None
            low = max(place.start + 1, following - shape.most - shape.longest)
        return None


def unit_place(jobs: Sequence[tuple[str, JobPlace]], stretches: Sequence[StretchPlace]) -> UnitPlace:
    """Return a unit of jobs and stretches placed, with what they are worth."""
    moved = sum(1 for place in stretches if place.shape.asked.was_day is not None
                and place.start * GRID_MINUTES // DAY_MINUTES != place.shape.asked.was_day)
    return UnitPlace(tuple(jobs), tuple(stretches), sum(job.late for _, job in jobs),
                     sum(job.finish_day for _, job in jobs), moved)


def finished(ground: Ground, job: JobAsked, before: tuple[tuple[int, Hands], ...], after: tuple[tuple[int, Hands], ...],
             end: int) -> JobPlace | None:
    """Return a job that is packed at minute `end`; None where it waits for a collection and none comes."""
    if job.leaves == "collection":
        end = min((when for when in ground.asked.collections if when >= end), default=NEVER)
        if end == NEVER:
            return None
    day = (end - 1) // DAY_MINUTES
    late = 0 if job.due_day is None else job.weight * max(0, day - job.due_day)
    return JobPlace(before, after, end, day, late)
