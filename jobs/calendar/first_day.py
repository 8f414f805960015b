"""A further job's first honest day: the earliest found at which no job with a day told gets later than it stands.

Jobs with slack are taken off, the new one is placed first, they again by due day; a job that comes out later than it
stands goes before the others at the next try. Then seeded moves of the best order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random

from jobs.calendar.first_come import FirstCome, Unit, UnitPlace
from jobs.calendar.ground import NEVER, Ground
from jobs.calendar.other_orders import SEED
from jobs.calendar.standing import Standing

MOST_TRIES = 60


@dataclass(frozen=True)
class Found:
    """A plan in which the new unit is ready on `day`; days: the finishing days of all."""

    day: int
    days: int
    standing: Standing

    @property
    def rank(self) -> tuple[int, int]:
        return self.day, self.days


class FirstDaySearch:
    """Looks for a day for one unit beside a plan that stands. worked: stretches placed so far."""

    def __init__(self, ground: Ground, standing: Standing, unit: Unit, order: Sequence[Unit],
                 refused: frozenset[str] = frozenset()) -> None:
        self.ground, self.standing, self.unit, self.refused = ground, standing, unit, refused
        self.order = [other for other in order if other in standing.units]
        self.promised = promised(ground, standing)
        self.best: Found | None = None
        self.order_of_best: list[Unit] = []
        self.worked = 0
        self.due = {other: min((day for job in other if (day := ground.jobs[job].due_day) is not None), default=NEVER)
                    for other in self.order}

    def look(self, work: int) -> Found | None:
        """Look until so many stretches were placed; the plan around the one that stands is always tried."""
        self._try([self.unit], self.order)
        slack = sorted(self.order, key=lambda other: (self._slack(other), self.order.index(other)))
        for share in (4, 2, 1):
            off = slack[len(slack) - len(slack) // share:]
            self._squeak([self.unit, *self._by_due(off)], [other for other in self.order if other not in off], work)
        self._moves(work)
        return self.best

    def _slack(self, other: Unit) -> int:
        return self.due[other] - max(place.finish_day for _, place in self.standing.units[other].jobs)

    def _by_due(self, units: Sequence[Unit]) -> list[Unit]:
        return sorted(units, key=lambda other: (self.due[other], self._finish(other)))

    def _finish(self, other: Unit) -> int:
        return max(place.finish for _, place in self.standing.units[other].jobs)

    def _squeak(self, order: list[Unit], keep: Sequence[Unit], work: int) -> None:
        """Try an order; put whoever comes out later than promised one third nearer to the front, and try again."""
        for _ in range(MOST_TRIES):
            if self.worked > work:
                return
            late = self._try(order, keep)
            if late is None:
                return
            at = order.index(late)
            if not at:
                return
            order.insert(at * 2 // 3, order.pop(at))

    def _moves(self, work: int) -> None:
        chance = Random(SEED)  # noqa: S311 (no secret: the same for the same)
        for _ in range(work):
            if self.worked > work or not self.order_of_best or len(self.order_of_best) < 2:
                return
            order = list(self.order_of_best)
            at = order.index(self.unit)
            if at and chance.random() < 0.5:
                order.insert(chance.randrange(at), order.pop(at))
            else:
                order.insert(chance.randrange(len(order)), order.pop(chance.randrange(len(order))))
            self._try(order, ())

    def _try(self, order: Sequence[Unit], keep: Sequence[Unit]) -> Unit | None:
        """Place these beside those kept. Return the one that comes out late or has no place, None where all is well."""
        first_come = FirstCome(self.ground, self.refused, room=self.standing.room(self.ground, keep))
        if first_come.pin([unit for unit in order if unit != self.unit]) is not None:
            return order[0]
        placed: dict[Unit, UnitPlace] = {unit: self.standing.units[unit] for unit in keep}
        for unit in order:
            place = first_come.place(unit, first_come.room)
            self.worked += 1 + sum(map(len, first_come.chains_of(unit)))
            if place is None or any(job.late > self.promised.get(name, NEVER) for name, job in place.jobs):
                return unit
            if unit == self.unit and self.best and max(job.finish_day for _, job in place.jobs) > self.best.day:
                return unit
            placed[unit] = place
        standing = Standing(placed, tuple(first_come.room.batches), self.standing.refused)
        found = Found(max(job.finish_day for _, job in placed[self.unit].jobs), standing.value.finish_days, standing)
        if self.best is None or found.rank <= self.best.rank:
            self.best = found
            if not keep:
                self.order_of_best = list(order)
        return None


def promised(ground: Ground, standing: Standing) -> Mapping[str, int]:
    """Return for each job with a day told how late it stands, by weight."""
    return {name: place.late for unit in standing.units.values() for name, place in unit.jobs
            if ground.jobs[name].due_day is not None}
