"""Other orders than that of booking: by due day, by slack, the short ones first, then seeded moves, so many.

Each is placed as first come would; what it has in common with the one before is kept, and it is given up as soon as it
can no longer be better than the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from jobs.calendar.first_come import FirstCome, Unit, UnitPlace
from jobs.calendar.ground import NEVER, Ground
from jobs.calendar.planned import Value
from jobs.calendar.standing import Standing

SEED = 16
WORST = Value(refused=NEVER, late=NEVER, finish_days=NEVER, mixings=NEVER, moved=NEVER)


class Orders:
    """Tries orders of units in one room and keeps the best. worked: stretches placed so far."""

    def __init__(self, ground: Ground, first_come: FirstCome, units: Sequence[Unit],
                 alone: dict[Unit, UnitPlace]) -> None:
        self.ground, self.first_come, self.units, self.alone = ground, first_come, tuple(units), alone
        self.room = first_come.room
        self.stack: list[tuple[Unit, int, UnitPlace | None]] = []
        self.worked = 0
        self.best: tuple[Unit, ...] = ()
        self.value = WORST
        self.weights = {unit: 1 + sum(map(len, first_come.chains_of(unit))) for unit in units}

    def value_of(self, order: Sequence[Unit], limit: Value = WORST) -> Value:
        """Place in this order and return the value; WORST as soon as it is sure to be above the limit."""
        same = 0
        while same < min(len(self.stack), len(order)) and self.stack[same][0] == order[same]:
            same += 1
        if same < len(self.stack):
            self.room.back_to(self.stack[same][1])
            del self.stack[same:]
        placed = [place for _, _, place in self.stack]
        refused = sum(len(unit) for unit, _, place in self.stack if place is None)
        late, days = sum(p.late for p in placed if p), sum(p.finish_days for p in placed if p)
        late += sum(self.alone[unit].late for unit in order[same:])
        days += sum(self.alone[unit].finish_days for unit in order[same:])
        for unit in order[same:]:
            if (refused, late, days) > (limit.refused, limit.late, limit.finish_days):
                return WORST
            mark = len(self.room.trail)
            place = self.first_come.place(unit, self.room)
            self.stack.append((unit, mark, place))
            self.worked += self.weights[unit]
            late -= self.alone[unit].late
            days -= self.alone[unit].finish_days
            if place is None:
                refused += len(unit)
            else:
                late, days = late + place.late, days + place.finish_days
        mixings = sum(map(len, self.room.batches))
        moved = sum(place.moved for _, _, place in self.stack if place)
        return Value(refused=refused, late=late, finish_days=days, mixings=mixings, moved=moved)

    def consider(self, order: Sequence[Unit]) -> bool:
        """Try an order; keep it if it is no worse than the best. Return whether it was kept."""
        value = self.value_of(order, self.value)
        if value > self.value:
            return False
        self.best, self.value = tuple(order), value
        return True

    def by_rule(self) -> None:
        """Try the orders by due day, slack, least work, weight before due."""
        jobs, alone = self.ground.jobs, self.alone
        due = {unit: min((day for job in unit if (day := jobs[job].due_day) is not None), default=NEVER)
               for unit in self.units}
        weight = {unit: max(jobs[job].weight for job in unit) for unit in self.units}
        ready = {unit: max(place.finish_day for _, place in alone[unit].jobs) for unit in self.units}
        at = {unit: number for number, unit in enumerate(self.units)}
        for key in (
            lambda unit: (due[unit], at[unit]),
            lambda unit: (due[unit] - ready[unit], at[unit]),
            lambda unit: (-weight[unit] if due[unit] < NEVER else 1, due[unit], at[unit]),
            lambda unit: (ready[unit], due[unit], at[unit]),
            lambda unit: (self.weights[unit], due[unit], at[unit]),
        ):
            self.consider(self.possible(sorted(self.units, key=key)))

    def possible(self, order: Sequence[Unit]) -> list[Unit]:
        """Return an order in which as many as may be find a place: the bound first, and before them who finds none."""
        order = self.bound_first(order)
        for _ in order:
            value = self.value_of(order)
            if not value.refused:
                break
            none = next(unit for unit, _, place in self.stack if place is None)
            if order[0] == none:
                break
            order.remove(none)
            order.insert(0, none)
        return order

    def bound_first(self, order: Sequence[Unit]) -> list[Unit]:
        """Return an order with those first that have a pinned stretch, or one that may not come later than it says."""
        return sorted(order, key=lambda unit: not any(
            shape.pinned or shape.latest < NEVER for chain in self.first_come.chains_of(unit) for shape in chain
        ))

    def by_moves(self, work: int, seed: int = SEED) -> None:
        """Try seeded moves of the best order until so many stretches were placed."""
        chance, end = Random(seed), self.worked + work  # noqa: S311 (no secret: the same for the same)
        turns = 0
        while len(self.units) > 1 and self.worked < end and turns < work:
            turns += 1
            self.consider(self._moved(chance))

    def _moved(self, chance: Random) -> list[Unit]:
        order = list(self.best)
        kind = chance.random()
        one, other = chance.randrange(len(order)), chance.randrange(len(order))
        if kind < 0.35:
            late = [at for at, unit in enumerate(order) if (place := self._place_of(unit)) and place.late]
            if late:
                one = chance.choice(late)
                other = chance.randrange(one + 1)
        if kind < 0.75:
            order.insert(other, order.pop(one))
        else:
            order[one], order[other] = order[other], order[one]
        return order

    def _place_of(self, unit: Unit) -> UnitPlace | None:
        return next((place for other, _, place in self.stack if other == unit), None)

    def settled(self) -> Standing:
        """Place the best order again and return the plan of it."""
        self.value_of(self.best)
        return Standing(
            {unit: place for unit, _, place in self.stack if place}, tuple(self.room.batches),
            sum(len(unit) for unit, _, place in self.stack if place is None),
        )
