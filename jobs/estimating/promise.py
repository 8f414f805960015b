"""When an order can be delivered: which stage follows which, in calendar days.

Formula: work fills days of `bench_day_minutes`, cure counts from the end of the bench, and a stage begins no sooner
than the last bought-in item it needs is due. Other jobs on the bench are not looked at. Source: the studio's own times.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from jobs.estimating.basis import Basis, BoughtInFacts
from studio.kit.rounding import decimal_string


@dataclass(frozen=True, kw_only=True)
class Stage:
    """A stage that is over on a day, and why not sooner."""

    what: str
    on: date
    because: str


@dataclass(frozen=True, kw_only=True)
class Promise:
    stages: tuple[Stage, ...]

    @property
    def hand_over_on(self) -> date:
        return self.stages[-1].on


def _days(count: Fraction) -> timedelta:
    return timedelta(days=count.__ceil__())


def promise(basis: Basis, before_bench_minutes: Fraction, bench_minutes: Fraction) -> Promise:
    """Return the days of an order that is begun today.

    before_bench_minutes: set-up, cutting and edges by one pair of hands; bench_minutes: from the first load's start to
    the last one's end. Work fills days of the studio's length; cure counts from the end of the bench.
    """
    house, start = basis.house, basis.as_of
    prepared = start + _days(max(before_bench_minutes / house.bench_day_minutes - 1, Fraction(0)))
    ready = _latest(basis.bought_in, "silvering", prepared, start)
    both = prepared == ready.on
    minutes = bench_minutes + (before_bench_minutes % house.bench_day_minutes if both else Fraction(0))
    silvered = ready.on + _days(max(minutes / house.bench_day_minutes - 1, Fraction(0)))
    cured = silvered + _days(house.cure_hours / 24)
    packed = _latest(basis.bought_in, "packing", cured, start)
    handed = _latest(basis.bought_in, "handing over", packed.on, packed.on)
    days = (silvered - ready.on).days + 1
    return Promise(stages=(
        Stage(what="Glass ready to silver", on=ready.on, because=ready.because or "cut and edged here"),
        Stage(what="Off the bench", on=silvered, because=f"{days} day{'s' if days > 1 else ''} on the bench"),
        Stage(what="Cured", on=cured, because=f"{decimal_string(house.cure_hours, 1)} h before packing"),
        Stage(what="Packed", on=packed.on, because=packed.because or "as soon as it is cured"),
        Stage(what="Delivered", on=handed.on, because=handed.because or "collected or delivered the same day"),
    ))


def _latest(items: Sequence[BoughtInFacts], before: str, own: date, counted_from: date) -> Stage:
    """Return the day on which a stage can begin: the studio's own day, or that of the last bought-in item it needs."""
    latest = Stage(what=before, on=own, because="")
    for item in items:
        if item.before != before or not (item.due_on or item.days):
            continue
        due = item.due_on or counted_from + timedelta(days=item.days)
        if due > latest.on:
            line = f", line {item.line}" if item.line else ""
            latest = Stage(what=before, on=due, because=f"needs {item.name}{line}")
    return latest
