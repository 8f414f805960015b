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
    MIXED,
    RED,
    SPRAYED,
    Limit,
    MadeSafe,
    Mix,
    Spraying,
    Start,
    clock_of,
    open_clocks,
    starts_of,
)

WEDNESDAY = datetime(2026, 3, 4, 10, 0, tzinfo=UTC)
BATH, SILVER, AMMONIA = frozenset({"silver_salt", "ammonia"}), frozenset({"silver_salt"}), frozenset({"ammonia"})
WORKED = Limit(hours=[(time(8), time(17))] * 5 + [None, None])


def at(minutes: int) -> datetime:
    return WEDNESDAY + timedelta(minutes=minutes)


def test_a_mix_of_silver_and_ammonia_starts_a_clock_and_a_mix_of_one_does_not():
    starts = starts_of([Mix(key="bath", what="Bath", classes=BATH, at=at(0)),
                        Mix(key="silver", what="Silver stock", classes=SILVER, at=at(0)),
                        Mix(key="oxide", what="Barry's", at=at(1),
                            classes=frozenset({"silver_salt", "ammonium_nitrate", "caustic"}))])
    assert [(start.key, start.began) for start in starts] == [("bath", MIXED), ("oxide", MIXED)]


def test_two_stocks_that_meet_on_the_pane_start_at_the_first_spraying():
    met = Spraying(key="s3", what="Silver and ammonia", stocks=(SILVER, AMMONIA), at=at(20))
    mixed_before = Spraying(key="s4", what="Bath and reducer", stocks=(BATH, frozenset({"reducer"})), at=at(20))
    harmless = Spraying(key="s5", what="Silver twice", stocks=(SILVER, SILVER), at=at(20))
    starts = starts_of([], [met, mixed_before, harmless])
    assert [(start.key, start.began, start.at) for start in starts] == [("s3", SPRAYED, at(20))]


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


def test_a_limit_shorter_than_an_hour_is_red_without_amber():
    clock = clock_of(Start(key="bath", what="Bath", at=at(0)), Limit(minutes=30), at(30))
    assert clock.colour == RED
    assert clock.amber_from == clock.alarm_from == at(30)


def test_a_mix_noted_late_starts_at_its_own_time_and_a_making_safe_before_it_stops_nothing():
    late = Start(key="bath", what="Bath", at=at(30))
    [clock] = open_clocks([late], [MadeSafe(covers=frozenset({"bath"}), at=at(29))], WORKED, at(100))
    assert clock.minutes == 70


keys = st.sampled_from(["m1b1", "m1b2", "m2b1", "m3b1", "r1l1s3"])
moments = st.integers(0, 2000)


@given(mixed=st.dictionaries(keys, moments), safes=st.lists(st.tuples(st.frozensets(keys), moments), max_size=5),
       looked=st.integers(0, 4000), limit=st.integers(1, 300))
def test_only_named_clocks_stop_and_what_runs_turns_red(mixed, safes, looked, limit):
    """Given any mixes and makings safe, when one looks, then just what no making safe named since still stands."""
    starts = [Start(key=key, what=key, at=at(minutes)) for key, minutes in mixed.items()]
    made = [MadeSafe(covers=covers, at=at(minutes)) for covers, minutes in safes]
    running = open_clocks(starts, made, Limit(minutes=limit), at(looked))
    stopped = {key for covers, minutes in safes for key in covers if key in mixed and minutes >= mixed[key]}
    assert {clock.start.key for clock in running} == mixed.keys() - stopped
    for clock in running:
        assert clock.alarm_from <= clock.start.at + timedelta(minutes=min(limit, 240))
        assert (clock.colour == RED) == (at(looked) >= clock.alarm_from)
    assert running == sorted(running, key=lambda clock: clock.start.at)


@pytest.mark.parametrize(("typed", "kept"), [
    ("8-17", "08:00-17:00"), ("08:30 to 17.30", "08:30-17:30"), (" 9–12:15 ", "09:00-12:15"), ("", ""),
])
def test_working_hours_are_read_as_people_write_them(typed, kept):
    assert show_hours(parse_hours(typed)) == kept


@pytest.mark.parametrize("typed", ["all day", "17-8", "8-25", "8:75-17", "8"])
def test_what_are_no_hours_is_refused(typed):
    with pytest.raises(NoHours, match="08:30-17:30"):
        parse_hours(typed)
