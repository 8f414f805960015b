"""Places in slots as a plan in minutes, people and benches by name; and a plan that was kept as places again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from jobs.calendar.asked import GRID_MINUTES
from jobs.calendar.first_come import Unit, finished, unit_place
from jobs.calendar.ground import Batch, Ground
from jobs.calendar.places import Hands, StretchPlace
from jobs.calendar.planned import Mixing, PlacedJob, PlacedStretch, PlacedWork, Plan, Refusal
from jobs.calendar.rules import finish_of
from jobs.calendar.standing import Standing, served


def plan_from(ground: Ground, standing: Standing, refused: Sequence[Refusal]) -> Plan:
    """Return what stands, in minutes."""
    def works(places: Iterable[tuple[int, Hands]], offset: int = 0) -> tuple[PlacedWork, ...]:
        return tuple(
            PlacedWork(start_minute=start * GRID_MINUTES + offset, people=tuple(ground.people[at] for at in hands))
            for start, hands in places
        )

    jobs: dict[str, PlacedJob] = {}
    stretches: dict[str, PlacedStretch] = {}
    for unit in standing.units.values():
        for place in unit.stretches:
            stretches[place.shape.asked.id] = PlacedStretch(
                bench=ground.benches[place.bench], works=works(place.works, place.shape.offset),
            )
    for unit in standing.units.values():
        for name, job in unit.jobs:
            numbers = [at for at in ground.loads_of[name] if ground.loads[at].stretches[0].id in stretches]
            jobs[name] = PlacedJob(before=works(job.before), after=works(job.after), finish_minute=finish_of(
                ground.asked, ground.jobs[name], [ground.loads[at] for at in numbers], stretches,
                works(job.before), works(job.after),
            ) or job.finish)
    mixings = [
        Mixing(key=ground.asked.mixes[kind].key, start_minute=batch[0] * GRID_MINUTES,
               people=(ground.people[batch[2]],), stretches=tuple(ground.stretches[at].asked.id for at in batch[5]))
        for kind, batches in enumerate(standing.batches) for batch in batches
    ]
    mixings.sort(key=lambda mixing: (mixing.start_minute, mixing.key, mixing.people, mixing.stretches))
    return Plan(jobs=jobs, stretches=stretches, mixings=tuple(mixings), refused=tuple(refused))


def standing_from(ground: Ground, plan: Plan, units: Sequence[Unit]) -> Standing | None:
    """Return a kept plan of these units in slots; None where one is not in it or not on the grid.

    Whether it still breaks no rule is not asked here.
    """
    people = {name: at for at, name in enumerate(ground.people)}
    benches = {name: at for at, name in enumerate(ground.benches)}
    shapes = {shape.asked.id: shape for shape in ground.stretches}

    def works(placed: Iterable[PlacedWork], offset: int = 0) -> tuple[tuple[int, Hands], ...]:
        found = []
        for work in placed:
            if (work.start_minute - offset) % GRID_MINUTES:
                raise _OffTheGrid
            hands = tuple(sorted(people[one] for one in work.people))
            found.append(((work.start_minute - offset) // GRID_MINUTES, hands))
        return tuple(found)

    try:
        batches: list[list[Batch]] = [[] for _ in ground.kinds]
        for mixing in plan.mixings:
            kind = ground.kind_of[mixing.key]
            ((start, (who,)),) = works([PlacedWork(start_minute=mixing.start_minute, people=mixing.people)])
            batch = (start, start + ground.kinds[kind].length, who, 0, (), ())
            batches[kind].append(served(ground, kind, batch, tuple(shapes[name].number for name in mixing.stretches)))
        placed = {}
        for unit in units:
            stretches = []
            for number in sorted({at for job in unit for at in ground.loads_of[job]}):
                for shape in ground.chains[number]:
                    if shape.asked.id not in plan.stretches:
                        continue
                    at = plan.stretches[shape.asked.id]
                    places = works(at.works, shape.offset)
                    stretches.append(StretchPlace(shape, benches[at.bench], places, (), places[0][0],
                                                  places[-1][0] + shape.works[-1].length))
            jobs = []
            for name in unit:
                job = plan.jobs[name]
                done = finished(ground, ground.jobs[name], works(job.before), works(job.after), job.finish_minute)
                if done is None:
                    return None
                jobs.append((name, done))
            placed[unit] = unit_place(jobs, stretches)
    except (KeyError, ValueError, _OffTheGrid):
        return None
    return Standing(placed, tuple(map(tuple, batches)))


class _OffTheGrid(Exception):
    """A kept plan has a start that is on no slot."""
