"""The plan that stands: worked out anew when anything it rests on is another, checked, kept with what moved.

First come runs in the request, beside the plan of before with its order; the longer search runs apart, and what it
finds is offered (`offers.py`). A plan that breaks a rule is discarded: the one before stands, and says so.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property, lru_cache
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import TextField
from django.db.models.functions import Cast

from jobs.calendar.asked import DAY_MINUTES, CalendarAsked, JobAsked
from jobs.calendar.effort import AT_ONCE, Effort
from jobs.calendar.planned import Answer, Plan, Value
from jobs.calendar.planning import PlanBreaksRules, plan
from jobs.calendar.rules import broken
from jobs.frozen import freeze, thaw
from jobs.models import WeekPlan
from jobs.week.awaited import Awaited
from jobs.week.events import keep_events
from jobs.week.gather import Gathered, gather, job_number, job_of, mark_of, moment_of
from jobs.week.of_estimate import StretchNote
from jobs.week.parted import withdraw_parted
from studio.house.clock import house_zone, now, today
from studio.house.week import DayHours
from studio.kit.locks import one_by_one

#: how it is worked out; raised with every change by which the same input may come to another plan
VERSION = "1"
#: something that the plan put first may begin so late before the plan is worked out anew
LATE = timedelta(minutes=90)
#: after every minute of a calendar
LAST = 10**9
#: so many parts of plans are held ready
MOST_READ = 8
#: so many plans are kept
MOST_KEPT = 30
Frozen = TypeVar("Frozen")


@dataclass(frozen=True, kw_only=True)
class About:
    """What a page says beside a plan."""

    notes: Mapping[str, StretchNote]
    left_out: Mapping[int, str]
    awaited: tuple[Awaited, ...]
    short: Mapping[int, tuple[str, ...]]
    days: tuple[DayHours, ...]


@dataclass(frozen=True, kw_only=True)
class Standing:
    """The plan that stands, as it was asked and answered."""

    row: WeekPlan

    @cached_property
    def asked(self) -> CalendarAsked:
        return self._read("asked", CalendarAsked)

    @cached_property
    def plan(self) -> Plan:
        return self._read("plan", Plan)

    @cached_property
    def value(self) -> Value:
        return self._read("value", Value)

    @cached_property
    def about(self) -> About:
        return self._read("about", About)

    def _read(self, column: str, kind: type[Frozen]) -> Frozen:
        written: str | None = getattr(self.row, f"{column}_as_kept", None)
        read: Frozen = thaw(getattr(self.row, column), kind) if written is None else _read_once(kind, written)  # type: ignore[arg-type]
        return read

    @cached_property
    def zone(self) -> ZoneInfo:
        return house_zone()

    @property
    def first_day(self) -> date:
        return self.asked.first_day

    def at(self, minute: int) -> datetime:
        return moment_of(self.first_day, minute, self.zone)

    def day(self, minute: int) -> date:
        return self.first_day + timedelta(days=minute // DAY_MINUTES)

    @property
    def places(self) -> dict[str, tuple[date, datetime, str]]:
        """Return the day, the moment and the bench of each stretch."""
        return {name: (self.day(place.start_minute), self.at(place.start_minute), place.bench)
                for name, place in self.plan.stretches.items()}


@lru_cache(maxsize=MOST_READ)
def _read_once(kind: Any, written: str) -> Any:
    """Return what was frozen: a plan stands for many pages, and of a full week it is long. Nobody changes one."""
    return thaw(json.loads(written), kind)


def kept_plan() -> Standing | None:
    """Return the plan that was made last, however old; what is frozen of it as the database keeps it."""
    frozen = ("asked", "plan", "value", "about")
    rows = WeekPlan.objects.filter(offered=False).defer(*frozen).annotate(
        **{f"{column}_as_kept": Cast(column, TextField()) for column in frozen})
    row = rows.first()
    return Standing(row=row) if row else None


def is_current(row: WeekPlan) -> bool:
    return row.mark == mark_of(today()) and now() < row.good_until and row.version == VERSION


def standing_plan() -> Standing:
    """Return the plan that stands now; worked out first come where anything it rests on is another."""
    kept = kept_plan()
    if kept is not None and is_current(kept.row):
        return kept
    return work_out(AT_ONCE, WeekPlan.By.FIRST_COME)


def work_out(effort: Effort, by: str) -> Standing:
    """Work the plan out anew and keep it. One that breaks a rule is discarded: the former one stands, with a word."""
    before = kept_plan()
    gathered, answer = try_out(before, effort)
    if answer is None:
        if before is None:
            answer = Answer(plan=Plan(), value=Value(refused=0, late=0, finish_days=0, mixings=0, moved=0))
            return _keep(gathered, answer, by, None, trouble="No plan could be worked out that keeps every rule.")
        return _keep_former(before, gathered)
    return _keep(gathered, answer, by, before)


def try_out(before: Standing | None, effort: Effort) -> tuple[Gathered, Answer | None]:
    """Return what is asked now with its answer; what was about to begin stays, unless a job would find no place."""
    gathered = gather(before.places if before else None)
    answer = answered(gathered, before, effort)
    if before is not None and (answer is None or answer.value.refused):
        loose = gather(before.places, freezes=False)
        other = answered(loose, before, effort)
        if other is not None and (answer is None or other.value.refused < answer.value.refused):
            return loose, other
    return gathered, answer


def answered(gathered: Gathered, before: Standing | None, effort: Effort) -> Answer | None:
    """Return the better of what comes in the order of booking and in the order of the plan before; None: neither."""
    former = before.plan if before is not None and before.first_day == gathered.asked.first_day else None
    found = [checked(gathered.asked, effort, former)]
    if before is not None:
        order = in_order_of(before, gathered.asked.jobs)
        if order != gathered.asked.jobs:
            found.append(checked(replace(gathered.asked, jobs=order), effort, former))
    return min((answer for answer in found if answer is not None), key=lambda answer: answer.value, default=None)


def in_order_of(before: Standing, jobs: Sequence[JobAsked]) -> tuple[JobAsked, ...]:
    """Return jobs in the order in which a plan begins their loads, those that it has none of last."""
    starts: dict[str, int] = {}
    for name, row in before.plan.stretches.items():
        starts[job_of(name)] = min(row.start_minute, starts.get(job_of(name), LAST))
    return tuple(sorted(jobs, key=lambda job: starts.get(job.id, LAST)))


def checked(asked: CalendarAsked, effort: Effort, former: Plan | None) -> Answer | None:
    """Return the planner's answer, if it keeps every rule. former: a plan of the same day, to begin from."""
    try:
        answer = plan(asked, effort, former)
    except PlanBreaksRules:
        return None
    return None if broken(asked, answer.plan) else answer


@transaction.atomic
def _keep(gathered: Gathered, answer: Answer, by: str, before: Standing | None, trouble: str = "") -> Standing:
    one_by_one("plan of the week")
    newest = WeekPlan.objects.filter(offered=False).first()
    if newest is not None and (before is None or newest.pk != before.row.pk) and newest.mark == gathered.mark:
        return Standing(row=newest)  # somebody else worked out the same meanwhile
    return keep(standing_of(gathered, answer, by, trouble), before)


def keep(standing: Standing, before: Standing | None) -> Standing:
    """Save a plan as the one that stands, with what moved against the one before. In a transaction."""
    parted = [freeze(Moved(
        job=row.job.number, what=f"mix of {row.called} with job {row.other_job.number}", was="one for both",
        now=f"each its own: {row.withdrawn_because}",
    )) for row in withdraw_parted(standing.asked, standing.plan)]
    standing.row.moved = [*parted, *(moved_since(before, standing) if before else [])]
    standing.row.save()
    old = WeekPlan.objects.order_by("-pk").values_list("pk", flat=True)[MOST_KEPT:]
    WeekPlan.objects.filter(pk__in=list(old)).delete()
    keep_events(standing)
    return standing


def standing_of(gathered: Gathered, answer: Answer, by: str, trouble: str = "") -> Standing:
    """Return a plan as it is kept and shown; it is not saved by this."""
    return Standing(row=WeekPlan(
        made_at=now(), mark=gathered.mark, by=by, version=VERSION, asked=freeze(gathered.asked),
        plan=freeze(answer.plan), value=freeze(answer.value), trouble=trouble, good_until=_good_until(gathered, answer),
        about=freeze(About(
            notes=gathered.notes, left_out=gathered.left_out, awaited=tuple(gathered.awaited),
            short={job: tuple(names) for job, names in gathered.short.items()}, days=tuple(gathered.days),
        )),
    ))


def _keep_former(before: Standing, gathered: Gathered) -> Standing:
    """Let the former plan stand on, and say why."""
    row = before.row
    row.trouble = ("What was worked out anew broke a rule and was discarded: this plan is of before the last change. "
                   "Loosen a pin, or look at the hours.")
    row.mark, row.good_until = gathered.mark, now() + LATE
    row.save(update_fields=["trouble", "mark", "good_until"])
    return before


def _good_until(gathered: Gathered, answer: Answer) -> datetime:
    """Return when a plan is worked out anew though nothing was changed: what it put first should have begun."""
    starts = [place.start_minute for place in answer.plan.stretches.values()]
    starts += [work.start_minute for job in answer.plan.jobs.values() for work in (*job.before, *job.after)]
    first = min(starts, default=DAY_MINUTES)
    return moment_of(gathered.asked.first_day, first, house_zone()) + LATE


@dataclass(frozen=True, kw_only=True)
class Moved:
    """A stretch, or a job's day, that is another than in the plan before. was, now: in words."""

    job: int
    what: str
    was: str
    now: str


def moved_since(before: Standing, standing: Standing) -> list[dict[str, Any]]:
    """Return what moved to another day, or within today and tomorrow to another time or bench."""
    found: list[Moved] = []
    was, soon = before.places, today() + timedelta(days=1)
    for name, (day, starts, bench) in standing.places.items():
        if name not in was or was[name] == (day, starts, bench):
            continue
        old_day, old_starts, old_bench = was[name]
        if old_day == day and day > soon:
            continue
        if old_starts < now():
            continue  # it should have begun, and that is no news of the plan's
        note = standing.about.notes.get(name)
        found.append(Moved(
            job=job_number(name), what=f"load {note.load_number}, {note.works[0]}" if note else name,
            was=f"{old_day:%a} {old_day.day} {old_day:%b} {old_starts:%H:%M}, {old_bench}",
            now=f"{day:%a} {day.day} {day:%b} {starts:%H:%M}, {bench}",
        ))
    ready = {name: before.day(job.finish_minute - 1) for name, job in before.plan.jobs.items()}
    for name, job in standing.plan.jobs.items():
        day = standing.day(job.finish_minute - 1)
        if name in ready and ready[name] != day:
            found.append(Moved(job=job_number(name), what="ready", was=_day(ready[name]), now=_day(day)))
    found.sort(key=lambda each: (each.what != "ready", each.job))
    return [freeze(each) for each in found]


def unseen_moves() -> list[Moved]:
    """Return what moved in plans that nobody has read of yet, the newest first."""
    rows = WeekPlan.objects.filter(seen_at=None, offered=False).exclude(moved=[]).order_by("-pk")[:MOST_KEPT]
    return [thaw(each, Moved) for row in rows for each in row.moved]


def mark_seen() -> int:
    return WeekPlan.objects.filter(seen_at=None, offered=False).update(seen_at=now())


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
