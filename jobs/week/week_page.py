"""What the week's page shows: days with their rows in the order of the hand, jobs, and what is late or left out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from jobs.calendar.asked import DAY_MINUTES, JobAsked
from jobs.calendar.planned import Mixing
from jobs.models import Job, PinnedStretch
from jobs.week.events import end_of, lots_ending, safe_by
from jobs.week.gather import job_number, job_of
from jobs.week.kept import Standing
from jobs.week.why import why_then
from studio.house.clock import today
from studio.house.week import DayHours

#: so many days on a page
A_WEEK = 7
#: a strip of a day: its width, a lane's height, the hours where nothing says otherwise
WIDE, LANE, FROM, TO = 960, 26, 8 * 60, 18 * 60
#: a mix stands above the step that needs it, where both begin at once
_ORDER = {"mix": 0, "bench": 1, "work": 2}


@dataclass(frozen=True, kw_only=True)
class Row:
    """One thing that is done: a mix, a stretch on its bench, or work beside it. id: its stretch's, or "".

    hands: of a stretch, who is at it from when for how many minutes; between them it lies by itself.
    """

    kind: str
    what: str
    job: int
    starts: datetime
    ends: datetime
    who: str
    bench: str = ""
    steps: Sequence[tuple[datetime, str, str]] = ()
    hands: Sequence[tuple[str, datetime, int]] = ()
    safe_by: datetime | None = None
    note: str = ""
    pinned: bool = False
    late: bool = False
    id: str = ""

    @property
    def minutes(self) -> int:
        return round((self.ends - self.starts).total_seconds() / 60)


@dataclass(frozen=True, kw_only=True)
class Piece:
    """A stretch, mix or work in a day's strip. x, width: in its units; kind: how it is drawn."""

    x: str
    y: int
    width: str
    kind: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Strip:
    """A day drawn: a lane a bench, with what lies on it, and one a person, with all that takes their hands."""

    lanes: Sequence[tuple[str, int]]
    pieces: Sequence[Piece]
    ticks: Sequence[tuple[str, str]]
    height: int


@dataclass(frozen=True, kw_only=True)
class Day:
    on: date
    hours: Sequence[tuple[str, str]]
    because: str
    rows: Sequence[Row]
    strip: Strip | None
    all_day: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class JobShown:
    """A job of the plan: when it is ready, how many days late, and why not sooner."""

    number: int
    ready: date | None
    due: date | None
    late: int
    why: str
    rows: Sequence[Row] = ()
    refused: str = ""
    short: Sequence[str] = ()
    order: object = None


@dataclass(frozen=True, kw_only=True)
class WeekShown:
    """The page: jobs late or left out first, the days, every job."""

    days: Sequence[Day]
    jobs: Sequence[JobShown]
    first: date
    before: date | None
    after: date | None
    busy_minutes: int
    hours_minutes: int

    @property
    def late(self) -> list[JobShown]:
        return [job for job in self.jobs if job.late]

    @property
    def left_out(self) -> list[JobShown]:
        return [job for job in self.jobs if job.refused]

    @property
    def all_rows(self) -> list[Row]:
        return [row for day in self.days for row in day.rows]

    @property
    def full_percent(self) -> int:
        return round(100 * self.busy_minutes / self.hours_minutes) if self.hours_minutes else 0


@dataclass
class _Marks:
    pinned: set[str] = field(default_factory=set)
    late: set[str] = field(default_factory=set)


def week_shown(standing: Standing, first: date | None = None, *, customers: bool = False) -> WeekShown:
    """Return what the page shows of a plan. customers: the orders of the jobs are fetched, with who ordered.

    A fixed number of queries.
    """
    begins = max(first or today(), standing.first_day)
    ends = standing.first_day + timedelta(days=standing.asked.days)
    rows = rows_of(standing)
    by_day: dict[date, list[Row]] = defaultdict(list)
    for row in rows:
        by_day[row.starts.date()].append(row)
    notices = _notices(standing)
    days = [
        _day(hours, by_day[hours.day], notices[hours.day], standing) for hours in standing.about.days
        if begins <= hours.day < begins + timedelta(days=A_WEEK)
    ]
    shown = [row for day in days for row in day.rows]
    hours_minutes = sum(
        high - low for hours in standing.about.days if begins <= hours.day < begins + timedelta(days=A_WEEK)
        for spells in hours.spells.values() for low, high in spells
    )
    return WeekShown(
        days=days, jobs=jobs_of(standing, rows, customers=customers), first=begins,
        before=max(begins - timedelta(days=A_WEEK), standing.first_day) if begins > standing.first_day else None,
        after=begins + timedelta(days=A_WEEK) if begins + timedelta(days=A_WEEK) < ends else None,
        busy_minutes=sum(_hands(row) for row in shown), hours_minutes=hours_minutes,
    )


def _hands(row: Row) -> int:
    """Return the minutes of hands in a row."""
    return sum(minutes for _, _, minutes in row.hands) if row.kind == "bench" else row.minutes


def rows_of(standing: Standing) -> list[Row]:
    """Return everything that is done in a plan, in the order of the hand."""
    marks = _marks(standing)
    rows = [*_stretch_rows(standing, marks), *_mix_rows(standing), *_work_rows(standing)]
    return sorted(rows, key=lambda row: (row.starts, _ORDER[row.kind], row.job, row.what))


def _marks(standing: Standing) -> _Marks:
    pins = PinnedStretch.objects.select_related("job").filter(on__gte=standing.first_day)
    pinned = {f"J{pin.job.number}.{pin.load}" + (f".{pin.stretch}" if pin.stretch else "") for pin in pins}
    return _Marks(pinned=pinned, late={job.id for job in standing.asked.jobs if _late(standing, job)})


def _late(standing: Standing, job: JobAsked) -> int:
    placed = standing.plan.jobs.get(job.id)
    if placed is None or job.due_day is None:
        return 0
    return max((placed.finish_minute - 1) // DAY_MINUTES - job.due_day, 0)


def _stretch_rows(standing: Standing, marks: _Marks) -> Iterable[Row]:
    safe = safe_by(standing)
    names = {mix.key: mix.called for mix in standing.asked.mixes}
    mixed: dict[str, list[tuple[int, str, str]]] = defaultdict(list)
    for mixing in standing.plan.mixings:
        for name in mixing.stretches:
            mixed[name].append((mixing.start_minute, f"Mix {names[mixing.key]}", ", ".join(mixing.people)))
    for load in standing.asked.loads:
        for at, asked in enumerate(load.stretches):
            place, note = standing.plan.stretches.get(asked.id), standing.about.notes.get(asked.id)
            if place is None or note is None:
                continue
            people = dict.fromkeys(name for work in place.works for name in work.people)
            waits = asked.wait_least_minutes
            parts = [(work.start_minute, what, ", ".join(work.people))
                     for work, what in zip(place.works, note.works, strict=True)] + mixed.get(asked.id, [])
            yield Row(
                kind="bench", id=asked.id, job=job_number(asked.id), bench=place.bench, who=", ".join(people),
                what=f"load {note.load_number}, {note.finish}, {note.panes} pane{'' if note.panes == 1 else 's'}",
                starts=standing.at(place.start_minute), ends=standing.at(end_of(asked, place.works)),
                steps=[(standing.at(minute), what, who) for minute, what, who in sorted(parts)],
                hands=[(name, standing.at(place_of.start_minute), work.minutes)
                       for work, place_of in zip(asked.works, place.works, strict=True) for name in place_of.people],
                safe_by=safe.get(asked.id), pinned=asked.id in marks.pinned or (at == 0 and load.id in marks.pinned),
                late=job_of(asked.id) in marks.late,
                note=f"then {_long(waits)} in the rack" if waits else "",
            )


def _mix_rows(standing: Standing) -> Iterable[Row]:
    asked = {mix.key: mix for mix in standing.asked.mixes}
    for mixing in standing.plan.mixings:
        mix = asked[mixing.key]
        yield Row(
            kind="mix", job=job_number(mixing.key), who=", ".join(mixing.people), what=f"mix {mix.called}",
            starts=standing.at(mixing.start_minute), ends=standing.at(mixing.start_minute + mix.minutes),
            safe_by=standing.at(mixing.start_minute + mix.safe_within_minutes) if mix.safe_within_minutes else None,
            note=_served(standing, mixing),
        )


def _served(standing: Standing, mixing: Mixing) -> str:
    """Return for which loads a mix is; of one that jobs share, for which of each, with its share of it."""
    loads = [(job_number(name), standing.about.notes[name].load_number, name) for name in mixing.stretches
             if name in standing.about.notes]
    if len({job for job, _, _ in loads}) < 2:
        return f"for load {' and '.join(str(load) for _, load, _ in loads)}" if loads else ""
    shares = {(stretch.id, use.key): use.ml for load in standing.asked.loads for stretch in load.stretches
              for use in stretch.mixes}
    return "shared: " + " and ".join(
        f"job {job} load {load}, {shares[name, mixing.key]} mL" for job, load, name in sorted(loads))


def _work_rows(standing: Standing) -> Iterable[Row]:
    asked = {job.id: job for job in standing.asked.jobs}
    for name, placed in standing.plan.jobs.items():
        job = asked[name]
        for what, works, places in (("set-up, cutting and edges", job.before, placed.before),
                                    ("packing", job.after, placed.after)):
            for work, place in zip(works, places, strict=True):
                yield Row(
                    kind="work", what=what, job=job_number(name), who=", ".join(place.people),
                    starts=standing.at(place.start_minute), ends=standing.at(place.start_minute + work.minutes),
                )


def _notices(standing: Standing) -> dict[date, list[str]]:
    """Return what each day brings besides work: what is due, ready, comes, and lots on their last day. One query."""
    found: dict[date, list[str]] = defaultdict(list)
    for job in standing.asked.jobs:
        placed = standing.plan.jobs.get(job.id)
        if placed is not None:
            found[standing.day(placed.finish_minute - 1)].append(f"{job.called} is ready")
        if job.due_day is not None:
            found[standing.first_day + timedelta(days=job.due_day)].append(f"{job.called} is due")
    for each in standing.about.awaited:
        found[each.on].append(f"{each.what} comes, for job {each.job}")
    last = standing.first_day + timedelta(days=standing.asked.days)
    for lot in lots_ending(standing.first_day, last):
        if lot.expires_on is not None:
            found[lot.expires_on].append(f"last day of {lot.material.name}, lot {lot.lot_number}")
    return found


def _day(hours: DayHours, rows: Sequence[Row], notices: Sequence[str], standing: Standing) -> Day:
    shown = [(who, ", ".join(f"{_clock(low)} to {_clock(high)}" for low, high in spells))
             for who, spells in hours.spells.items() if spells]
    return Day(on=hours.day, hours=shown, because=hours.because, rows=rows, all_day=notices,
               strip=_strip(hours, rows, standing) if rows else None)


def _strip(hours: DayHours, rows: Sequence[Row], standing: Standing) -> Strip:
    """Return a day drawn to scale."""
    spells = [spell for mine in hours.spells.values() for spell in mine]
    low = min([FROM, *(begins for begins, _ in spells), *(_minute(row.starts) for row in rows)]) // 60 * 60
    high = -(-max([TO, *(ends for _, ends in spells), *(_minute(row.ends) for row in rows)]) // 60) * 60
    scale = WIDE / (high - low)
    names = [*standing.asked.benches, *(person.name for person in standing.asked.people)]
    pieces = []
    for row in rows:
        for lane, starts, minutes in _drawn(row):
            if lane in names:
                pieces.append(Piece(
                    x=f"{(_minute(starts) - low) * scale:.1f}", y=names.index(lane) * LANE,
                    width=f"{max(minutes * scale, 2):.1f}", kind=f"{row.kind}{' is-late' if row.late else ''}",
                    words=f"{row.job}",
                ))
    return Strip(
        lanes=[(name, at * LANE) for at, name in enumerate(names)], pieces=pieces, height=len(names) * LANE,
        ticks=[(f"{(minute - low) * scale:.1f}", f"{minute // 60}") for minute in range(low, high + 1, 60)],
    )


def _drawn(row: Row) -> list[tuple[str, datetime, int]]:
    """Return the lanes of a row, each with when and for how long: a stretch lies on its bench and takes hands."""
    if row.bench:
        return [(row.bench, row.starts, row.minutes), *row.hands]
    return [(name, row.starts, row.minutes) for name in row.who.split(", ")]


def jobs_of(standing: Standing, rows: Sequence[Row], *, customers: bool) -> list[JobShown]:
    """Return the jobs of a plan, late ones first, then those that are ready soonest; those left out last."""
    numbers = [*(job_number(job.id) for job in standing.asked.jobs), *standing.about.left_out]
    orders = {job.number: job.order for job in Job.objects.filter(number__in=numbers).select_related(
        "order__customer")} if customers else {}
    mine: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        mine[row.job].append(row)
    refused = {job_number(each.job): each.why for each in standing.plan.refused} | dict(standing.about.left_out)
    found = [JobShown(number=number, ready=None, due=None, late=0, why="", refused=why, order=orders.get(number))
             for number, why in refused.items() if number not in {job_number(name) for name in standing.plan.jobs}]
    placed = []
    for job in standing.asked.jobs:
        if job.id not in standing.plan.jobs:
            continue
        number = job_number(job.id)
        placed.append(JobShown(
            number=number, ready=standing.day(standing.plan.jobs[job.id].finish_minute - 1),
            due=None if job.due_day is None else standing.first_day + timedelta(days=job.due_day),
            late=_late(standing, job), why=why_then(standing, job.id), rows=mine[number],
            short=standing.about.short.get(number, ()), order=orders.get(number),
        ))
    placed.sort(key=lambda job: (-job.late, job.ready or date.max, job.number))
    return [*placed, *found]


def _minute(moment: datetime) -> int:
    return moment.hour * 60 + moment.minute


def _clock(minute: int) -> str:
    return f"{minute // 60}:{minute % 60:02}"


def _long(minutes: int) -> str:
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" + (f" {minutes % 60}" if minutes % 60 else "")
