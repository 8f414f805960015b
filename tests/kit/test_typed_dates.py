"""Dates as people write them: whatever is printed is read back, and nothing is read as another day in silence."""

from __future__ import annotations

from datetime import date, time, timedelta

import pytest
from hypothesis import assume, given
from hypothesis.strategies import booleans, dates, integers, sampled_from

from studio.kit.typed_dates import MONTHS, WEEKDAYS, DayReader, NoDate, day_first, show_day, show_day_in_full

THURSDAY = date(2026, 11, 26)
DAYS = dates(date(2000, 1, 1), date(2060, 12, 31))


def reader(today: date = THURSDAY, by_day: bool = True, towards: str = "ahead") -> DayReader:
    return DayReader(today=today, day_first=lambda: by_day, towards=towards)


@given(today=DAYS, day=DAYS, by_day=booleans(), towards=sampled_from(["ahead", "back", "near"]))
def test_every_printed_date_is_read_back_whatever_day_it_is_typed_on(today, day, by_day, towards):
    assume(abs(day.year - today.year) < 50)
    month = MONTHS[day.month - 1]
    for printed in (show_day(day), show_day_in_full(day), show_day(day).upper(), day.isoformat(), f"{day.day} {month} {day.year}",
                    f"{month.capitalize()} {day.day}, {day.year}",
                    f"{day.day}/{day.month}/{day.year}" if by_day else f"{day.month}/{day.day}/{day.year}"):
        assert reader(today, by_day, towards).read(printed) == day


@given(today=DAYS, days=integers(-180, 180), towards=sampled_from(["ahead", "back", "near"]))
def test_a_date_without_its_year_is_the_right_one_where_its_weekday_stands_before_it(today, days, towards):
    """Lists print “Tue 1 Dec”: typed over into any field it stays that day, whichever way the field looks."""
    day = today + timedelta(days=days)
    printed = f"{WEEKDAYS[day.weekday()][:3]} {day.day} {MONTHS[day.month - 1][:3]}"
    assert reader(today, towards=towards).read(printed) == day


@given(today=DAYS, first=integers(1, 31), second=integers(1, 31), by_day=booleans())
def test_figures_are_read_in_the_studios_order_or_not_at_all(today, first, second, by_day):
    day, month = (first, second) if by_day else (second, first)
    try:
        read = reader(today, by_day).read(f"{first}/{second}")
    except NoDate:
        assert month > 12 or day > (29, 31, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)[month - 1] or (day, month) in ((30, 2), (31, 2))
    else:
        assert (read.day, read.month) == (day, month)
        assert today <= read <= today + timedelta(days=8 * 366)


@pytest.mark.parametrize(("typed", "day"), [
    ("3/4", date(2027, 4, 3)), ("3.4.27", date(2027, 4, 3)), ("1 feb", date(2027, 2, 1)), ("1st of Feb 2027", date(2027, 2, 1)),
    ("Mon 1 Feb", date(2027, 2, 1)), ("tomorrow", date(2026, 11, 27)), ("in 3 weeks", date(2026, 12, 17)),
    ("in a month", date(2026, 12, 26)), ("two weeks ago", date(2026, 11, 12)), ("end of March", date(2027, 3, 31)),
    ("end of Feb 2028", date(2028, 2, 29)), ("end of the month", date(2026, 11, 30)), ("end of next month", date(2026, 12, 31)),
    ("friday", date(2026, 11, 27)), ("29 Feb", date(2028, 2, 29)), ("26 Nov", THURSDAY), ("25 Nov", date(2027, 11, 25)),
])
def test_what_a_person_writes_on_a_thursday_in_november(typed, day):
    assert reader().read(typed) == day


@pytest.mark.parametrize(("typed", "said"), [
    ("next Friday", "may be Fri 27 Nov 2026 or Fri 4 Dec 2026"), ("3 weeks", "may be Thu 17 Dec 2026 or Thu 5 Nov 2026"),
    ("Tue 1 Feb 2027", "1 Feb 2027 is a Monday, not a Tuesday"), ("4/13", "here the day comes first. Write 13 Apr"),
    ("31 April", "There is no 31 April"), ("Thursday", "Today is a Thursday"), ("1 Feb 1877", "lies in 1877"),
    ("march", "not understood as a date"), ("soon", "not understood as a date"), ("end of Feb 0000", "There is no 1 February in 0"),
])
def test_what_could_be_another_day_is_asked_instead_of_guessed(typed, said):
    with pytest.raises(NoDate, match=said):
        reader().read(typed)


def test_which_way_a_date_without_its_year_lies_is_the_fields_to_say():
    assert reader(towards="back").read("1 Feb") == date(2026, 2, 1)
    assert reader(towards="near").read("1 Feb") == date(2027, 2, 1)
    assert reader(towards="near").read("1 Aug") == date(2026, 8, 1)
    assert reader(towards="back").read("friday") == date(2026, 11, 20)


@pytest.mark.parametrize(("zone", "units", "by_day"), [
    ("Europe/London", "metric", True), ("America/Chicago", "metric", False), ("Europe/Stockholm", "metric", True),
    ("Asia/Tokyo", "metric", False), ("UTC", "metric", True), ("UTC", "us", False), ("Europe/London", "us", True),
])
def test_the_order_is_the_countrys(zone, units, by_day):
    assert day_first(zone, units) is by_day


@pytest.mark.parametrize(("typed", "day", "at"), [
    ("14:30", THURSDAY, time(14, 30)), ("yesterday 9 am", date(2026, 11, 25), time(9)), ("9.15 yesterday", date(2026, 11, 25), time(9, 15)),
    ("2026-11-26T10:15", THURSDAY, time(10, 15)), ("26 Nov 2026, 10:15", THURSDAY, time(10, 15)), ("now", THURSDAY, time(8)),
    ("at 12:05 pm", THURSDAY, time(12, 5)),
])
def test_a_moment_is_a_day_and_a_time(typed, day, at):
    assert reader(towards="back").read_moment(typed, time(8)) == (day, at)


@pytest.mark.parametrize("typed", ["1 Feb", "25:00", "13 pm", "10:75", "sometime"])
def test_a_moment_without_a_time_is_none(typed):
    with pytest.raises(NoDate):
        reader(towards="back").read_moment(typed, time(8))
