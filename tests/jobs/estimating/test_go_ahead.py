"""How many working days after go-ahead: never fewer than it takes from any day of any week, never fewer than usual."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.estimating.basis import BoughtInFacts
from jobs.estimating.go_ahead import (
    GoAhead,
    WorkedStage,
    go_ahead,
    latest_go_ahead,
    most_working_days,
    ready_in_words,
    wished_for,
    working_days_after,
)
from tests.jobs.estimating.test_worked_cases import _by_hand

FULL = 420
MONDAY = date(2026, 11, 30)
FIVE = (0, 1, 2, 3, 4)
weeks = st.sets(st.integers(0, 6), min_size=1).map(lambda days: tuple(sorted(days)))
starts = st.integers(0, 6).map(lambda day: MONDAY + timedelta(days=day))
items = st.builds(
    lambda before, days, fixed: BoughtInFacts(
        name="frame", cost=Fraction(1), before=before, days=days,
        due_on=MONDAY + timedelta(days=days) if fixed and before != "handing over" else None,
    ), st.sampled_from(["silvering", "packing", "handing over"]), st.integers(0, 40), st.booleans(),
)


def worked(before: int, bench: int, cure: int = 0, things=(), week=FIVE, usual=0, as_of=MONDAY) -> GoAhead:
    basis = _by_hand()
    house = replace(basis.house, cure_hours=Fraction(cure), working_days=week, usual_working_days=usual)
    return go_ahead(replace(basis, house=house, bought_in=tuple(things), as_of=as_of), Fraction(before), Fraction(bench))


@pytest.mark.parametrize(("before", "bench", "cure", "things", "days"), [
    (60, 300, 0, (), [1, 1, 1, 1, 1]),              # all of it in one day
    (60, 420, 0, (), [1, 2, 2, 2, 2]),              # the bench goes on into a second
    (420, 420, 0, (), [1, 2, 2, 2, 2]),             # a full day of cutting leaves nothing of it for the bench
    (60, 300, 48, (), [1, 1, 3, 3, 3]),             # two calendar days hold two working days at most, never more
    (60, 300, 0, (("silvering", 7),), [6, 6, 6, 6, 6]),      # a week from a Sunday: there on the sixth
    (60, 300, 0, (("handing over", 14),), [1, 1, 1, 1, 11]),  # a fortnight from a working day
])
def test_stages_by_table(before, bench, cure, things, days):
    bought = [BoughtInFacts(name="frame", cost=Fraction(1), before=stage, days=wait) for stage, wait in things]
    ready = worked(before, bench, cure, bought)
    assert [stage.day for stage in ready.stages] == days
    assert any("needs frame" in stage.because for stage in ready.stages) == bool(things)


@given(starts, weeks, st.integers(0, 3000), st.integers(1, 3000), st.integers(0, 200), st.lists(items, max_size=3),
       st.integers(0, 60))
def test_never_fewer_than_it_takes_and_never_fewer_than_usual(start, week, before, bench, cure, things, usual):
    """Given go-ahead on any day, when the work is walked through the calendar, then it is over by what was said."""
    ready = worked(before, bench, cure, things, week, usual, as_of=start)
    assert ready.days >= usual
    assert ready.days in (usual, ready.worked_out_days)
    assert working_days_after(start, _walked(start, week, before, bench, cure, things), week) <= ready.days


def _walked(start, week, before, bench, cure, things) -> date:
    """Return the day on which an order is ready, walked day by day: the same rule without its arithmetic."""
    def opened(day: date) -> date:
        while day.weekday() not in week:
            day += timedelta(days=1)
        return day

    def work(day: date, minutes: int, used: int) -> tuple[date, int]:
        while used + minutes > FULL:
            minutes, used, day = minutes - (FULL - used), 0, opened(day + timedelta(days=1))
        return day, used + minutes

    def there(stage: str, counted_from: date) -> list[date]:
        return [opened(item.due_on or counted_from + timedelta(days=item.days)) for item in things
                if item.before == stage and (item.due_on or item.days)]

    day, used = work(opened(start + timedelta(days=1)), before, 0)
    begun = max([day, *there("silvering", start)])
    off, _ = work(begun, bench, used if begun == day else 0)
    packed = max([opened(off + timedelta(days=-(-cure // 24))), *there("packing", start)])
    return max([packed, *there("handing over", packed)])


@given(starts, weeks, st.integers(0, 60))
def test_calendar_days_hold_no_more_working_days_than_said(start, week, days):
    end = start + timedelta(days=days)
    while days and end.weekday() not in week:
        end += timedelta(days=1)
    assert working_days_after(start, end, week) <= most_working_days(days, week)


@given(starts, weeks, st.integers(1, 80))
def test_the_latest_go_ahead_is_just_in_time(due, week, days):
    latest = latest_go_ahead(due, days, week)
    assert working_days_after(latest, due, week) >= days
    assert working_days_after(latest + timedelta(days=1), due, week) < days


def test_a_finish_has_its_own_usual_days():
    basis = _by_hand()
    slow = replace(basis, recipes={"r": replace(basis.recipes["r"], usual_days=20)})
    assert go_ahead(slow, Fraction(60), Fraction(60)).days == 20


@pytest.mark.parametrize(("due", "said", "too_soon"), [
    (date(2026, 12, 28), "Due Mon 28 Dec, 20 working days from today; it needs 12 after go-ahead: go-ahead by "
                         "Thu 10 Dec at the latest.", False),
    (date(2027, 1, 4), "Due Mon 4 Jan 2027, 25 working days from today; it needs 12 after go-ahead: go-ahead by "
                       "Thu 17 Dec at the latest.", False),
    (date(2026, 12, 4), "Due Fri 4 Dec, 4 working days from today; it needs 12 after go-ahead: too soon, even with "
                        "go-ahead today.", True),
    (date(2026, 11, 27), "Due Fri 27 Nov, that is past; it needs 12 after go-ahead: too soon, even with go-ahead "
                         "today.", True),
])
def test_the_day_wished_for_in_words(due, said, too_soon):
    ready = GoAhead(stages=(WorkedStage(what="Ready", day=12, because=""),), usual_days=0, working_days=FIVE)
    wished = wished_for(due, MONDAY, ready)
    assert (wished.sentence, wished.too_soon) == (said, too_soon)


def test_one_day_is_said_as_one():
    assert ready_in_words(1) == "1 working day after go-ahead: sample approved and deposit in"
    assert ready_in_words(12) == "12 working days after go-ahead: sample approved and deposit in"
