"""What would make a late job ready sooner: each remedy is tried by a plan of its own, and told only with that plan.

An extra half day of somebody on a day off, or the rest of a short day; another job with slack that goes after it.
Days that differ for a reason (a holiday, a fair, somebody away) are nobody's to work. Nothing is changed by trying.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from jobs.calendar.asked import DAY_MINUTES, GRID_MINUTES, CalendarAsked, JobAsked, PersonAsked, Spell, day_of
from jobs.calendar.effort import AT_ONCE, Effort
from jobs.calendar.planned import Answer
from jobs.calendar.rules import lateness
from jobs.models import Job, WeekPlan
from jobs.week.gather import Gathered, job_id, job_number
from jobs.week.kept import Standing, answered, checked, in_order_of, standing_of, standing_plan, try_out
from jobs.week.placing import Effect, effects_of
from jobs.week.why import day_in_words
from studio.house.week import DayHours

#: how much is tried for each remedy; so many half days, and so many jobs to go before, are tried; so many are told
TRYING = Effort(order_work=1500, ask_work=0)
MOST_DAYS, MOST_JOBS, MOST_TOLD = 8, 6, 4

Spells = Sequence[tuple[int, int]]


@dataclass(frozen=True, kw_only=True)
class Remedy:
    """Something that was tried. provided: what it asks, in words; others: what it does to other jobs.

    plan: the plan that shows it. other_job: the job that would come after it, by its number; 0: it asks for hours.
    """

    provided: str
    ready: date
    late: int
    others: Sequence[Effect]
    plan: Standing
    other_job: int = 0

    @property
    def in_words(self) -> str:
        return f"Could be {day_in_words(self.ready)} if {self.provided}."


def remedies_of(job: Job) -> list[Remedy]:
    """Return what makes a job of the plan ready sooner than it stands, the best first. Nothing is saved."""
    before, name = standing_plan(), job_id(job.number)
    if name not in before.plan.jobs:
        return []
    gathered, as_it_is = try_out(before, TRYING)
    found: dict[tuple[str, date], Remedy] = {}
    for kind, provided, number, asked, answer in (*_more_hours(before, gathered, as_it_is, name), *_after_it(
            before, gathered, name)):
        remedy = _remedy(before, replace(gathered, asked=asked), answer, name, provided, number)
        if remedy is not None:
            found.setdefault((kind, remedy.ready), remedy)
    return sorted(found.values(), key=lambda each: (each.late, each.ready, len(each.others)))[:MOST_TOLD]


Tried = tuple[str, str, int, CalendarAsked, Answer | None]


def _more_hours(before: Standing, gathered: Gathered, as_it_is: Answer | None, name: str) -> Iterator[Tried]:
    """Try a half day more of each, on days before the job is ready, those that leave the most notice first.

    What as much trying finds without it is no merit of the half day.
    """
    found = as_it_is.plan.jobs.get(name) if as_it_is is not None else None
    sooner_than = day_of(found.finish_minute) if found is not None else before.asked.days
    until = day_of(before.plan.jobs[name].finish_minute)
    for person in gathered.asked.people:
        usual = _usual(gathered.days, person.name)
        days = [at for at, day in enumerate(gathered.days) if 0 < at <= until and not day.because
                and _minutes(day.spells[person.name]) < _minutes(usual)]
        for at in list(reversed(days))[:MOST_DAYS // len(gathered.asked.people)]:
            mine = gathered.days[at].spells[person.name]
            spells = _joined([*mine, *usual]) if mine else _half(usual)
            asked = replace(gathered.asked, people=tuple(
                _with_hours(each, at, spells) if each is person else each for each in gathered.asked.people))
            hours = " and ".join(f"{_clock(low)} to {_clock(high)}" for low, high in spells)
            answer = answered(replace(gathered, asked=asked), before, TRYING)
            if answer is None or name not in answer.plan.jobs or (
                    day_of(answer.plan.jobs[name].finish_minute) >= sooner_than):
                continue
            yield (person.name, f"the {person.name} worked {day_in_words(gathered.days[at].day)}, {hours}", 0, asked,
                   answer)


def _after_it(before: Standing, gathered: Gathered, name: str) -> Iterator[Tried]:
    """Try to put the job before each that has slack and comes sooner."""
    order = in_order_of(before, gathered.asked.jobs)
    late = next(job for job in order if job.id == name)
    sooner = order[:order.index(late)]
    slack = [(_slack(before, job), job) for job in sooner if job.id in before.plan.jobs]
    ahead = sorted((each for each in slack if each[0] > 0), key=lambda each: -each[0])
    for _, other in ahead[:MOST_JOBS]:
        rest = [job for job in order if job is not late and job is not other]
        at = rest.index(order[order.index(late) + 1]) if order.index(late) + 1 < len(order) else len(rest)
        asked = replace(gathered.asked, jobs=(*rest[:at], late, other, *rest[at:]))
        number = job_number(other.id)
        yield "after", f"job {number} came after it", number, asked, checked(asked, AT_ONCE, None)


def _remedy(before: Standing, gathered: Gathered, answer: Answer | None, name: str, provided: str,
            other: int) -> Remedy | None:
    """Return what was tried as a remedy, if the job is sooner by it and no other is later than it may be."""
    if answer is None or name not in answer.plan.jobs or len(answer.plan.refused) > len(before.plan.refused):
        return None
    ready = gathered.asked.first_day + timedelta(days=day_of(answer.plan.jobs[name].finish_minute))
    if ready >= before.day(before.plan.jobs[name].finish_minute - 1):
        return None
    asked = {job.id: job for job in gathered.asked.jobs}
    for each, placed in answer.plan.jobs.items():
        was = before.plan.jobs.get(each)
        if was is not None and lateness(asked[each], placed.finish_minute) > lateness(asked[each], was.finish_minute):
            return None
    effects = effects_of(before, gathered, {each: placed.finish_minute for each, placed in answer.plan.jobs.items()})
    return Remedy(
        provided=provided, ready=ready, late=lateness(asked[name], answer.plan.jobs[name].finish_minute),
        others=[effect for effect in effects if effect.job != job_number(name)], other_job=other,
        plan=standing_of(gathered, answer, WeekPlan.By.FIRST_COME),
    )


def _slack(before: Standing, job: JobAsked) -> int:
    """Return the days between a job's ready day and its due day; of one without a due day, the whole calendar."""
    if job.due_day is None:
        return before.asked.days
    return job.due_day - day_of(before.plan.jobs[job.id].finish_minute)


def _usual(days: Sequence[DayHours], who: str) -> Spells:
    """Return the longest day of somebody's that is like other weeks."""
    return max((day.spells[who] for day in days if not day.because), key=_minutes, default=())


def _minutes(spells: Spells) -> int:
    return sum(high - low for low, high in spells)


def _half(usual: Spells) -> Spells:
    """Return a half day: up to the break, or half of a day without one."""
    low, high = usual[0]
    return [(low, high if len(usual) > 1 else low + (high - low) // 2 // GRID_MINUTES * GRID_MINUTES)]


def _joined(spells: Spells) -> Spells:
    """Return spells in order, those that touch made one."""
    found: list[tuple[int, int]] = []
    for low, high in sorted(spells):
        if found and low <= found[-1][1]:
            found[-1] = found[-1][0], max(high, found[-1][1])
        else:
            found.append((low, high))
    return found


def _with_hours(person: PersonAsked, at: int, spells: Spells) -> PersonAsked:
    day = at * DAY_MINUTES
    others = [spell for spell in person.hours if spell.start_minute // DAY_MINUTES != at]
    mine = [Spell(start_minute=day + low, end_minute=day + high) for low, high in spells]
    return replace(person, hours=tuple(sorted([*others, *mine], key=lambda spell: spell.start_minute)))


def _clock(minute: int) -> str:
    return f"{minute // 60}:{minute % 60:02}"
