"""The feed: text by RFC 5545 read back by another library, UIDs that stay, moves counted, a link that is withdrawn."""

from __future__ import annotations

import hashlib
import re
from datetime import UTC, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import icalendar
import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from jobs.models import Job, PinnedStretch, WeekFeed
from jobs.week.calendar_text import Event, escaped, folded, written
from jobs.week.feed_views import FEED_ASKED, FEED_WRONG
from jobs.week.kept import standing_plan
from studio.house.clock import pretend
from studio.house.models import House
from studio.house.week_models import DayApart
from tests import builders
from tests.jobs.week.bench import MONDAY_EIGHT


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=300))
def test_a_line_is_folded_at_75_octets_and_unfolds_to_itself(text):
    lines = folded(f"SUMMARY:{text}").split("\r\n")
    assert lines.pop() == ""
    assert all(len(line.encode()) <= 75 for line in lines)
    assert lines[0] + "".join(line[1:] for line in lines[1:]) == f"SUMMARY:{text}"


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=80))
def test_another_reader_reads_back_what_was_escaped(text):
    moment = datetime(2026, 12, 1, 9, tzinfo=UTC)
    event = Event(uid="a", sequence=2, stamp=moment, summary="x" + text, starts=moment, ends=moment + timedelta(hours=1))
    read = icalendar.Calendar.from_ical(written("The week", [event], ZoneInfo("Europe/London")))
    assert str(read.walk("VEVENT")[0]["SUMMARY"]) == "x" + text
    assert escaped("a,b;c\\d\ne") == "a\\,b\\;c\\\\d\\ne"


@pytest.mark.parametrize("name", ["Europe/London", "America/New_York", "Australia/Adelaide", "Asia/Kolkata", "UTC"])
def test_the_zone_says_each_change_of_the_clock(name):
    zone = ZoneInfo(name)
    starts = [datetime(2026, month, 15, 12, tzinfo=UTC) for month in range(1, 13)]
    events = [Event(uid=f"{at}", sequence=0, stamp=start, summary="s", starts=start, ends=start + timedelta(hours=1)) for at, start in enumerate(starts)]
    text = written("The week", events, zone)
    read = icalendar.Calendar.from_ical(text)
    made = read.walk("VTIMEZONE")[0].to_tz(lookup_tzid=False)
    for event, start in zip(read.walk("VEVENT"), starts, strict=True):
        local = event["DTSTART"].dt.replace(tzinfo=None)
        assert local == start.astimezone(zone).replace(tzinfo=None)
        assert local.replace(tzinfo=made).utcoffset() == start.astimezone(zone).utcoffset()


@pytest.fixture
def shop(owner):
    builders.house()
    House.objects.update(time_zone="Europe/London")
    builders.rates(hands=2, benches=2, setup_minutes=30, cutting_minutes_per_pane=4, packing_minutes_per_pane=8, cure_hours=24)
    with pretend(MONDAY_EIGHT):
        yield builders.Workshop(owner)


def link_of(client: Client) -> str:
    page = client.post("/week/feed/make/", {"key": str(uuid4())}).content.decode()
    return re.search(r"(/week/feed/[0-9a-f]{64}\.ics)", page)[1]


def read(address: str) -> icalendar.Calendar:
    answer = Client().get(address)
    assert answer.status_code == 200
    assert "no-store" in answer["Cache-Control"]
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    return icalendar.Calendar.from_ical(answer.content)


@pytest.mark.django_db
class TestTheFeed:
    def test_every_stretch_work_and_mixing_stands_in_it_at_its_time(self, shop, at_owner):
        job = shop.booked(shop.line())
        Job.objects.filter(pk=job.pk).update(due_on=MONDAY_EIGHT.date() + timedelta(days=9))
        events = {str(event["UID"]): event for event in read(link_of(at_owner)).walk("VEVENT")}
        standing = standing_plan()
        assert set(standing.plan.stretches) <= set(events)
        assert len([uid for uid in events if ".m" in uid]) == len(standing.plan.mixings)
        for name, (_, starts, bench) in standing.places.items():
            assert events[name]["DTSTART"].dt == starts
            assert str(events[name]["SUMMARY"]) == f"Job {job.number}, load 1: {standing.about.notes[name].works[0]}, {bench}"
        assert any("Made safe by" in str(event.get("DESCRIPTION", "")) for event in events.values())
        assert events[f"J{job.number}.due"]["DTSTART"].dt == MONDAY_EIGHT.date() + timedelta(days=9)
        assert "Ada Fenwick" in str(events[f"J{job.number}.due"]["DESCRIPTION"])

    def test_a_move_counts_up_under_the_same_uid_and_what_is_gone_is_cancelled(self, shop, at_owner):
        job, other = shop.booked(shop.line()), shop.booked(shop.line())
        address = link_of(at_owner)
        uid = f"J{job.number}.r1l1.1"
        before = {str(event["UID"]): event for event in read(address).walk("VEVENT")}
        PinnedStretch.objects.create(job=job, load="r1l1", stretch=1, on=MONDAY_EIGHT.date() + timedelta(days=3), at="10:00", bench="Bench 1")
        Job.objects.filter(pk=other.pk).update(state="cancelled", saves=9)
        after = {str(event["UID"]): event for event in read(address).walk("VEVENT")}
        assert int(after[uid]["SEQUENCE"]) > int(before[uid]["SEQUENCE"])
        assert after[uid]["DTSTART"].dt != before[uid]["DTSTART"].dt
        gone = after[f"J{other.number}.r1l1.1"]
        assert str(gone["STATUS"]) == "CANCELLED"
        with pretend(MONDAY_EIGHT + timedelta(days=31)):
            DayApart.objects.create(who="owner", first_on=MONDAY_EIGHT.date() + timedelta(days=40), last_on=MONDAY_EIGHT.date() + timedelta(days=40))
            assert gone["UID"] not in {event["UID"] for event in read(address).walk("VEVENT")}

    def test_the_helpers_feed_names_no_customer_and_no_order(self, shop, at_helper):
        shop.booked(shop.line())
        text = Client().get(link_of(at_helper)).content.decode().replace("\r\n ", "")
        assert "Job 1" in text
        assert "Fenwick" not in text
        assert "Hall mirror" not in text

    def test_only_a_hash_is_kept_and_a_withdrawn_link_opens_nothing(self, shop, at_helper, helper):
        address = link_of(at_helper)
        token = address.removesuffix(".ics").rpartition("/")[2]
        feed = WeekFeed.objects.get()
        assert feed.token_hash == hashlib.sha256(token.encode()).hexdigest()
        assert token not in at_helper.get("/week/feed/").content.decode()
        assert at_helper.post("/week/feed/make/", {"key": str(uuid4())}).status_code == 422
        helper.is_active = False
        helper.save()
        assert Client().get(address).status_code == 404
        helper.is_active = True
        helper.save()
        assert Client().get(address).status_code == 200
        at_helper.force_login(helper)
        assert at_helper.post("/week/feed/withdraw/").status_code == 302
        assert Client().get(address).status_code == 404
        assert Client().get("/week/feed/" + "0" * 64 + ".ics").status_code == 404

    def test_guessed_links_and_a_link_asked_without_end_are_held_back_for_a_while(self, shop, at_owner):
        address, guessed = link_of(at_owner), "/week/feed/" + "0" * 64 + ".ics"
        for _ in range(FEED_WRONG.most):
            assert Client().get(guessed).status_code == 404
        held = Client().get(address)
        assert (held.status_code, held["Retry-After"]) == (429, "900")
        assert b"BEGIN" not in held.content
        elsewhere = {"REMOTE_ADDR": "10.1.2.3"}
        for _ in range(FEED_ASKED.most):
            assert Client().head(address, **elsewhere).status_code == 200
        assert Client().get(address, **elsewhere).status_code == 429
