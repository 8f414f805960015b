"""The first honest day of an order that is not booked: what a quote may promise beside all that stands and may come.

Around the plan that stands, jobs with slack re-inserted after the new one; minutes as the finish's runs took them;
quotes with other customers come with the accepted share of last year's; spare working days on top. A quote holds no
time: the day depends on a go-ahead by a day that is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from jobs.calendar.asked import CalendarAsked, FurtherJob, JobAsked, LoadAsked, MixAsked, WorkAsked
from jobs.calendar.effort import AT_ONCE
from jobs.calendar.planned import FirstDay
from jobs.calendar.planning import PlanBreaksRules, plan
from jobs.calendar.promise_days import AcceptedShare, accepted_share, minutes_as_they_are, minutes_factor, weighed_day
from jobs.calendar.promise_days import Run as RunMinutes
from jobs.draft import OrderDraft, draft_of
from jobs.estimating.estimate import Estimate
from jobs.models import Job, Order, PaneResult, Quote, RunEntry
from jobs.quotes.freezing import longest_of
from jobs.quotes.quoting import estimates_of
from jobs.week.gather import further_earliest
from jobs.week.kept import Standing, standing_plan
from jobs.week.of_estimate import AskedOfJob, asked_of
from jobs.week.why import day_in_words, why_placed
from jobs.work import quote_states
from jobs.work.booking import frozen_estimate
from studio.house.clock import today
from studio.house.week import DayHours, days_from, the_week
from studio.house.week_models import StudioWeek
from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import is_whole

#: so many open quotes at most are weighed: those sent last, for they clash first
MOST_QUOTES = 4
#: go-ahead within so many days is what a quote's day depends on
GO_AHEAD_DAYS = 7
NEW = "Q0"


@dataclass(frozen=True, kw_only=True)
class HonestDay:
    """A day that may be promised, and what it rests on. on: with spare days; in_plan: without them.

    if_none, if_all: the day where no open quote comes, or all do. by: the last day of the go-ahead.
    """

    on: date
    in_plan: date
    by: date
    because: str
    share: str
    open_quotes: int
    spare_days: int
    depends: tuple[str, ...]
    if_none: date | None = None
    if_all: date | None = None
    at_once: date | None = None

    @property
    def in_words(self) -> str:
        """Return what a quote says: the day, and by when go-ahead must be there."""
        return f"{day_in_words(self.on)}, if the sample is approved and the deposit in by {day_in_words(self.by)}"

    @property
    def ready(self) -> dict[str, object]:
        """Return what a quote freezes."""
        return {"words": self.in_words, "on": self.on.isoformat(), "by": self.by.isoformat(), "days": 0,
                "on_words": day_in_words(self.on)}


class NoDay(DaybookError):
    """No day can be named, and why."""


def names_days() -> bool:
    """Say whether quotes name days: once the owner saved who works when."""
    return StudioWeek.objects.exists()


def longest_of_draft(draft: OrderDraft) -> Estimate:
    """Return the estimate by which a quote of a draft would name its day: of all that may be chosen, the longest.

    Raises what refuses it.
    """
    return longest_of(estimates_of(draft, today()).values())


def honest_day_of(order: Order | None, estimate: Estimate | None = None) -> HonestDay:
    """Return the first honest day of an order, or of an estimate of what is only typed. Raises NoDay, or what refuses
    its estimate.
    """
    if estimate is None:
        assert order is not None  # one of the two is given
        estimate = longest_of_draft(draft_of(order))
    standing, week = standing_plan(), the_week()
    quotes = _open_quotes(order)
    share = _share(Fraction(week.comes_share))
    reckoning = _Reckoning(standing, estimate, quotes)
    by = today() + timedelta(days=GO_AHEAD_DAYS)
    weighed = weighed_day([share.share] * len(quotes), lambda way: reckoning.day(by, way), Fraction(week.holds_share))
    if weighed.day is None:
        raise NoDay(reckoning.why or f"No day is found in the {standing.asked.days} days that the plan looks ahead.")
    days = days_from(standing.first_day, standing.asked.days + 40)
    none = (False,) * len(quotes)
    found = reckoning.found[by, weighed.way]
    soon = reckoning.day(today(), none)

    def spared(day: int | None) -> date | None:
        return None if day is None else _working_days_after(days, day, week.spare_days)

    on = spared(weighed.day)
    assert on is not None
    return HonestDay(
        on=on, in_plan=standing.first_day + timedelta(days=weighed.day), by=by, share=_in_words(share),
        open_quotes=len(quotes), spare_days=week.spare_days, if_none=spared(weighed.none), if_all=spared(weighed.every),
        at_once=spared(soon), because=reckoning.because(found, by, weighed.way), depends=tuple(_depends(estimate, by)),
    )


def first_day_now(order: Order, estimate: Estimate) -> date | None:
    """Return the day on which an order would be ready, with spare days, if it were gone ahead with today."""
    standing, week = standing_plan(), the_week()
    day = _Reckoning(standing, estimate, []).day(today(), ())
    if day is None:
        return None
    return _working_days_after(days_from(standing.first_day, standing.asked.days + 40), day, week.spare_days)


@dataclass(frozen=True, kw_only=True)
class LaterDay:
    """A day that a quote named, and the later one on which its order would be ready now."""

    quoted: date
    now: date


def later_than_quoted(order: Order, quote: Quote) -> LaterDay | None:
    """Return that a quote's day cannot be kept any more as the week stands; None: it can, or it names none."""
    named = (quote.wording.get("ready") or {}).get("on")
    if not named:
        return None
    quoted, now = date.fromisoformat(named), first_day_now(order, frozen_estimate(quote))
    return LaterDay(quoted=quoted, now=now) if now is not None and now > quoted else None


def _working_days_after(days: Sequence[DayHours], at: int, spare: int) -> date:
    """Return the day so many working days after one; beyond what is known, calendar days."""
    left = spare
    for day in days[at + 1:]:
        if not left:
            break
        at += 1
        left -= day.is_open
    return days[at].day + timedelta(days=left)


def _open_quotes(order: Order | None) -> list[Quote]:
    """Return the quotes of other orders that are with their customers and may come: the newest sent ones. One query."""
    rows = Quote.objects.filter(state=quote_states.SENT, valid_until__gte=today(), order__job__in=Job.objects.waiting())
    newest: dict[int, Quote] = {}
    for quote in (rows if order is None else rows.exclude(order=order)).order_by("-sent_at", "-pk"):
        newest.setdefault(quote.order_id, quote)
    return list(newest.values())[:MOST_QUOTES]


def _share(owners: Fraction) -> AcceptedShare:
    """Return the accepted share of the quotes that were decided in the last year, by order. One query."""
    since = today() - timedelta(days=365)
    decided = dict(Quote.objects.filter(
        decided_at__date__gte=since, state__in=[quote_states.ACCEPTED, quote_states.DECLINED],
    ).order_by("state").values_list("order", "state"))  # of an order with both, the declined one came earlier
    lapsed = set(Quote.objects.filter(state=quote_states.SENT, valid_until__lt=today(), valid_until__gte=since)
                 .values_list("order", flat=True)) - decided.keys()
    accepted = set(Quote.objects.filter(decided_at__date__gte=since, state=quote_states.ACCEPTED)
                   .values_list("order", flat=True))
    return accepted_share(len(accepted), len(decided) + len(lapsed), owners)


def _in_words(share: AcceptedShare) -> str:
    """Return “14 of 35”, or the owner's figure with its percentage."""
    return share.says if is_whole(share.says[0]) else f"{round(share.share * 100)} %, {share.says}"


def factors_of(finishes: Iterable[str]) -> dict[str, Fraction]:
    """Return by what the minutes of each finish are multiplied: what its runs took over what was planned. Two queries.
    """
    names = set(finishes)
    runs: dict[str, dict[int, RunMinutes]] = {name: {} for name in names}
    minutes: dict[int, Fraction] = {}
    times = RunEntry.objects.filter(kind=RunEntry.Kind.TIME, run__finished_at__isnull=False).order_by("pk")
    for run, content in times.values_list("run", "content"):
        minutes[run] = sum((Fraction(str(content.get(who) or 0)) for who in ("helper", "owner")), Fraction(0))
    rows = PaneResult.objects.filter(recipe_version__finish__name__in=names, run__in=list(minutes)).order_by()
    for name, run, planned in rows.values_list(
        "recipe_version__finish__name", "run", "run__ticket__job__quote__plan__minutes",
    ).distinct():
        if planned and minutes[run] > 0:
            runs[name][run] = RunMinutes(planned_minutes=Fraction(str(planned)), actual_minutes=minutes[run])
    return {name: minutes_factor(list(mine.values())) for name, mine in runs.items()}


class _Reckoning:
    """Asks the planner for the new order's day in each way that open quotes may fall; each way once."""

    def __init__(self, standing: Standing, estimate: Estimate, quotes: Sequence[Quote]) -> None:
        self.standing, self.estimate = standing, estimate
        self.why = ""
        self.found: dict[tuple[date, tuple[bool, ...]], FirstDay] = {}
        estimates = [frozen_estimate(quote) for quote in quotes]
        names = {recipe.finish for each in (estimate, *estimates) for recipe in each.basis.line_recipes()}
        self.factors = factors_of(names)
        self.two = len(standing.asked.people) > 1
        self.new = self._stretched(NEW, estimate)
        self.others = [self._stretched(f"Q{at}", each) for at, each in enumerate(estimates, start=1)]
        self.bases = [each.basis for each in estimates]

    def _stretched(self, name: str, estimate: Estimate) -> AskedOfJob:
        """Return what an order asks, with minutes as they are."""
        asked = asked_of(name, estimate, two_pairs=self.two)
        most = min(max((spell.end_minute - spell.start_minute for spell in person.hours), default=0)
                   for person in self.standing.asked.people if person.hours) if any(
                       person.hours for person in self.standing.asked.people) else 0
        factor = max(self.factors[recipe.finish] for recipe in estimate.basis.line_recipes())

        def longer(works: tuple[WorkAsked, ...], bound: int) -> tuple[WorkAsked, ...]:
            return tuple(replace(work, minutes=minutes_as_they_are(work.minutes, factor, bound)) for work in works)

        within = {mix.key for mix in asked.mixes if mix.safe_within_minutes is not None}
        loads = tuple(replace(load, stretches=tuple(
            stretch if any(use.key in within for use in stretch.mixes)
            else replace(stretch, works=longer(stretch.works, most)) for stretch in load.stretches
        )) for load in asked.loads)
        return replace(asked, loads=loads, before=longer(asked.before, most), after=longer(asked.after, most))

    def asked(self, go_ahead: date, way: tuple[bool, ...]) -> CalendarAsked:
        """Return the calendar with those quotes booked that come, and the new order asking."""
        known = self.standing.asked
        coming = [(f"Q{at + 1}", self.others[at], self.bases[at]) for at, comes in enumerate(way) if comes]
        jobs: list[JobAsked] = []
        loads: list[LoadAsked] = []
        mixes: list[MixAsked] = []
        for name, mine, basis in coming:
            jobs.append(self._job(name, mine, basis.bought_in, go_ahead))
            loads += mine.loads
            mixes += mine.mixes
        ask = FurtherJob(job=self._job(NEW, self.new, self.estimate.basis.bought_in, go_ahead), loads=self.new.loads)
        return replace(known, jobs=(*known.jobs, *jobs), loads=(*known.loads, *loads),
                       mixes=(*known.mixes, *mixes, *self.new.mixes), asks=(ask,))

    def _job(self, name: str, mine: AskedOfJob, items: Sequence[object], go_ahead: date) -> JobAsked:
        earliest, outside = further_earliest(items, go_ahead, self.standing.first_day)  # type: ignore[arg-type]
        return JobAsked(id=name, name="this order" if name == NEW else "a quote", before=mine.before, after=mine.after,
                        cure_minutes=mine.cure_minutes, outside_minutes=outside, earliest=earliest)

    def day(self, go_ahead: date, way: tuple[bool, ...]) -> int | None:
        key = go_ahead, way
        if key not in self.found:
            try:
                (self.found[key],) = plan(self.asked(go_ahead, way), AT_ONCE).asks
            except PlanBreaksRules as broken:
                self.found[key] = FirstDay(job=NEW, day=None, why=str(broken))
            self.why = self.why or self.found[key].why
        return self.found[key].day

    def because(self, found: FirstDay, go_ahead: date, way: tuple[bool, ...]) -> str:
        if found.plan is None:
            return ""
        asked = self.asked(go_ahead, way)
        (ask,) = asked.asks
        return why_placed(asked, found.plan, NEW, ask)


def _depends(estimate: Estimate, by: date) -> Iterable[str]:
    yield f"sample approved and deposit in by {day_in_words(by)}"
    for item in estimate.basis.bought_in:
        if item.kind == "carriage":
            continue
        there = item.due_on or by + timedelta(days=item.days)
        if item.due_on or item.days:
            yield f"{item.name} here by {day_in_words(there)}"

