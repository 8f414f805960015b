"""The calendar's planner: first come at once, then better, then the days of those who ask. Checked before it leaves.

Bounded by work, never by the clock: the same input and version give the same plan.
"""

from __future__ import annotations

from collections.abc import Iterable

from jobs.calendar.answering import plan_from, standing_from
from jobs.calendar.asked import CalendarAsked, day_of
from jobs.calendar.effort import AT_ONCE, TWO_SECONDS, Effort
from jobs.calendar.first_come import FirstCome, Unit, units_of
from jobs.calendar.first_day import FirstDaySearch
from jobs.calendar.ground import Ground
from jobs.calendar.other_orders import Orders
from jobs.calendar.planned import Answer, FirstDay, Plan, Refusal
from jobs.calendar.refusing import alone, refusals, why_not
from jobs.calendar.rules import broken, value_of
from jobs.calendar.standing import Standing
from studio.kit.errors import DaybookError


class PlanBreaksRules(DaybookError):
    """A plan of the planner's own breaks a rule and is discarded: the former one stands."""


def first_come(asked: CalendarAsked) -> Answer:
    """Return the plan in the order of booking, pinned ones first, and a day for each that asks. Errors: as `plan`."""
    return plan(asked, AT_ONCE)


def plan(asked: CalendarAsked, effort: Effort = TWO_SECONDS, former: Plan | None = None) -> Answer:
    """Return the best plan found with so much effort, and a first honest day for each job that asks.

    former: a plan kept before; if it still stands for what is asked now, no worse one is returned.
    Errors: PlanBreaksRules, with the rules named; never a plan that breaks one.
    """
    planner = Planner(asked, former)
    if effort.order_work:
        planner.improve(effort)
    return planner.answer(effort)


class Planner:
    """One input: its refusals, its plan so far."""

    def __init__(self, asked: CalendarAsked, former: Plan | None = None) -> None:
        self.asked, self.ground = asked, Ground(asked)
        names = [job.id for job in asked.jobs]
        self.refused, self.alone = refusals(self.ground, names)
        self.refused_names = frozenset(refusal.job for refusal in self.refused)
        self.units = units_of(self.ground, [name for name in names if name not in self.refused_names],
                              self.refused_names)
        first = FirstCome(self.ground, self.refused_names)
        self.clash = first.pin(self.units)
        self.orders = Orders(self.ground, first, self.units, self.alone)
        self.orders.consider(self.orders.possible(self.units))
        self.standing = self.orders.settled()
        if former and not broken(asked, former):
            kept = standing_from(self.ground, former, self.units)
            if kept and kept.value <= self.standing.value:
                self.standing = kept

    def improve(self, effort: Effort) -> None:
        """Try other orders, then let the solver improve the best."""
        self.orders.by_rule()
        self.orders.by_moves(effort.order_work)
        found = self.orders.settled()
        if found.value < self.standing.value:
            self.standing = found
        if not effort.windows or self.standing.refused or not self.standing.units:
            return
        from jobs.calendar.windows import better  # where first come is enough, the solver is not loaded

        found = better(self.ground, self.standing, self.refused_names, effort)
        if not broken(self.asked, plan_from(self.ground, found, self.refused)):
            self.standing = found

    def refusals_of(self, standing: Standing) -> list[Refusal]:
        """Return those that can't be done, and those that found no place in this plan."""
        placed = {name for unit in standing.units for name in unit}
        left = [job for job in self.asked.jobs if job.id not in placed and job.id not in self.refused_names]
        return [*self.refused, *(Refusal(job=job.id, why=(
            f"{job.called} finds no place beside the others in the {self.asked.days} days of the calendar."
        )) for job in left)]

    def answer(self, effort: Effort) -> Answer:
        """Return the plan that stands and the days of those who ask, each checked."""
        chosen = plan_from(self.ground, self.standing, self.refusals_of(self.standing))
        check(self.asked, chosen)
        asks = tuple(self._day(ask.job.id, effort, chosen.refused) for ask in self.asked.asks)
        return Answer(plan=chosen, value=value_of(self.asked, chosen), asks=asks)

    def _day(self, name: str, effort: Effort, refused: tuple[Refusal, ...]) -> FirstDay:
        unit: Unit = (name,)
        if alone(self.ground, unit) is None:
            return FirstDay(job=name, day=None, why=why_not(self.ground, self.ground.jobs[name]))
        order = sorted(self.standing.units, key=lambda other: (
            min(place.start for place in self.standing.units[other].stretches)
            if self.standing.units[other].stretches else 0, other,
        ))
        found = FirstDaySearch(
            self.ground, self.standing, unit, order, frozenset(refusal.job for refusal in refused),
        ).look(effort.ask_work)
        if found is None:
            return FirstDay(job=name, day=None, why=(
                f"{self.ground.jobs[name].called} finds no place in the {self.asked.days} days of the calendar at "
                "which no job with a day told gets later."
            ))
        chosen = plan_from(self.ground, found.standing, refused)
        check(self.asked, chosen, (name,))
        if effort.ask_windows:
            from jobs.calendar.windows import nearer

            until = {
                job: max(self.ground.jobs[job].due_day or 0, place.finish_day)
                for other in self.standing.units.values() for job, place in other.jobs
                if self.ground.jobs[job].due_day is not None
            }
            sooner = plan_from(self.ground, nearer(
                self.ground, found.standing, unit, until, frozenset(refusal.job for refusal in refused), effort,
            ), refused)
            if not broken(self.asked, sooner, [ask for ask in self.asked.asks if ask.job.id == name]):
                chosen = sooner
        return FirstDay(job=name, day=day_of(chosen.jobs[name].finish_minute), plan=chosen)


def check(asked: CalendarAsked, chosen: Plan, further: Iterable[str] = ()) -> None:
    """Raise PlanBreaksRules where a plan breaks one. further: jobs of those that ask which are planned too."""
    names = set(further)
    if sentences := broken(asked, chosen, [ask for ask in asked.asks if ask.job.id in names]):
        raise PlanBreaksRules("A plan was discarded: " + " ".join(sentences[:3]))
