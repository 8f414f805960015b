"""Shared mixes that a plan does not make once any more, since a job of the two moved: withdrawn, with why."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from jobs.calendar.asked import CalendarAsked, day_of
from jobs.calendar.planned import Mixing, Plan
from jobs.models import SharedMix
from jobs.week.gather import PLANNED, job_id, job_of, names_of
from jobs.week.why import day_in_words
from jobs.work.shared_mixes import begun, withdraw, withdraw_what_is_over


def withdraw_parted(asked: CalendarAsked, plan: Plan) -> list[SharedMix]:
    """Withdraw, and return, what was agreed as one mix and a plan that is to stand makes apart. A few queries.

    A job for which the plan has no place parts nothing: it may find one again. What is in a jug is for both, also where
    it is weighed and not recorded as mixed yet.
    """
    withdraw_what_is_over()
    rows = [row for row in SharedMix.objects.of(PLANNED)
            if {job_id(row.job.number), job_id(row.other_job.number)} <= plan.jobs.keys()]
    in_a_jug = begun(rows) if rows else set()
    parted = []
    for row in rows:
        names = names_of(row)
        mixings = [mixing for mixing in plan.mixings if mixing.key in names]
        if row.pk in in_a_jug or any(_is_common(mixing) for mixing in mixings):
            continue
        withdraw(row, _why(row, mixings, plan, asked.first_day))
        parted.append(row)
    return parted


def _is_common(mixing: Mixing) -> bool:
    return len({job_of(name) for name in mixing.stretches}) > 1


def _why(row: SharedMix, mixings: Sequence[Mixing], plan: Plan, first: date) -> str:
    days: dict[str, date] = {}
    for mixing in mixings:
        for name in mixing.stretches:
            days[job_of(name)] = first + timedelta(days=day_of(plan.stretches[name].start_minute + 1))
    one, other = days.get(job_id(row.job.number)), days.get(job_id(row.other_job.number))
    if one is None or other is None:
        return "they are not two mixes of one solution for one vessel any more"
    if one == other:
        return f"on {day_in_words(one)} the plan has them too far apart for one mix"
    return f"job {row.job.number} is worked on {day_in_words(one)}, job {row.other_job.number} on {day_in_words(other)}"
