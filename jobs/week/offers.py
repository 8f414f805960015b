"""What the longer search finds is offered: what it does better, what it moves; taken as it was shown, or left."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction

from jobs.calendar.effort import LONG, Effort
from jobs.calendar.planned import Value
from jobs.frozen import thaw
from jobs.models import WeekPlan
from jobs.week.gather import job_number, mark_of
from jobs.week.kept import Moved, Standing, is_current, keep, moved_since, standing_of, standing_plan, try_out
from studio.house.clock import now, today
from studio.kit.errors import DaybookError
from studio.kit.locks import one_by_one


class OfferGone(DaybookError):
    """An offer that cannot be taken any more, and why."""


@dataclass(frozen=True, kw_only=True)
class Offer:
    """A better plan beside the one that stands. gains: what it does better; costs: what it moves, in words."""

    plan: Standing
    gains: tuple[str, ...]
    costs: tuple[str, ...]
    moved: tuple[Moved, ...]

    @property
    def pk(self) -> int:
        return self.plan.row.pk

    @property
    def in_words(self) -> str:
        return ", ".join((*self.gains, *self.costs))


def search_longer(effort: Effort = LONG) -> Standing | None:
    """Look for a better plan and offer it; None where the input changed meanwhile, or nothing better was found."""
    offered = look_for_better(effort)
    if offered is not None:
        put_forward(offered)
    return offered


def look_for_better(effort: Effort) -> Standing | None:
    """Return a better plan than the one that stands; None where the input changed meanwhile, or there is none."""
    before = standing_plan()
    gathered, answer = try_out(before, effort)
    if answer is None or _worth(answer.value) >= _worth(before.value) or mark_of(today()) != gathered.mark:
        return None
    return standing_of(gathered, answer, WeekPlan.By.SEARCH)


def put_forward(offered: Standing) -> None:
    """Offer a plan, in place of one that was offered before."""
    with transaction.atomic():
        one_by_one("plan of the week")
        WeekPlan.objects.filter(offered=True).delete()
        offered.row.offered = True
        offered.row.save()


def _worth(value: Value) -> tuple[int, int, int, int]:
    """Return what a plan is turned over for; what moved in the plan before is no reason."""
    return value.refused, value.late, value.finish_days, value.mixings


def offer_beside(standing: Standing) -> Offer | None:
    """Return the offer that can still be taken in place of the plan that stands. Two queries where there is none."""
    row = WeekPlan.objects.filter(offered=True).first()
    if row is None or row.mark != standing.row.mark or not is_current(row):
        return None
    offered = Standing(row=row)
    was, value = standing.value, offered.value
    if _worth(value) >= _worth(was):
        return None
    return Offer(plan=offered, gains=tuple(_gains(standing, offered)), costs=tuple(_costs(standing, offered)),
                 moved=tuple(thaw(each, Moved) for each in moved_since(standing, offered)))


def take_offer(pk: int) -> Standing:
    """Let the plan that was offered stand, as it was shown. Raises OfferGone where it rests on what is no more."""
    standing = standing_plan()
    with transaction.atomic():
        one_by_one("plan of the week")
        row = WeekPlan.objects.select_for_update().filter(offered=True, pk=pk).first()
        if row is None:
            raise OfferGone("That offer is taken or left already: the plan is the one shown here.")
        if row.mark != standing.row.mark or not is_current(row):
            raise OfferGone("Something changed since it was worked out: look for a better plan again.")
        WeekPlan.objects.filter(offered=True).delete()
        row.pk, row.offered, row.made_at = None, False, now()
        return keep(Standing(row=row), standing)


def leave_offer(pk: int) -> bool:
    return bool(WeekPlan.objects.filter(offered=True, pk=pk).delete()[0])


def _gains(was: Standing, offered: Standing) -> list[str]:
    """Return what a plan does better than another: “3 jobs a day sooner, 2 mixes fewer”."""
    words = []
    if (less := was.value.late - offered.value.late) > 0:
        words.append(f"{_counted(less, 'day')} less late, by weight")
    if sooner := [-days for days in _days(was, offered) if days < 0]:
        words.append(f"{_counted(len(sooner), 'job')} {_by(sooner)} sooner")
    if (fewer := was.value.mixings - offered.value.mixings) > 0:
        words.append(f"{_counted(fewer, 'mix', 'mixes')} fewer")
    return words


def _costs(was: Standing, offered: Standing) -> list[str]:
    words = []
    if later := [days for days in _days(was, offered) if days > 0]:
        words.append(f"{_counted(len(later), 'job')} {_by(later)} later")
    if (more := offered.value.mixings - was.value.mixings) > 0:
        words.append(f"{_counted(more, 'mix', 'mixes')} more")
    before, after = was.places, offered.places
    moved = {name.rpartition(".")[0] for name, place in after.items() if name in before and before[name][0] != place[0]}
    return [*words, f"moves {_counted(len(moved), 'load')}" if moved else "moves no load to another day"]


def _days(was: Standing, offered: Standing) -> list[int]:
    """Return by how many days each job is ready later than it was; below 0: sooner."""
    return [(offered.day(job.finish_minute - 1) - was.day(was.plan.jobs[name].finish_minute - 1)).days
            for name, job in sorted(offered.plan.jobs.items(), key=lambda each: job_number(each[0]))
            if name in was.plan.jobs]


def _by(days: list[int]) -> str:
    if set(days) == {1}:
        return "a day"
    return f"{min(days)} to {max(days)} days" if min(days) != max(days) else f"{days[0]} days"


def _counted(count: int, what: str, many: str = "") -> str:
    return f"{count} {what if count == 1 else many or what + 's'}"
