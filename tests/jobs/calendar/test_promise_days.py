"""Minutes as they are, spare days and open quotes, by figures worked out by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from jobs.calendar.promise_days import (
    Run,
    accepted_share,
    minutes_as_they_are,
    minutes_factor,
    second_run_chance,
    spare_days,
    ways_of,
    weighed_day,
)

HALF, THIRD = Fraction(1, 2), Fraction(1, 3)


def test_minutes_as_they_are_begin_at_1_15_and_come_nearer_to_what_was() -> None:
    assert minutes_factor([]) == Fraction(115, 100)
    # one run, 100 planned, 140 taken: (140 + 5 × 1.15 × 100) ÷ (100 + 5 × 100) = 715 ÷ 600
    assert minutes_factor([Run(planned_minutes=Fraction(100), actual_minutes=Fraction(140))]) == Fraction(715, 600)
    # two runs of 60 and 100, taken 60 and 110: (170 + 5.75 × 80) ÷ (160 + 400) = 630 ÷ 560
    runs = [Run(planned_minutes=Fraction(60), actual_minutes=Fraction(60)),
            Run(planned_minutes=Fraction(100), actual_minutes=Fraction(110))]
    assert minutes_factor(runs) == Fraction(630, 560)


@pytest.mark.parametrize(("planned", "factor", "most", "placed"), [
    (40, Fraction(115, 100), None, 50),    # 46 up to five
    (40, Fraction(9, 10), None, 40),       # never below what was planned
    (200, Fraction(115, 100), 210, 210),   # a spell of three and a half hours bounds it
    (33, Fraction(1), None, 35),
])
def test_placed_minutes(planned: int, factor: Fraction, most: int | None, placed: int) -> None:
    assert minutes_as_they_are(planned, factor, most) == placed


def test_spare_days_are_three_until_ten_are_known_then_what_would_have_kept_nine_in_ten() -> None:
    assert spare_days([9] * 9) == 3
    assert spare_days([0, 0, 0, 0, 0, 0, 0, 1, 2, 7]) == 2
    assert spare_days([-2] * 10) == 0
    # of forty only the last thirty count: 27 of them must be kept
    assert spare_days([9] * 10 + [0] * 26 + [1, 2, 3, 4]) == 1


def test_a_second_run_is_what_is_left_of_all_met_in_one_go() -> None:
    assert second_run_chance([Fraction(9, 10), Fraction(8, 10)]) == Fraction(28, 100)
    assert second_run_chance([]) == 0


def test_the_share_accepted_is_the_owners_below_ten_decided() -> None:
    assert accepted_share(14, 35, HALF).share == Fraction(14, 35)
    assert accepted_share(14, 35, HALF).says == "14 of 35"
    assert accepted_share(3, 9, HALF).share == HALF


def test_the_day_holds_in_four_of_five_ways() -> None:
    # two quotes at one half: 4, 6, 7, 9 a quarter each: three quarters hold by 7, so it is 9; at 75 % it is 7
    days = {(False, False): 4, (True, False): 6, (False, True): 7, (True, True): 9}
    found = weighed_day([HALF, HALF], days.__getitem__)
    assert (found.day, found.way, found.none, found.every) == (9, (True, True), 4, 9)
    assert weighed_day([HALF, HALF], days.__getitem__, Fraction(75, 100)).day == 7


def test_a_way_without_a_day_is_the_last_of_all() -> None:
    days = {(False,): 4, (True,): None}
    assert weighed_day([THIRD], days.__getitem__).day is None
    assert weighed_day([Fraction(1, 10)], days.__getitem__).day == 4


def test_no_open_quote_is_one_way_and_seven_are_64_seeded_ones() -> None:
    assert ways_of([]) == [((), 1)]
    drawn = ways_of([HALF] * 7)
    assert len(drawn) == 64
    assert sum(weight for _, weight in drawn) == 1
    assert drawn == ways_of([HALF] * 7)
    assert sum(weight for _, weight in ways_of([THIRD] * 6)) == 1
