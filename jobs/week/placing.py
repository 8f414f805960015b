"""What the owner says of the week: pins, a weight, a day not to begin before. Each is tried before it is saved."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from uuid import UUID

from django.db import transaction

from jobs.calendar.effort import AT_ONCE
from jobs.calendar.planned import Answer
from jobs.models import Job, JobInWeek, PinnedStretch
from jobs.week.gather import Gathered, job_id, job_number
from jobs.week.kept import Standing, standing_plan, try_out
from jobs.week.why import day_in_words
from studio.house.clock import today
from studio.house.week import minute_of, the_week
from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened, in_words


class CannotPlace(DaybookError):
    """What the owner asks cannot be: a rule says why."""


@dataclass(frozen=True, kw_only=True)
class Effect:
    """What becomes of a job once something is pinned or moved. days: later than in the plan that stands; below 0:
    sooner. late: days after its due day.
    """

    job: int
    ready: date
    days: int
    late: int

    @property
    def in_words(self) -> str:
        moved = f"{abs(self.days)} day{'' if abs(self.days) == 1 else 's'} {'later' if self.days > 0 else 'sooner'}"
        late = f", {self.late} day{'' if self.late == 1 else 's'} after it is due" if self.late else ""
        return f"Job {self.job}: ready {day_in_words(self.ready)}, {moved}{late}"


@dataclass(frozen=True, kw_only=True)
class Pinning:
    """A stretch that is to stay at its time on its bench, or in somebody's hands; of stretch 0 a load that is to begin
    on its day.
    """

    load: str
    stretch: int
    on: date
    at: time | None = None
    bench: str = ""
    who: str = ""


@dataclass(frozen=True, kw_only=True)
class OfJob:
    weight: int
    not_before: date | None
    because: str


def _pin(job: Job, pinning: Pinning, key: UUID) -> None:
    PinnedStretch.objects.filter(job=job, load=pinning.load, stretch=pinning.stretch).delete()
    row = PinnedStretch(key=key, job=job, load=pinning.load, stretch=pinning.stretch, on=pinning.on, at=pinning.at,
                        bench=pinning.bench, who=pinning.who)
    row.full_clean()
    row.save()


def _say(job: Job, said: OfJob, saves: int | None) -> None:
    row, made = JobInWeek.objects.select_for_update().get_or_create(job=job)
    if not made:
        check_opened(row, saves, in_words(row, ("weight", "not_before", "because")))
    row.weight, row.not_before, row.because = said.weight, said.not_before, said.because
    row.full_clean()
    row.save()


def _check(pinning: Pinning) -> None:
    if pinning.on < today() and (pinning.at is not None or not pinning.stretch):
        raise CannotPlace("That day is past: choose one to come.", "on")
    if pinning.bench and pinning.bench not in the_week().bench_names:
        raise CannotPlace(f"There is no bench called {pinning.bench}.", "bench")


def try_pin(job: Job, pinning: Pinning, key: UUID) -> list[Effect]:
    """Return what a pin would do to each job. Raises CannotPlace where it cannot be, with the rule named."""
    _check(pinning)
    return _tried(job, lambda: _pin(job, pinning, key), f"{job_id(job.number)}.{pinning.load}", pinning)


def try_saying(job: Job, said: OfJob) -> list[Effect]:
    """Return what another weight, or a day not to begin before, would do. Raises CannotPlace."""
    return _tried(job, lambda: _say(job, said, None), "", None)


def _tried(job: Job, change: Callable[[], None], load: str, pinning: Pinning | None) -> list[Effect]:
    """Make a change, plan by it, and take it back."""
    before, gathered, answer = tried_out(change, CannotPlace(
        "No plan keeps every rule with that: choose another time.", "at"))
    for refusal in answer.plan.refused:
        if job_number(refusal.job) == job.number and refusal.job in before.plan.jobs:
            raise CannotPlace(f"That cannot be: {refusal.why}", "at")
    if pinning is not None and pinning.stretch:
        _refuse_unkept(gathered, f"{load}.{pinning.stretch}", pinning)
    elif pinning is not None and load not in {each.id for each in gathered.asked.loads}:
        raise CannotPlace("That load is done, or not of this job: look at the week again.", "on")
    return with_a_place_for_all(before, gathered, answer, "at")


def tried_out(change: Callable[[], object], none_keeps: CannotPlace) -> tuple[Standing, Gathered, Answer]:
    """Make a change, plan by it, and take it back. none_keeps: raised where no plan keeps every rule with it."""
    before = standing_plan()
    with transaction.atomic():
        change()
        gathered, answer = try_out(before, AT_ONCE)
        transaction.set_rollback(True)
    if answer is None:
        raise none_keeps
    return before, gathered, answer


def with_a_place_for_all(before: Standing, gathered: Gathered, answer: Answer, field: str) -> list[Effect]:
    """Return what a plan that was tried does to each job. Raises CannotPlace of a field where one has no place in it.
    """
    for refusal in answer.plan.refused:
        if refusal.job in before.plan.jobs:
            raise CannotPlace(f"That leaves no place for job {job_number(refusal.job)}: {refusal.why}", field)
    return effects_of(before, gathered, {name: placed.finish_minute for name, placed in answer.plan.jobs.items()})


def _refuse_unkept(gathered: Gathered, name: str, pinning: Pinning) -> None:
    """Refuse a pin that was not taken as one: its time is past, or its stretch is not to be done any more."""
    pinned = {stretch.id: stretch.pinned for load in gathered.asked.loads for stretch in load.stretches}
    if name not in pinned:
        raise CannotPlace("That stretch is done, or not of this job: look at the week again.")
    if pinning.at is None:
        return  # pinned to hands alone: it goes where the plan puts it
    start = minute_of(datetime.combine(pinning.on, pinning.at), gathered.asked.first_day)
    place = pinned[name]
    if place is None or place.start_minute != start:
        raise CannotPlace("That time is past: choose one to come.", "at")


def effects_of(before: Standing, gathered: Gathered, finish: dict[str, int]) -> list[Effect]:
    """Return the jobs that are ready on another day than in the plan that stands, those that get late first."""
    found = []
    for job in gathered.asked.jobs:
        if job.id not in finish or job.id not in before.plan.jobs:
            continue
        day = (finish[job.id] - 1) // 1440
        was = before.day(before.plan.jobs[job.id].finish_minute - 1)
        ready = gathered.asked.first_day.fromordinal(gathered.asked.first_day.toordinal() + day)
        if ready != was:
            late = 0 if job.due_day is None else max(day - job.due_day, 0)
            found.append(Effect(job=job_number(job.id), ready=ready, days=(ready - was).days, late=late))
    return sorted(found, key=lambda effect: (-effect.late, -effect.days, effect.job))


@transaction.atomic
def save_pin(job: Job, pinning: Pinning, key: UUID) -> None:
    """Pin it; sent twice with one key it counts once."""
    if not PinnedStretch.objects.filter(key=key).exists():
        _check(pinning)
        _pin(job, pinning, key)


@transaction.atomic
def save_saying(job: Job, said: OfJob, saves: int | None) -> None:
    """Save a job's weight and the day it does not begin before. Raises ChangedMeanwhile."""
    _say(job, said, saves)


def pins_of(job: Job) -> Sequence[PinnedStretch]:
    return list(PinnedStretch.objects.filter(job=job))
