"""How many working days after go-ahead an order is ready: what is worked out, or what is usual here if that is longer.

Go-ahead is the day on which the sample is approved and the deposit in; work begins on the next working day. No day is
named: other jobs on the bench are not looked at. Formula: as of `promise`, but work fills working days of
`bench_day_minutes`, and what takes calendar days (curing, bought-in items) counts for as many working days as so many
calendar days hold at most, whatever weekday they begin on. Source: the studio's own times.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from jobs.estimating.basis import Basis, BoughtInFacts
from studio.kit.rounding import decimal_string

CONDITION = "sample approved and deposit in"


@dataclass(frozen=True, kw_only=True)
class WorkedStage:
    """A stage that is over on this working day after go-ahead, and why not sooner."""

    what: str
    day: int
    because: str


@dataclass(frozen=True, kw_only=True)
class GoAhead:
    """When an order is ready. usual_days: working days that the studio and the order's finishes usually take, or 0."""

    stages: tuple[WorkedStage, ...]
    usual_days: int
    working_days: tuple[int, ...]

    @property
    def worked_out_days(self) -> int:
        return self.stages[-1].day

    @property
    def days(self) -> int:
        return max(self.worked_out_days, self.usual_days)

    @property
    def in_words(self) -> str:
        return ready_in_words(self.days)


def ready_in_words(days: int) -> str:
    """Return what every screen and paper says: “12 working days after go-ahead: sample approved and deposit in”."""
    return f"{counted(days)} after go-ahead: {CONDITION}"


def counted(days: int) -> str:
    return f"{days} working day{'' if days == 1 else 's'}"


def go_ahead(basis: Basis, before_bench_minutes: Fraction, bench_minutes: Fraction) -> GoAhead:
    """Return the working days from go-ahead until an order is ready.

    before_bench_minutes: set-up, cutting and edges by one pair of hands; bench_minutes: from the first load's start to
    the last one's end.
    """
    house, full = basis.house, basis.house.bench_day_minutes
    prepared = 1 + _more_days(before_bench_minutes, full)
    begun, why_begun = _latest(basis, "silvering", prepared)
    # silvering goes on in what is left of the day on which the glass is ready
    used = max(before_bench_minutes - (prepared - 1) * full, Fraction(0)) if begun == prepared else Fraction(0)
    silvered = begun + _more_days(bench_minutes + used, full)
    cured = silvered + most_working_days((house.cure_hours / 24).__ceil__(), house.working_days, house.working_days)
    packed, why_packed = _latest(basis, "packing", cured)
    handed, why_handed = _latest(basis, "handing over", packed, packed)
    usual = max([house.usual_working_days, *(recipe.usual_days for recipe in basis.line_recipes())])
    return GoAhead(usual_days=usual, working_days=house.working_days, stages=(
        WorkedStage(what="Glass ready to silver", day=begun, because=why_begun or "cut and edged here"),
        WorkedStage(what="Off the bench", day=silvered, because=f"{counted(silvered - begun + 1)} on the bench"),
        WorkedStage(what="Cured", day=cured, because=f"{decimal_string(house.cure_hours, 1)} h before packing"),
        WorkedStage(what="Packed", day=packed, because=why_packed or "as soon as it is cured"),
        WorkedStage(what="Ready", day=handed, because=why_handed or "collected or delivered the same day"),
    ))


def _more_days(minutes: Fraction, full: Fraction) -> int:
    """Return how many days work goes on after the day on which it begins."""
    return max(minutes / full - 1, Fraction(0)).__ceil__()


def _latest(basis: Basis, before: str, own: int, counted_from: int = 0) -> tuple[int, str]:
    """Return the working day on which a stage can begin: its own, or that of the last bought-in item it needs.

    counted_from: the working day from which an item's days count; 0: from go-ahead.
    """
    latest, because = own, ""
    for item in basis.bought_in:
        if item.before != before:
            continue
        there = _there_by(item, basis, counted_from)
        if there > latest:
            latest, because = there, f"needs {item.name}" + (f", line {item.line}" if item.line else "")
    return latest, because


def _there_by(item: BoughtInFacts, basis: Basis, counted_from: int) -> int:
    """Return the working day by which an item is there; one with a day of its own as if go-ahead were at once."""
    week = basis.house.working_days
    if item.due_on is not None:
        return most_working_days((item.due_on - basis.as_of).days, week)
    starts = week if counted_from else range(7)
    return counted_from + most_working_days(item.days, week, starts)


def most_working_days(calendar_days: int, week: Sequence[int], starts: Collection[int] = range(7)) -> int:
    """Return how many working days pass at most until the first working day so many calendar days later, or after it.

    week: the weekdays on which somebody works, Monday 0. starts: the weekdays on which the count may begin.
    """
    if calendar_days <= 0:
        return 0
    whole, rest = divmod(calendar_days, 7)
    return whole * len(week) + max(_passing(start, rest, week) for start in starts)


def _passing(start: int, days: int, week: Sequence[int]) -> int:
    passed = sum((start + day) % 7 in week for day in range(1, days + 1))
    return passed + ((start + days) % 7 not in week)  # what comes on a closed day waits for the next open one


def working_days_after(day: date, other: date, week: Sequence[int]) -> int:
    """Return how many working days there are after one day, up to another and with it; none where that is earlier."""
    whole, rest = divmod(max((other - day).days, 0), 7)
    return whole * len(week) + sum((day.weekday() + more) % 7 in week for more in range(1, rest + 1))


def latest_go_ahead(due_on: date, days: int, week: Sequence[int]) -> date:
    """Return the last day for go-ahead, so that so many working days after it end on the day it is due or before."""
    latest = due_on - timedelta(weeks=(days - 1) // len(week))  # whole weeks hold fewer, so the first that fits is it
    while working_days_after(latest, due_on, week) < days:
        latest -= timedelta(days=1)
    return latest


@dataclass(frozen=True, kw_only=True)
class WishedFor:
    """What the owner reads of the day a customer wishes for. too_soon: even go-ahead today would not do."""

    sentence: str
    too_soon: bool


def wished_for(due_on: date, today: date, ready: GoAhead) -> WishedFor:
    """Compare the day a customer wishes for with the working days an order needs, naming no day on which it is ready.
    """
    latest = latest_go_ahead(due_on, ready.days, ready.working_days)
    left = counted(working_days_after(today, due_on, ready.working_days))
    when = "that is past" if due_on < today else f"{left} from today"
    needs = f"Due {_on(due_on, today)}, {when}; it needs {ready.days} after go-ahead"
    if latest < today:
        return WishedFor(sentence=f"{needs}: too soon, even with go-ahead today.", too_soon=True)
    return WishedFor(sentence=f"{needs}: go-ahead by {_on(latest, today)} at the latest.", too_soon=False)


def _on(day: date, today: date) -> str:
    return f"{day:%a} {day.day} {day:%b}" + (f" {day.year}" if day.year != today.year else "")
