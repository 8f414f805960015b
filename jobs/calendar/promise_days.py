"""Which day may be told: minutes as they are, spare days, and quotes that are open.

Pure reckoning on what was: actual minutes of runs, days on which jobs were ready, shares of quotes accepted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from random import Random

#: a finish's factor stands as if five runs had been worked at 1.15 × planned before its first
RUNS_BEFORE, FACTOR_BEFORE = 5, Fraction(115, 100)
#: spare days until so many jobs are known; of how many the last are read; what share they must have kept
SPARE_BEFORE, KNOWN_FROM, LAST, KEPT = 3, 10, 30, Fraction(9, 10)
#: below so many quotes decided the owner's own share counts
DECIDED_FROM = 10
#: all ways of up to so many open quotes are tried, else so many seeded ones
ALL_WAYS_UP_TO, SEEDED_WAYS = 6, 64
HOLDS_IN = Fraction(80, 100)
SEED = 16


@dataclass(frozen=True, kw_only=True)
class Run:
    """Minutes that a run was planned to take, and took."""

    planned_minutes: Fraction
    actual_minutes: Fraction


def minutes_factor(runs: Sequence[Run]) -> Fraction:
    """Return by what a finish's planned minutes are multiplied when they are placed.

    Formula: (Σ actual + 5 × 1.15 × mean planned) ÷ (Σ planned + 5 × mean planned). No run: 1.15.
    """
    planned = sum((run.planned_minutes for run in runs), Fraction(0))
    if not runs or planned <= 0:
        return FACTOR_BEFORE
    prior = RUNS_BEFORE * planned / len(runs)
    actual = sum((run.actual_minutes for run in runs), Fraction(0))
    return (actual + FACTOR_BEFORE * prior) / (planned + prior)


def minutes_as_they_are(planned_minutes: int, factor: Fraction, most_minutes: int | None = None) -> int:
    """Return minutes to place: rounded up to five, at most what a spell or *safe within* allows, never below planned.

    most_minutes: None where nothing bounds them.
    """
    stretched = -(-int((planned_minutes * factor).__ceil__()) // 5) * 5
    if most_minutes is not None:
        stretched = min(stretched, most_minutes // 5 * 5)
    return max(stretched, -(-planned_minutes // 5) * 5)


def spare_days(days_over: Sequence[int]) -> int:
    """Return working days between plan and promise.

    days_over: of each job with a due day, the oldest first, how many working days after the day of its plan at the
    promise it was ready; below 0 where sooner. The fewest days that would have kept nine in ten of the last 30; three
    until ten are known.
    """
    last = sorted(days_over[-LAST:])
    if len(last) < KNOWN_FROM:
        return SPARE_BEFORE
    kept = (KEPT * len(last)).__ceil__()
    return max(0, last[kept - 1])


def second_run_chance(met_in_one_go: Sequence[Fraction]) -> Fraction:
    """Return the chance that not all loads are met in one go. met_in_one_go: each load's chance that it is."""
    chance = Fraction(1)
    for share in met_in_one_go:
        chance *= share
    return 1 - chance


@dataclass(frozen=True, kw_only=True)
class AcceptedShare:
    """The share of quotes that come. says: "14 of 35", or that it is the owner's figure."""

    share: Fraction
    says: str


def accepted_share(accepted: int, decided: int, owners_figure: Fraction) -> AcceptedShare:
    """Return the share of last year's decided quotes that were accepted; the owner's below ten decided."""
    if decided < DECIDED_FROM:
        return AcceptedShare(share=owners_figure, says=f"the owner's figure, {decided} decided in the last year")
    return AcceptedShare(share=Fraction(accepted, decided), says=f"{accepted} of {decided}")


Way = tuple[bool, ...]


@dataclass(frozen=True, kw_only=True)
class WeighedDay:
    """The day that holds in so many of all ways the open quotes may fall; None where a way at the mark has none.

    way: the one at the mark (which quotes come). none, every: the day if none comes, if all do.
    """

    day: int | None
    way: Way
    none: int | None
    every: int | None


def ways_of(shares: Sequence[Fraction]) -> list[tuple[Way, Fraction]]:
    """Return ways the open quotes may fall, each with its weight: all of them up to six quotes, else 64 seeded."""
    if len(shares) <= ALL_WAYS_UP_TO:
        found = []
        for way in product((False, True), repeat=len(shares)):
            weight = Fraction(1)
            for comes, share in zip(way, shares, strict=True):
                weight *= share if comes else 1 - share
            if weight:
                found.append((way, weight))
        return found
    chance = Random(SEED)  # noqa: S311 (no secret: the same for the same)
    drawn = [tuple(Fraction(chance.randrange(10**6), 10**6) < share for share in shares) for _ in range(SEEDED_WAYS)]
    return [(way, Fraction(1, SEEDED_WAYS)) for way in drawn]


def weighed_day(shares: Sequence[Fraction], day_if: Callable[[Way], int | None],
                holds_in: Fraction = HOLDS_IN) -> WeighedDay:
    """Return the earliest day that holds in the share asked of all ways the open quotes may fall.

    day_if: the new quote's first day if those quotes come (they take the bench before it); None where it has none.
    """
    days = {way: day_if(way) for way, _ in ways_of(shares)}
    for edge in ((False,) * len(shares), (True,) * len(shares)):
        if edge not in days:
            days[edge] = day_if(edge)
    far = 1 + max((day for day in days.values() if day is not None), default=0)
    held, at = Fraction(0), (False,) * len(shares)
    for way, weight in sorted(ways_of(shares), key=lambda one: (far if (day := days[one[0]]) is None else day, one[0])):
        held, at = held + weight, way
        if held >= holds_in:
            break
    return WeighedDay(day=days[at], way=at, none=days[(False,) * len(shares)], every=days[(True,) * len(shares)])
