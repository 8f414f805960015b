"""Gathers what the calendar is asked: who is there when, benches, and what is left of every job that is booked.

What it rests on is marked (`mark_of`): as long as the mark is the same, a plan of before stands.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, Max, Q

from jobs.calendar.asked import (
    DAY_MINUTES,
    GRID_MINUTES,
    CalendarAsked,
    Earliest,
    JobAsked,
    LoadAsked,
    MixAsked,
    PersonAsked,
    Pin,
    Spell,
    rounded_up,
)
from jobs.estimating.basis import Basis, BoughtInFacts
from jobs.estimating.estimate import Estimate
from jobs.frozen import thaw
from jobs.models import Job, JobInWeek, PinnedStretch, Run, RunEntry, SharedMix
from jobs.quotes.frozen_plan import thaw_plan
from jobs.week.awaited import Awaited, awaited_by, shelf_of
from jobs.week.done import recorded_on
from jobs.week.of_estimate import AskedOfJob, Recorded, StretchNote, asked_of
from jobs.week.pairs import Shareable, pair_of, shareable_of, shared_in
from jobs.work import states
from jobs.work.entries import Entries
from jobs.work.further_ticket import plan_of_rest
from jobs.work.shared_mixes import is_for_the_taker, mixed_at
from studio.house.clock import house_zone, now, today
from studio.house.models import HouseRates
from studio.house.week import DayHours, days_from, minute_of, the_week
from studio.house.week_models import HANDS, DayApart, StudioWeek
from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import whole_number
from studio.stockroom.models import Purchase

PLANNED = (states.ON_THE_BENCH, states.PART_DONE, states.BOOKED)
#: so many frozen estimates are held ready
MOST_READ = 64
#: work that is done to the glass elsewhere, after it is cut
OUTSIDE = frozenset({"toughening", "bevelling", "drilling"})


@dataclass(frozen=True, kw_only=True)
class Gathered:
    """What is asked, and what a page says beside it: of stretches, jobs left out, deliveries, days that differ."""

    asked: CalendarAsked
    notes: Mapping[str, StretchNote]
    mark: str
    left_out: Mapping[int, str] = field(default_factory=dict)
    awaited: Sequence[Awaited] = ()
    short: Mapping[int, Sequence[str]] = field(default_factory=dict)
    days: Sequence[DayHours] = ()
    shareable: Mapping[str, Shareable] = field(default_factory=dict)


def job_id(number: int) -> str:
    return f"J{number}"


def job_of(name: str) -> str:
    """Return the id of the job that a load, stretch or mix is named by."""
    return name.partition(".")[0]


def job_number(name: str) -> int:
    """Return the number of the job that an id of a job, load or stretch names."""
    return whole_number(name[1:].partition(".")[0])


def moment_of(first_day: date, minute: int, zone: ZoneInfo) -> datetime:
    """Return a minute of a calendar as a moment, by the studio's clock."""
    day, rest = divmod(minute, DAY_MINUTES)
    return datetime.combine(first_day + timedelta(days=day), time(rest // 60, rest % 60), tzinfo=zone)


def beginning_of(day: date, first: date) -> int:
    """Return when a day begins; just after midnight, which is the end of the day before."""
    return (day - first).days * DAY_MINUTES + GRID_MINUTES if day > first else 0


def mark_of(first_day: date) -> str:
    """Return a mark of everything that a plan rests on. A fixed number of small queries."""
    jobs = Job.objects.filter(state__in=PLANNED).order_by("pk")
    held: list[Any] = [
        first_day.isoformat(),
        list(jobs.values_list("pk", "state", "saves", "due_on", "quote_id", "booked_at", "quote__state")),
        list(Run.objects.open().order_by("pk").values_list("pk", "ticket_id")),
        RunEntry.objects.filter(run__ticket__job__in=jobs).aggregate(Max("pk"), Count("pk")),
        list(JobInWeek.objects.order_by("pk").values_list("job_id", "weight", "not_before", "because")),
        list(PinnedStretch.objects.order_by("pk").values_list(
            "job_id", "load", "stretch", "on", "at", "bench", "who")),
        list(Purchase.objects.filter(lot=None, cancelled_because="").order_by("pk").values_list(
            "pk", "material_id", "quantity", "due_on")),
        shelf_of(jobs),
        list(SharedMix.objects.agreed().order_by("pk").values_list("job_id", "mix", "other_job_id", "other_mix")),
        list(StudioWeek.objects.values_list()),
        list(DayApart.objects.filter(last_on__gte=first_day).order_by("pk").values_list(
            "pk", "who", "first_on", "last_on", "spells", "because", "kept_free")),
        list(HouseRates.objects.order_by("pk").values_list("pk", "saves")),
    ]
    return hashlib.sha256(json.dumps(held, default=str).encode()).hexdigest()


def gather(former: Mapping[str, tuple[date, datetime, str]] | None = None, *, freezes: bool = True) -> Gathered:
    """Gather what the calendar is asked now.

    former: the day, the moment and the bench of each stretch in the plan that stands. freezes: what starts by the end
    of the next working day stays where it is.
    """
    first = today()
    mark = mark_of(first)
    week = the_week()
    days = days_from(first, week.look_ahead_days)
    people = _people(days)
    jobs = _jobs()
    two_pairs = len(people) > 1
    entries = _entries(jobs)
    awaited, short = awaited_by(jobs, first)
    at = minute_of(now().astimezone(house_zone()), first)
    asked_jobs: list[JobAsked] = []
    loads: list[LoadAsked] = []
    mixes: list[MixAsked] = []
    notes: dict[str, StretchNote] = {}
    left_out: dict[int, str] = {}
    shareable: dict[str, Shareable] = {}
    taken = _taken_from_another(jobs)
    places = _Places(first=first, now_minute=rounded_up(at), former=former or {}, benches=week.bench_names,
                     frozen_to=_end_of_next_working_day(days, at) if freezes else -1, pins=_pins(jobs, first))
    for job in jobs:
        try:
            estimate, recorded = _left_of(job, entries.get(job.pk))
            recorded = replace(recorded, mixed={*recorded.mixed, *taken.get(job.pk, ())})
        except DaybookError as refusal:
            left_out[job.number] = str(refusal)
            continue
        mine = asked_of(job_id(job.number), estimate, two_pairs=two_pairs, recorded=recorded)
        mine_awaited = [each for each in awaited if each.job == job.number]
        asked_jobs.append(_job(job, mine, estimate, mine_awaited, recorded, first))
        loads += [places.placed(load, mine) for load in mine.loads]
        mixes += mine.mixes
        notes |= mine.notes
        if job.state != states.PART_DONE and not _makes_rest(entries.get(job.pk)):
            # a further ticket numbers its mixes anew: what of it is shared could not be told from what was
            shareable |= shareable_of(job_id(job.number), estimate, [mix.key for mix in mine.mixes])
    asked = CalendarAsked(
        first_day=first, now_minute=rounded_up(at), days=week.look_ahead_days, people=people,
        benches=tuple(week.bench_names), mixes=tuple(mixes), jobs=tuple(asked_jobs), loads=tuple(loads),
    )
    pairs = [pair for names in shared_pairs() if (pair := pair_of(*names, shareable)) is not None]
    return Gathered(
        asked=shared_in(asked, pairs), shareable=shareable, notes=notes, mark=mark, left_out=left_out, awaited=awaited,
        short=short, days=days,
    )


def shared_pairs() -> list[tuple[str, str]]:
    """Return the mixes of two jobs that the owner accepted as one, by name. One query."""
    return [names_of(row) for row in SharedMix.objects.of(PLANNED)]


def names_of(row: SharedMix) -> tuple[str, str]:
    return f"{job_id(row.job.number)}.m{row.mix}", f"{job_id(row.other_job.number)}.m{row.other_mix}"


def _people(days: Sequence[DayHours]) -> tuple[PersonAsked, ...]:
    """Return the owner, and the helper where there is one, with all their spells."""
    found = []
    for who in HANDS:
        hours = tuple(
            Spell(start_minute=at * DAY_MINUTES + begins, end_minute=at * DAY_MINUTES + ends)
            for at, day in enumerate(days) for begins, ends in day.spells[who]
        )
        if hours or who == HANDS[0]:
            found.append(PersonAsked(name=who, role=who, hours=hours))  # type: ignore[arg-type]
    return tuple(found)


def _jobs() -> list[Job]:
    """Return the jobs to plan, in the order of booking; what is on the bench comes first."""
    rows = Job.objects.filter(state__in=PLANNED).select_related("order", "quote", "in_week").order_by("booked_at", "pk")
    return sorted(rows, key=lambda job: job.state == states.BOOKED)


def _entries(jobs: Sequence[Job]) -> dict[int, tuple[Run, Entries]]:
    """Return the open run of each job that has one, with what is recorded on it. Two queries."""
    runs = {run.ticket.job_id: run for run in Run.objects.open().filter(
        ticket__job__in=[job.pk for job in jobs]).select_related("ticket__job__quote").order_by("pk")}
    rows: dict[int, list[RunEntry]] = defaultdict(list)
    for entry in RunEntry.objects.filter(run__in=list(runs.values())).order_by("pk"):
        rows[entry.run_id].append(entry)
    return {job: (run, Entries(rows[run.pk])) for job, run in runs.items()}


def _left_of(job: Job, run: tuple[Run, Entries] | None) -> tuple[Estimate, Recorded]:
    """Return what a job was worked out as, or its rest, and what of it is done. Raises DaybookError."""
    assert job.quote is not None  # a constraint keeps it
    if job.state == states.PART_DONE or _makes_rest(run):
        return plan_of_rest(job, run[0] if run else None)[1], recorded_on(run)
    return _read_once(json.dumps([job.quote.basis, job.quote.plan])), recorded_on(run)


def _makes_rest(run: tuple[Run, Entries] | None) -> bool:
    return run is not None and run[0].is_further


def _taken_from_another(jobs: Sequence[Job]) -> dict[int, list[str]]:
    """Return the mixes of jobs, m3, that another job's ticket mixed for them. Two queries."""
    rows = list(SharedMix.objects.agreed().filter(other_job__in=[job.pk for job in jobs]))
    made = mixed_at(rows) if rows else {}
    found: dict[int, list[str]] = defaultdict(list)
    for row in rows:
        if made[row.pk][0] is not None and is_for_the_taker(row, made[row.pk][0]):
            found[row.other_job_id].append(f"m{row.other_mix}")
    return found


@lru_cache(maxsize=MOST_READ)
def _read_once(frozen: str) -> Estimate:
    """Return an estimate as it was frozen: what is frozen stays, so that each is read once. Raises DaybookError."""
    basis, plan = json.loads(frozen)
    return thaw_plan(plan, thaw(basis, Basis)).estimate


def _pins(jobs: Sequence[Job], first: date) -> dict[str, PinnedStretch]:
    """Return what the owner pinned on days to come, by the id of its stretch, or of its load."""
    numbers = {job.pk: job.number for job in jobs}
    found = {}
    for pin in PinnedStretch.objects.filter(Q(on__gte=first) | Q(at=None, stretch__gte=1), job__in=list(numbers)):
        load = f"{job_id(numbers[pin.job_id])}.{pin.load}"
        found[f"{load}.{pin.stretch}" if pin.stretch else load] = pin
    return found


def _end_of_next_working_day(days: Sequence[DayHours], at: int) -> int:
    """Return the minute at which the next working day after today ends."""
    following = next((n for n, day in enumerate(days) if n > at // DAY_MINUTES and day.is_open), 0)
    return (following + 1) * DAY_MINUTES


@dataclass(frozen=True, kw_only=True)
class _Places:
    """Where stretches stood and where they must stay: pinned, or about to begin."""

    first: date
    now_minute: int
    former: Mapping[str, tuple[date, datetime, str]]
    benches: Sequence[str]
    frozen_to: int
    pins: Mapping[str, PinnedStretch]

    def placed(self, load: LoadAsked, mine: AskedOfJob) -> LoadAsked:
        stretches = []
        for at, asked in enumerate(load.stretches):
            stretch = asked
            if stretch.id in mine.waits_since:
                done, waits = mine.waits_since[stretch.id]
                dry = done.astimezone(UTC) + timedelta(minutes=waits)  # elapsed, whatever the clock does meanwhile
                least = minute_of(dry.astimezone(house_zone()), self.first)
                stretch = replace(stretch, earliest_minute=rounded_up(max(least, 0)))
            pin = self.pins.get(stretch.id)
            of_load = self.pins.get(load.id) if at == 0 else None
            if pin is not None and pin.who:
                stretch = replace(stretch, works=tuple(replace(work, by=pin.who) for work in stretch.works))
            if pin is not None and pin.at is not None and pin.bench in self.benches:
                start = minute_of(datetime.combine(pin.on, pin.at), self.first)
                if start >= self.now_minute:
                    stretch = replace(stretch, pinned=Pin(start_minute=start, bench=pin.bench))
            elif of_load is not None:
                day = (of_load.on - self.first).days * DAY_MINUTES
                stretch = replace(stretch, earliest_minute=max(day, stretch.earliest_minute or 0),
                                  latest_minute=day + DAY_MINUTES - 1)
            stretches.append(self._as_before(stretch))
        return replace(load, stretches=tuple(stretches))

    def _as_before(self, stretch: Any) -> Any:
        if stretch.id not in self.former:
            return stretch
        on, starts, bench = self.former[stretch.id]
        stretch = replace(stretch, was_day=(on - self.first).days)
        start = minute_of(starts.astimezone(house_zone()), self.first)
        if stretch.pinned is None and self.now_minute <= start < self.frozen_to and bench in self.benches and (
                stretch.earliest_minute is None or stretch.earliest_minute <= start) and (
                stretch.latest_minute is None or start <= stretch.latest_minute):
            stretch = replace(stretch, pinned=Pin(start_minute=start, bench=bench))
        return stretch


def _job(
    job: Job, mine: AskedOfJob, estimate: Estimate, awaited: Sequence[Awaited], recorded: Recorded, first: date,
) -> JobAsked:
    own: JobInWeek | None = getattr(job, "in_week", None)
    go_ahead = job.booked_at.astimezone(house_zone()).date() if job.booked_at else first
    causes: dict[str, list[tuple[date, str]]] = {"before": [], "bench": [], "packing": []}
    for each in awaited:
        causes["before" if each.is_glass and not recorded.begun else "bench"].append((each.on, f"{each.what} comes"))
    if own is not None and own.not_before is not None:
        causes["before"].append((own.not_before, own.because or f"not before {_day(own.not_before)}"))
    if job.waiting_revision is not None:
        causes["before"].append((first + timedelta(days=1), "the customer's answer to the changed order"))
    outside = 0
    for item in estimate.basis.bought_in:
        there = item.due_on or go_ahead + timedelta(days=item.days)
        if recorded.begun and item.before == "silvering":
            continue
        if item.kind in OUTSIDE and item.before == "silvering" and item.due_on is None:
            outside = max(outside, item.days * DAY_MINUTES)
        elif item.before == "silvering":
            causes["bench"].append((there, f"{item.name} comes"))
        elif item.kind != "carriage":
            causes["packing"].append((there, f"{item.name} comes"))
    earliest = {part: max(known, default=(first, "")) for part, known in causes.items()}
    minutes = {part: beginning_of(on, first) for part, (on, _) in earliest.items()}
    said = {part: cause if on > first else "" for part, (on, cause) in earliest.items()}
    cured = 0
    if recorded.done and not mine.loads:
        last = max(recorded.done.values()).astimezone(UTC) + timedelta(hours=float(estimate.basis.house.cure_hours))
        cured = max(minute_of(last.astimezone(house_zone()), first), 0)
    return JobAsked(
        id=job_id(job.number), name=str(job), due_day=(job.due_on - first).days if job.due_on else None,
        weight=own.weight if own else 1, before=mine.before, after=mine.after, cure_minutes=mine.cure_minutes,
        outside_minutes=0 if recorded.begun else outside,
        earliest=Earliest(
            before_minute=minutes["before"], bench_minute=minutes["bench"],
            packing_minute=max(minutes["packing"], rounded_up(cured)), before_cause=said["before"],
            bench_cause=said["bench"], packing_cause=said["packing"],
        ),
    )


def further_earliest(items: Sequence[BoughtInFacts], go_ahead: date, first: date) -> tuple[Earliest, int]:
    """Return the earliest starts of an order that is gone ahead with on a day, and its days of outside work."""
    bench, packing, outside = (go_ahead, "the go-ahead"), (go_ahead, ""), 0
    for item in items:
        there = item.due_on or go_ahead + timedelta(days=item.days)
        if item.kind in OUTSIDE and item.before == "silvering" and item.due_on is None:
            outside = max(outside, item.days * DAY_MINUTES)
        elif item.before == "silvering":
            bench = max(bench, (there, f"{item.name} comes"))
        elif item.kind != "carriage":
            packing = max(packing, (there, f"{item.name} comes"))

    return Earliest(
        before_minute=beginning_of(go_ahead, first), bench_minute=beginning_of(bench[0], first),
        packing_minute=beginning_of(packing[0], first),
        before_cause="the go-ahead" if go_ahead > first else "", bench_cause=bench[1] if bench[0] > first else "",
        packing_cause=packing[1] if packing[0] > first else "",
    ), outside


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
