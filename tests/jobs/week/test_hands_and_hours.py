"""What the owner says of hands: whose hands do a stretch, and which hours of a day are kept free; tried first."""

from __future__ import annotations

from datetime import time, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from jobs.calendar.rules import broken
from jobs.models import PinnedStretch
from jobs.week.keeping_free import Free, keep_free
from jobs.week.kept import standing_plan
from studio.house.clock import pretend
from studio.house.week import days_from, the_week
from studio.house.week_models import DayApart
from tests.jobs.week.bench import MONDAY_EIGHT, text, workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(owner):
    shop = workshop(owner, mixing_minutes_per_batch=10)
    with pretend(MONDAY_EIGHT):
        yield shop.booked(shop.line())


def hands_of(job, stretch: int) -> set[str]:
    return {who for work in standing_plan().plan.stretches[f"J{job.number}.r1l1.{stretch}"].works for who in work.people}


@pytest.mark.parametrize("who", ["owner", "helper"])
def test_a_stretch_is_done_by_the_hands_it_is_pinned_to(job, at_owner, who):
    sent = {"key": str(uuid4()), "load": "r1l1", "stretch": "1", "on": "30 Nov 2026", "at": "", "bench": "Bench 1", "who": who}
    tried = at_owner.post(f"/week/jobs/{job.number}/pin/", {**sent, "act": "try"})
    assert "Tried, not saved" in text(tried)
    assert not PinnedStretch.objects.exists()
    for _ in range(2):
        assert at_owner.post(f"/week/jobs/{job.number}/pin/", {**sent, "act": "save"}).status_code == 302
    row = PinnedStretch.objects.get()
    assert (row.who, row.at, row.bench) == (who, None, "")
    assert hands_of(job, 1) == {who}
    standing = standing_plan()
    assert broken(standing.asked, standing.plan) == []
    assert f"in the {who}'s hands" in text(at_owner.get(f"/week/jobs/{job.number}/")).replace("&#x27;", "'")


def test_hands_that_are_never_there_are_refused_with_the_reason(job, at_owner):
    DayApart.objects.create(who="helper", first_on=MONDAY_EIGHT.date(), last_on=MONDAY_EIGHT.date().replace(year=2027))
    sent = {"key": str(uuid4()), "load": "r1l1", "stretch": "1", "on": "30 Nov 2026", "at": "", "who": "helper", "act": "save"}
    refused = at_owner.post(f"/week/jobs/{job.number}/pin/", sent)
    assert refused.status_code == 422
    assert "helper" in text(refused)
    assert not PinnedStretch.objects.exists()


def test_the_database_knows_two_pairs_of_hands_and_no_pin_without_anything(job):
    for more in ({"who": ""}, {"who": "cook"}, {"stretch": 0, "who": "owner"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            PinnedStretch.objects.create(**{"job": job, "load": "r1l1", "stretch": 1, "on": MONDAY_EIGHT.date(), **more})


class TestHoursKeptFree:
    sent = {"who": "owner", "on": "30 Nov 2026", "begins": "9:30", "ends": "23:00", "because": "showroom"}

    def test_they_are_tried_first_then_the_plan_goes_round_them(self, job, at_owner):
        tried = at_owner.post("/week/free/", {**self.sent, "key": str(uuid4()), "act": "try"})
        assert "Tried, not saved" in text(tried)
        assert not DayApart.objects.exists()
        sent = {**self.sent, "key": str(uuid4()), "act": "save"}
        for _ in range(2):
            assert at_owner.post("/week/free/", sent).status_code == 302
        row = DayApart.objects.get()
        assert (row.who, row.because, row.kept_free, row.spells) == ("owner", "showroom", True, "09:30-23:00")
        standing = standing_plan()
        assert broken(standing.asked, standing.plan) == []
        (owner,) = (person for person in standing.asked.people if person.role == "owner")
        assert max(spell.end_minute for spell in owner.hours if spell.start_minute < 1440) == 9 * 60 + 30

    @pytest.mark.parametrize(("more", "said"), [
        ({"ends": "9:00"}, "That is not after the hour it begins at"), ({"on": "29 Nov 2026"}, "That day is past"),
        ({"begins": "1:00", "ends": "2:00"}, "The owner does not work in these hours anyway"), ({"begins": "noonish"}, "not understood"),
    ])
    def test_what_cannot_be_is_refused_beside_its_field(self, job, at_owner, more, said):
        refused = at_owner.post("/week/free/", {**self.sent, **more, "key": str(uuid4()), "act": "save"})
        assert refused.status_code == 422
        assert said in text(refused)
        assert "showroom" in refused.content.decode()
        assert not DayApart.objects.exists()

    def test_any_number_of_hours_of_a_day_are_kept_free(self, owner):
        week, day = the_week(), MONDAY_EIGHT.date()
        week.owner_monday = "08:30-12:30, 13:00-17:00"
        week.save()
        with pretend(MONDAY_EIGHT):
            for hour in (9, 10, 14, 15):
                keep_free(Free(who="owner", on=day, begins=time(hour), ends=time(hour, 30)), uuid4())
        begins_and_ends = [(8, 30), (9, 0), (9, 30), (10, 0), (10, 30), (12, 30), (13, 0), (14, 0), (14, 30), (15, 0), (15, 30), (17, 0)]
        (hours,) = days_from(day, 1)
        assert [at for spell in hours.spells["owner"] for at in spell] == [hour * 60 + minute for hour, minute in begins_and_ends]

    def test_they_are_taken_off_whatever_the_day_has_by_then(self, owner):
        week, day = the_week(), MONDAY_EIGHT.date()
        with pretend(MONDAY_EIGHT):
            kept = keep_free(Free(who="owner", on=day, begins=time(9), ends=time(10)), uuid4())
        week.owner_monday = "07:00-11:00"
        week.save()
        assert days_from(day, 1)[0].spells["owner"] == ((420, 540), (600, 660))
        closed = DayApart.objects.create(who="studio", first_on=day, last_on=day + timedelta(days=4))
        assert not days_from(day, 1)[0].is_open
        closed.delete()
        DayApart.objects.create(who="owner", first_on=day, last_on=day, spells="09:30-12:00")
        assert days_from(day, 1)[0].spells["owner"] == ((600, 720),)
        with pytest.raises(IntegrityError), transaction.atomic():
            DayApart.objects.filter(pk=kept.pk).update(spells="")

    def test_they_are_the_owners_to_keep(self, job, at_owner, at_helper):
        assert at_helper.post("/week/free/", self.sent).status_code == 403
        away = {"key": str(uuid4()), "first_on": "1 Dec 2026", "last_on": "", "spells": "", "because": "dentist"}
        assert "hours away" in text(at_owner.post("/week/away/", away, follow=True))  # that form is the helper's own
        assert not DayApart.objects.exists()
