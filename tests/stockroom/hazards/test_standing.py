"""The clock of ammoniacal silver: when it starts, what stops it, when it turns amber and red."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.kit.working_hours import NoHours, parse_hours, show_hours
from studio.stockroom.hazards.standing import (
    AMBER,
    FRESH,
    RED,
    SPRAYED,
    Limit,
    Start,
    clock_of,
)

WEDNESDAY = datetime(2026, 3, 4, 10, 0, tzinfo=UTC)
WORKED = Limit(hours=[(time(8), time(17))] * 5 + [None, None])


def at(minutes: int) -> datetime:
    return WEDNESDAY + timedelta(minutes=minutes)


@pytest.mark.parametrize(("minutes", "colour"), [
    (0, FRESH), (59, FRESH), (60, AMBER), (119, AMBER), (120, RED), (600, RED),
])
def test_it_turns_amber_after_an_hour_and_red_at_the_limit(minutes, colour):
    clock = clock_of(Start(key="bath", what="Bath", at=at(0)), WORKED, at(minutes))
    assert (clock.minutes, clock.colour) == (minutes, colour)
    assert clock.word


@pytest.mark.parametrize(("limit", "mixed", "alarm"), [
    pytest.param(Limit(minutes=240, hours=WORKED.hours), at(0), at(240), id="the studio's four hours"),
    pytest.param(Limit(minutes=999, hours=WORKED.hours), at(0), at(240), id="never past four"),
    pytest.param(Limit(minutes=240, hours=WORKED.hours), at(360), at(420), id="mixed at four, the day ends at five"),
    pytest.param(Limit(minutes=240, hours=WORKED.hours), at(420), at(540), id="mixed at the end of the day"),
    pytest.param(Limit(minutes=240, hours=WORKED.hours), at(3 * 1440), at(3 * 1440 + 120), id="mixed on a Saturday"),
    pytest.param(Limit(minutes=45, hours=WORKED.hours), at(500), at(545), id="after hours a shorter limit stays"),
    pytest.param(Limit(minutes=240, hours=WORKED.hours, zone=ZoneInfo("Asia/Tokyo")), at(0), at(120),
                 id="seven in the evening in Tokyo"),
])
def test_the_alarm_begins_at_the_limit_and_never_past_the_days_hours(limit, mixed, alarm):
    assert limit.alarm_from(mixed) == alarm


@pytest.mark.parametrize(("limit", "words"), [
    (Limit(), "within 2 h of mixing"),
    (Limit(minutes=240), "within 2 h of mixing"),
    (Limit(minutes=90, hours=WORKED.hours), "within 1 h 30 min of mixing, and before 17:00"),
    (Limit(minutes=240, hours=WORKED.hours), "within 4 h of mixing, and before 17:00; after hours within 2 h"),
    (Limit(hours=[*WORKED.hours[:2], (time(8), time(13)), *WORKED.hours[3:]]),
     "within 2 h of mixing, and before 17:00 (Wednesday 13:00)"),
])
def test_the_limit_reads_as_the_alarm_rings(limit, words):
    assert limit.in_words() == words
    assert limit.in_words(SPRAYED) == words.replace("mixing", "the first spraying")


def test_a_limit_shorter_than_an_hour_is_red_without_amber():
    clock = clock_of(Start(key="bath", what="Bath", at=at(0)), Limit(minutes=30), at(30))
    assert clock.colour == RED
    assert clock.amber_from == clock.alarm_from == at(30)


@given(began=st.integers(0, 2000), looked=st.integers(0, 4000), limit=st.integers(1, 300))
def test_whatever_runs_turns_red_at_its_limit_and_no_later_than_after_four_hours(began, looked, limit):
    clock = clock_of(Start(key="bath", what="Bath", at=at(began)), Limit(minutes=limit), at(looked))
    assert clock.alarm_from <= clock.start.at + timedelta(minutes=min(limit, 240))
    assert (clock.colour == RED) == (at(looked) >= clock.alarm_from)


@pytest.mark.parametrize(("typed", "kept"), [
    ("8-17", "08:00-17:00"), ("08:30 to 17.30", "08:30-17:30"), (" 9–12:15 ", "09:00-12:15"), ("", ""),
])
def test_working_hours_are_read_as_people_write_them(typed, kept):
    assert show_hours(parse_hours(typed)) == kept


@pytest.mark.parametrize("typed", ["all day", "17-8", "8-25", "8:75-17", "8"])
def test_what_are_no_hours_is_refused(typed):
    with pytest.raises(NoHours, match="08:30-17:30"):
        parse_hours(typed)
