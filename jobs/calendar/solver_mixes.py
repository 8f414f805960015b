"""The mixings of a window of the solver: each use has one of its own, an earlier use's, or one that is fixed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from jobs.calendar.ground import DAY_SLOTS, Batch, StretchShape, UseShape, runs

if TYPE_CHECKING:
    from jobs.calendar.solver_model import StretchVars, Window

Term = Any


@dataclass
class UseVars:
    """own: it has a mixing of its own, which starts at `start` by one of `ways`. joins, fixed: whose it uses else."""

    stretch: StretchVars
    use: UseShape
    own: Term
    start: Term
    ways: list[tuple[int, Term]]
    joins: dict[int, Term] = field(default_factory=dict)
    fixed: dict[int, Term] = field(default_factory=dict)

    @property
    def shape(self) -> StretchShape:
        return self.stretch.shape


class Mixings:
    """All uses of a window. mixed_now: of each use, the mixing that serves it in the plan that stands."""

    def __init__(self, window: Window) -> None:
        self.window, self.ground = window, window.ground
        self.uses: list[UseVars] = []
        self.mixed_now: list[Batch] = []
        self.owner_now: dict[tuple[int, Batch], int] = {}

    def add(self, stretch: StretchVars, use: UseShape) -> None:
        """Add a use, with a mixing that may be its own."""
        window, model, kind = self.window, self.window.model, self.ground.kinds[use.kind]
        now = next(batch for batch in window.standing.batches[use.kind] if stretch.shape.number in batch[5])
        self.mixed_now.append(now)
        fixed = any((batch[0], batch[2]) == (now[0], now[2]) for batch in window.room.batches[use.kind])
        if not fixed:
            self.owner_now.setdefault((use.kind, now), len(self.uses))
        owns = not fixed and self.owner_now[use.kind, now] == len(self.uses)
        ways: dict[int, dict[int, int]] = {}
        everybody: dict[int, int] = {}
        for day in window.days:
            for person in kind.hands:
                bits = self.ground.within(runs(window.room.free[person][day], kind.length), person, kind.length, day)
                if bits:
                    ways.setdefault(person, {})[day] = bits
                    everybody[day] = everybody.get(day, 0) | bits
        if fixed:  # its own is absent: it is hinted where it would be
            day, slot = divmod(now[0], DAY_SLOTS)
            everybody[day] = everybody.get(day, 0) | 1 << slot
        own = window.choice(owns)
        low = min(stretch.shape.mix_from, now[0])
        start = window.hint(model.new_int_var_from_domain(window.bits_of(everybody, low), ""), now[0])
        model.add(start >= stretch.shape.mix_from).only_enforce_if(own)
        taken = []
        for person, days in ways.items():
            is_it = window.choice(owns and person == now[2])
            taken.append((person, is_it))
            if days != everybody:
                domain = window.bits_of(days, stretch.shape.mix_from)
                model.add_linear_expression_in_domain(start, domain).only_enforce_if(is_it)
            window.busy[person].append(model.new_optional_fixed_size_interval_var(start, kind.length, is_it, ""))
        model.add(sum(is_it for _, is_it in taken) == own)
        found = UseVars(stretch, use, own, start, taken)
        self._holds(found, start, own)
        self.uses.append(found)

    def _holds(self, user: UseVars, start: Term, if_so: Term) -> None:
        """A mixing that starts so serves a use: mixed before, not past keeps, made safe in time on the day."""
        model, kind, use = self.window.model, self.ground.kinds[user.use.kind], user.use
        when = user.stretch.works[use.first].start
        model.add(when >= start + kind.length).only_enforce_if(if_so)
        model.add(when <= start + kind.length + kind.keeps).only_enforce_if(if_so)
        if kind.safe_within is not None:
            assert use.safe is not None
            safe = user.stretch.works[use.safe].start + user.shape.works[use.safe].length
            model.add(safe <= start + kind.safe_within).only_enforce_if(if_so)
            model.add(start >= user.stretch.day * DAY_SLOTS).only_enforce_if(if_so)

    def tie(self) -> None:
        """Say which uses may share a mixing, and that each has exactly one."""
        window, model = self.window, self.window.model
        room: list[list[Term]] = [[] for _ in self.uses]
        fixed_room: dict[tuple[int, int], list[Term]] = {}
        for at, user in enumerate(self.uses):
            kind, now = self.ground.kinds[user.use.kind], self.mixed_now[at]
            if kind.shared != "no":
                for other in range(at):
                    if not self._may_share(user, self.uses[other]):
                        continue
                    is_so = window.choice(self.owner_now.get((user.use.kind, now)) == other)
                    user.joins[other] = is_so
                    model.add_implication(is_so, self.uses[other].own)
                    self._holds(user, self.uses[other].start, is_so)
                    model.add(self.uses[other].start >= user.shape.mix_from).only_enforce_if(is_so)
                    room[other].append(user.use.ml * is_so)
            for number, batch in enumerate(window.room.batches[user.use.kind]):
                if window.placing.may_join(user.shape, user.use, batch):
                    is_so = window.choice((batch[0], batch[2]) == (now[0], now[2]))
                    user.fixed[number] = is_so
                    self._holds(user, batch[0], is_so)
                    fixed_room.setdefault((user.use.kind, number), []).append(user.use.ml * is_so)
            model.add_exactly_one([user.own, *user.joins.values(), *user.fixed.values()])
        for user, used in zip(self.uses, room, strict=True):
            if used:
                model.add(sum(used) <= self.ground.kinds[user.use.kind].most_ml - user.use.ml)
        for (which, number), used in fixed_room.items():
            batch = window.room.batches[which][number]
            model.add(sum(used) <= self.ground.kinds[which].most_ml - batch[3])

    def _may_share(self, one: UseVars, other: UseVars) -> bool:
        kind = self.ground.kinds[one.use.kind]
        return (
            one.use.kind == other.use.kind and one.use.ml + other.use.ml <= kind.most_ml
            and (kind.shared == "jobs" or sorted(one.shape.load.jobs) == sorted(other.shape.load.jobs))
        )
