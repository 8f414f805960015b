"""The week's page: days with a mix above what needs it, late jobs first, pins that are tried; a helper without customers."""

from __future__ import annotations

import re
from collections import defaultdict
from datetime import timedelta
from itertools import pairwise
from uuid import uuid4

import pytest

from jobs.models import Job, JobInWeek, PinnedStretch
from jobs.week.kept import standing_plan
from jobs.week.week_page import rows_of, week_shown
from studio.house.clock import pretend, today
from studio.house.week_models import DayApart
from tests.jobs.week.bench import MONDAY_EIGHT, text, workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner):
    return workshop(owner, mixing_minutes_per_batch=10)


@pytest.fixture(autouse=True)
def on_a_monday():
    with pretend(MONDAY_EIGHT):
        yield


def test_an_empty_studio_has_free_hands(shop, at_owner):
    assert "Nothing is booked: the hands are free." in text(at_owner.get("/week/"))


def test_a_mix_stands_above_the_stretch_that_needs_it_with_its_clock(shop, at_owner):
    shop.booked(shop.line())
    rows = rows_of(standing_plan())
    for row in rows:
        if row.kind == "mix":
            stretch = next(other for other in rows if other.kind == "bench" and other.safe_by == row.safe_by) if row.safe_by else None
            assert stretch is None or rows.index(row) < rows.index(stretch) or row.starts > stretch.starts
    assert any(row.safe_by for row in rows if row.kind == "mix")
    assert "Made safe by" in text(at_owner.get("/week/"))


@pytest.mark.parametrize("way", ["day", "job", "table"])
def test_each_way_shows_the_job(shop, at_owner, way):
    job = shop.booked(shop.line())
    page = at_owner.get(f"/week/?by={way}")
    assert page.status_code == 200
    assert f"/week/jobs/{job.number}/" in page.content.decode() or way == "table"
    assert "load 1, Plain silver" in text(page)


def test_a_persons_lane_shows_every_minute_of_their_hands_and_never_two_things_at_once(shop):
    shop.booked(shop.line(quantity=4))
    shop.booked(shop.line(quantity=4))
    standing = standing_plan()
    plan, asked = standing.plan, standing.asked
    minutes = defaultdict(int)
    for load in asked.loads:
        for stretch in load.stretches:
            for work, place in zip(stretch.works, plan.stretches[stretch.id].works, strict=True):
                for name in place.people:
                    minutes[standing.day(place.start_minute), name] += work.minutes
    for row in rows_of(standing):
        if row.kind != "bench":
            for name in row.who.split(", "):
                minutes[row.starts.date(), name] += row.minutes
    assert any(row.hands for row in rows_of(standing))
    for day in week_shown(standing).days:
        for name, y in day.strip.lanes if day.strip else ():
            mine = sorted((float(piece.x), float(piece.width)) for piece in day.strip.pieces if piece.y == y)
            assert all(x + width <= following + 0.2 for (x, width), (following, _) in pairwise(mine)), (day.on, name)
            if name in ("owner", "helper"):
                spells = [spell for hours in standing.about.days if hours.day == day.on for each in hours.spells.values() for spell in each]
                scale = 960 / (max(18 * 60, -(-max(high for _, high in spells) // 60) * 60) - min(8 * 60, min(low for low, _ in spells) // 60 * 60))
                assert sum(width for _, width in mine) == pytest.approx(minutes[day.on, name] * scale, abs=1)


def test_a_load_that_is_not_there_is_not_pinned(shop, at_owner):
    job = shop.booked(shop.line())
    sent = {"key": str(uuid4()), "load": "r9l9", "stretch": "0", "on": "4 Dec 2026", "act": "save"}
    refused = at_owner.post(f"/week/jobs/{job.number}/pin/", sent)
    assert refused.status_code == 422
    assert not PinnedStretch.objects.exists()


def test_a_late_job_comes_first_with_its_reason(shop, at_owner):
    shop.booked(shop.line())
    late = shop.booked(shop.line())
    Job.objects.filter(pk=late.pk).update(due_on=today())
    page = text(at_owner.get("/week/"))
    assert re.search(rf"days? late Job {late.number} , Hall mirror, Ada Fenwick , due Mon 30 Nov\. Ready \w+ \d+ Dec: .*cure", page)


def test_a_helper_sees_job_numbers_and_no_customer(shop, at_helper):
    job = shop.booked(shop.line())
    for way in ("day", "job", "table"):
        page = at_helper.get(f"/week/?by={way}").content.decode()
        assert "Ada Fenwick" not in page
        assert f"/jobs/{job.number}/" not in page
        assert f"Job {job.number}" in page or way == "table"
    assert at_helper.get(f"/week/jobs/{job.number}/").status_code == 403
    assert at_helper.post("/week/search/", {"key": str(uuid4())}).status_code == 403


def test_no_page_asks_more_with_more_jobs(shop, at_owner, django_assert_max_num_queries):
    shop.booked(shop.line())
    at_owner.get("/week/")
    with django_assert_max_num_queries(80) as few:
        at_owner.get("/week/")
    for _ in range(3):
        shop.booked(shop.line())
    at_owner.get("/week/")
    with django_assert_max_num_queries(80) as many:
        at_owner.get("/week/")
    assert len(few) == len(many)


class TestPinning:
    def sent(self, job, **more):
        return {"key": str(uuid4()), "load": "r1l1", "stretch": "1", "on": "3 Dec 2026", "at": "9:30", "bench": "Bench 2", **more}

    def test_it_is_tried_first_then_saved(self, shop, at_owner):
        job = shop.booked(shop.line())
        tried = at_owner.post(f"/week/jobs/{job.number}/pin/", self.sent(job, act="try"))
        assert tried.status_code == 200
        assert re.search(rf"Tried, not saved Job {job.number}: ready .* later", text(tried))
        assert not PinnedStretch.objects.exists()
        sent = self.sent(job, act="save")
        for _ in range(2):
            assert at_owner.post(f"/week/jobs/{job.number}/pin/", sent).status_code == 302
        pin = PinnedStretch.objects.get()
        place = standing_plan().places[f"J{job.number}.r1l1.1"]
        assert (place[1].strftime("%d %H:%M"), place[2]) == ("03 09:30", "Bench 2")
        assert at_owner.post(f"/week/jobs/{job.number}/pins/{pin.pk}/remove/").status_code == 302
        assert not PinnedStretch.objects.exists()

    @pytest.mark.parametrize(("more", "said"), [
        ({"at": "3:00"}, "That cannot be"), ({"on": "5 Dec 2026"}, "That cannot be"), ({"at": ""}, "Say from when"),
        ({"at": "noonish"}, "was not understood as a time"), ({"bench": "Moon"}, "Moon"), ({"on": "30 Nov 2026", "at": "7:00"}, "That time is past"),
    ])
    def test_an_impossible_pin_is_refused_with_the_reason(self, shop, at_owner, more, said):
        job = shop.booked(shop.line())
        refused = at_owner.post(f"/week/jobs/{job.number}/pin/", self.sent(job, act="save", **more))
        assert refused.status_code == 422
        assert said in text(refused)
        assert not PinnedStretch.objects.exists()

    def test_a_load_begins_on_its_day(self, shop, at_owner):
        job = shop.booked(shop.line())
        sent = {"key": str(uuid4()), "load": "r1l1", "stretch": "0", "on": "4 Dec 2026", "act": "save"}
        assert at_owner.post(f"/week/jobs/{job.number}/pin/", sent).status_code == 302
        assert standing_plan().places[f"J{job.number}.r1l1.1"][0].day == 4

    def test_a_day_not_to_begin_before_and_a_weight(self, shop, at_owner):
        job = shop.booked(shop.line())
        sent = {"weight": "3", "not_before": "3 Dec 2026", "because": "the sample dries"}
        tried = at_owner.post(f"/week/jobs/{job.number}/said/", {**sent, "act": "try"})
        assert "Tried, not saved" in text(tried)
        assert not JobInWeek.objects.exists()
        assert at_owner.post(f"/week/jobs/{job.number}/said/", {**sent, "act": "save"}).status_code == 302
        assert "the sample dries Thu 3 Dec" in text(at_owner.get(f"/week/jobs/{job.number}/"))
        assert at_owner.post(f"/week/jobs/{job.number}/said/", {**sent, "weight": "12"}).status_code == 422


class TestHoursAway:
    def test_the_helper_records_them_and_the_plan_goes_round(self, shop, at_helper):
        shop.booked(shop.line())
        page = at_helper.get("/week/")
        assert "Record hours away" in text(page)
        sent = {"key": str(uuid4()), "first_on": "1 Dec 2026", "last_on": "", "spells": "", "because": "dentist"}
        assert at_helper.post("/week/away/", sent).status_code == 302
        row = DayApart.objects.get()
        assert (row.who, row.first_on.day) == ("helper", 1)
        day = MONDAY_EIGHT.date() + timedelta(days=1)
        assert not any("helper" in row.who for row in rows_of(standing_plan()) if row.starts.date() == day)

    def test_a_day_that_cannot_be_read_is_refused_and_kept(self, shop, at_helper):
        refused = at_helper.post("/week/away/", {"key": str(uuid4()), "first_on": "someday", "because": "dentist"})
        assert refused.status_code == 422
        assert "dentist" in refused.content.decode()


def test_what_moved_is_listed_until_seen(shop, at_owner):
    shop.booked(shop.line())
    at_owner.get("/week/")
    DayApart.objects.create(who="studio", first_on=today(), last_on=today())
    assert "Moved since you last looked" in text(at_owner.get("/week/"))
    assert at_owner.post("/week/seen/").status_code == 302
    assert "Moved since you last looked" not in text(at_owner.get("/week/"))


def test_looking_for_a_better_plan_says_what_it_found(shop, at_owner):
    shop.booked(shop.line())
    answer = at_owner.post("/week/search/", {"key": str(uuid4())}, follow=True)
    assert re.search("Nothing better was found|A better plan was found", text(answer))
