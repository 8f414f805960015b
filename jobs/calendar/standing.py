"""A plan that stands, in slots: where each unit is and which mixings there are; and the room beside some of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from jobs.calendar.first_come import Unit, UnitPlace
from jobs.calendar.ground import Batch, Ground, Room
from jobs.calendar.planned import Value


@dataclass(frozen=True)
class Standing:
    """units: each with its place. batches: the mixings by kind. refused: how many jobs have no place."""

    units: Mapping[Unit, UnitPlace]
    batches: tuple[tuple[Batch, ...], ...]
    refused: int = 0

    @property
    def value(self) -> Value:
        places = self.units.values()
        return Value(
            refused=self.refused, late=sum(place.late for place in places),
            finish_days=sum(place.finish_days for place in places), mixings=sum(map(len, self.batches)),
            moved=sum(place.moved for place in places),
        )

    def room(self, ground: Ground, keep: Collection[Unit]) -> Room:
        """Return what is free when only these units stay: their hands, benches and mixings are taken."""
        room = Room.of(ground)
        kept: set[int] = set()
        for unit, place in self.units.items():
            if unit not in keep:
                continue
            for name, job in place.jobs:
                for works, shapes in ((job.before, ground.before[name]), (job.after, ground.after[name])):
                    for (start, hands), shape in zip(works, shapes, strict=True):
                        for person in hands:
                            room.take(room.free[person], start, shape.length)
            for stretch in place.stretches:
                kept.add(stretch.shape.number)
                wider = 1 if stretch.shape.offset else 0
                for (start, hands), shape in zip(stretch.works, stretch.shape.works, strict=True):
                    for person in hands:
                        room.take(room.free[person], start, shape.length + wider)
                room.take(room.benches[stretch.bench], stretch.start, stretch.end + wider - stretch.start)
        for kind, batches in enumerate(self.batches):
            for batch in batches:
                users = tuple(number for number in batch[5] if number in kept)
                if users:
                    room.take(room.free[batch[2]], batch[0], batch[1] - batch[0])
                    room.put(kind, (*room.batches[kind], served(ground, kind, batch, users)))
        room.trail.clear()
        return room


def served(ground: Ground, kind: int, batch: Batch, users: tuple[int, ...]) -> Batch:
    """Return a mixing that serves these stretches of those it served."""
    ml = sum(use.ml for number in users for use in ground.stretches[number].uses if use.kind == kind)
    return (*batch[:3], ml, ground.stretches[users[0]].load.jobs, users)
