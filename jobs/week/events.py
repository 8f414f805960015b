"""The events of the feed: made of the plan that stands, kept so that a UID stays and its sequence rises on a move."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from django.db.models import Q

from jobs.calendar.asked import StretchAsked, WorkAsked
from jobs.calendar.planned import PlacedWork
from jobs.models import Job, WeekEvent
from jobs.week.gather import job_number
from studio.house.clock import now, today
from studio.stockroom.models import Lot, Material
from studio.stockroom.models.materials import LONG
from studio.stockroom.shelf import lots_there

if TYPE_CHECKING:
    from jobs.week.kept import Standing

#: a cancelled event stays in the feed for so long, and one that is over
KEPT = timedelta(days=30)


@dataclass(frozen=True, kw_only=True)
class Found:
    """An event as the plan has it. job: its number, 0 for none."""

    uid: str
    summary: str
    description: str = ""
    starts: datetime | None = None
    ends: datetime | None = None
    first_on: date | None = None
    job: int = 0


def events_of(standing: Standing) -> list[Found]:
    """Return every event of a plan: stretches, works before and after the bench, mixings, and days."""
    return [*_works(standing), *_stretches(standing), *_mixings(standing), *_days(standing)]


def _works(standing: Standing) -> Iterator[Found]:
    asked = {job.id: job for job in standing.asked.jobs}
    for name, placed in standing.plan.jobs.items():
        job = asked[name]
        parts = (("before", "set-up, cutting and edges", job.before, placed.before),
                 ("after", "packing", job.after, placed.after))
        for part, what, works, places in parts:
            for at, (work, place) in enumerate(zip(works, places, strict=True), start=1):
                yield Found(
                    uid=f"{name}.{part}.{at}", summary=f"{job.called}: {what}", job=job_number(name),
                    starts=standing.at(place.start_minute), ends=standing.at(place.start_minute + work.minutes),
                    description=_by(place),
                )


def _stretches(standing: Standing) -> Iterator[Found]:
    safe = safe_by(standing)
    for load in standing.asked.loads:
        for asked in load.stretches:
            place = standing.plan.stretches.get(asked.id)
            note = standing.about.notes.get(asked.id)
            if place is None or note is None:
                continue
            end = end_of(asked, place.works)
            lines = [f"{standing.at(work.start_minute):%H:%M} {what} ({', '.join(work.people)})"
                     for work, what in zip(place.works, note.works, strict=True)]
            if asked.id in safe:
                lines.append(f"Made safe by {safe[asked.id]:%H:%M}.")
            number = job_number(asked.id)
            yield Found(
                uid=asked.id, job=number, starts=standing.at(place.start_minute), ends=standing.at(end),
                summary=f"Job {number}, load {note.load_number}: {note.works[0]}, {place.bench}",
                description="\n".join([f"{note.finish}, {note.panes} panes", *lines]),
            )


def _mixings(standing: Standing) -> Iterator[Found]:
    asked = {mix.key: mix for mix in standing.asked.mixes}
    times: Counter[str] = Counter()
    for mixing in standing.plan.mixings:
        mix = asked[mixing.key]
        times[mixing.key] += 1
        number = job_number(mixing.key)
        lines = [", ".join(mixing.people), *(f"for {name}" for name in sorted(
            {f"job {job_number(name)}" for name in mixing.stretches}))]
        if mix.safe_within_minutes is not None:
            lines.append(f"Made safe by {standing.at(mixing.start_minute + mix.safe_within_minutes):%H:%M}.")
        yield Found(
            uid=f"{mixing.key}.{times[mixing.key]}", job=number, summary=f"Job {number}: mix {mix.called}",
            starts=standing.at(mixing.start_minute), ends=standing.at(mixing.start_minute + mix.minutes),
            description="\n".join(lines),
        )


def _days(standing: Standing) -> Iterator[Found]:
    last = standing.first_day + timedelta(days=standing.asked.days)
    for job in standing.asked.jobs:
        number = job_number(job.id)
        if job.due_day is not None:
            on = standing.first_day + timedelta(days=job.due_day)
            yield Found(uid=f"{job.id}.due", summary=f"{job.called} is due", first_on=on, job=number)
        placed = standing.plan.jobs.get(job.id)
        if placed is not None:
            on = standing.day(placed.finish_minute - 1)
            yield Found(uid=f"{job.id}.ready", summary=f"{job.called} is ready", first_on=on, job=number)
    for each in standing.about.awaited:
        yield Found(uid=f"J{each.job}.awaited.{each.what}"[:110], summary=f"{each.what} comes, for job {each.job}",
                    first_on=each.on, job=each.job)
    for lot in lots_ending(standing.first_day, last):
        assert lot.expires_on is not None
        yield Found(uid=f"lot.{lot.pk}", summary=f"Last day of {lot.material.name}, lot {lot.lot_number}",
                    first_on=lot.expires_on)


def lots_ending(first: date, last: date) -> list[Lot]:
    """Return the lots on the shelf whose last day lies between two days, the first of them first. Two queries."""
    lots = lots_there(Material.objects.defer(*LONG))
    ending = [(ends_on, lot.pk, lot) for lot in lots if (ends_on := lot.expires_on) is not None]
    return [lot for on, _, lot in sorted(ending, key=lambda each: each[:2]) if first <= on < last]


def end_of(asked: StretchAsked, works: tuple[PlacedWork, ...]) -> int:
    """Return the minute at which a stretch leaves its bench."""
    last: WorkAsked = asked.works[-1]
    return works[-1].start_minute + last.minutes


def safe_by(standing: Standing) -> dict[str, datetime]:
    """Return until when what each stretch uses must be made safe, the earliest of its mixes."""
    asked = {mix.key: mix for mix in standing.asked.mixes}
    found: dict[str, datetime] = {}
    for mixing in standing.plan.mixings:
        within = asked[mixing.key].safe_within_minutes
        if within is not None:
            until = standing.at(mixing.start_minute + within)
            for name in mixing.stretches:
                found[name] = min(found.get(name, until), until)
    return found


def _by(place: PlacedWork) -> str:
    return ", ".join(place.people)


def keep_events(standing: Standing) -> None:
    """Bring the kept events to a new plan: what moved counts up, what is gone is cancelled. A fixed number of queries.
    """
    found = {event.uid: event for event in events_of(standing)}
    kept = {row.uid: row for row in WeekEvent.objects.all()}
    jobs = dict(Job.objects.filter(number__in={event.job for event in found.values()}).values_list("number", "pk"))
    moment, added, changed = now(), [], []
    for uid, event in found.items():
        values = {"starts_at": event.starts, "ends_at": event.ends, "first_on": event.first_on}
        said = {"summary": event.summary[:200], "description": event.description, "job_id": jobs.get(event.job)}
        row = kept.get(uid)
        if row is None:
            added.append(WeekEvent(uid=uid, changed_at=moment, **values, **said))
            continue
        moved = row.cancelled_at is not None or any(getattr(row, name) != value for name, value in values.items())
        if moved or any(getattr(row, name) != value for name, value in said.items()):
            row.sequence += moved
            for name, value in {**values, **said, "changed_at": moment, "cancelled_at": None}.items():
                setattr(row, name, value)
            changed.append(row)
    for uid, row in kept.items():
        ahead = row.starts_at > moment if row.starts_at else row.first_on is not None and row.first_on >= today()
        if uid not in found and row.cancelled_at is None and ahead:
            row.sequence, row.cancelled_at, row.changed_at = row.sequence + 1, moment, moment
            changed.append(row)
    WeekEvent.objects.bulk_create(added)
    WeekEvent.objects.bulk_update(changed, [
        "sequence", "starts_at", "ends_at", "first_on", "summary", "description", "job", "changed_at", "cancelled_at",
    ], batch_size=50)
    WeekEvent.objects.filter(
        Q(cancelled_at__lt=moment - KEPT) | Q(ends_at__lt=moment - KEPT) | Q(first_on__lt=(moment - KEPT).date()),
    ).delete()
