"""What the longer search finds is an offer: said in days, mixes and loads, taken as it was shown or left, once."""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import uuid4

import pytest

from jobs.calendar.rules import broken, value_of
from jobs.models import Job, JobInWeek, WeekEvent, WeekPlan
from jobs.week.kept import standing_plan
from jobs.week.offers import offer_beside
from studio.house.clock import pretend
from tests.jobs.week.bench import MONDAY_EIGHT, text, workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def small(owner, at_owner):
    """A big job booked first, a small one behind it that is due: first come makes it wait, another order does not."""
    shop = workshop(owner, hands=1, benches=1)
    with pretend(MONDAY_EIGHT):
        shop.booked(shop.line(quantity=120))
        small = shop.booked(shop.line(quantity=2))
        Job.objects.filter(pk=small.pk).update(due_on=MONDAY_EIGHT.date() + timedelta(days=3))
        standing_plan()
        yield small


def search(client) -> None:
    assert client.post("/week/search/", {"key": str(uuid4())}).status_code == 302


def test_it_is_said_and_stands_only_once_it_is_taken(small, at_owner):
    was = standing_plan()
    search(at_owner)
    assert standing_plan().row.pk == was.row.pk
    offer = offer_beside(was)
    assert value_of(offer.plan.asked, offer.plan.plan).late < was.value.late
    assert broken(offer.plan.asked, offer.plan.plan) == []
    days = (was.plan.jobs[f"J{small.number}"].finish_minute - 1) // 1440 - (offer.plan.plan.jobs[f"J{small.number}"].finish_minute - 1) // 1440
    assert days > 0
    assert re.search(r"1 job (a day|\d+ days) sooner", offer.in_words)
    page = text(at_owner.get("/week/"))
    assert offer.in_words in page
    assert "moves" in offer.in_words
    for _ in range(2):
        assert at_owner.post(f"/week/offers/{offer.pk}/", {"act": "take"}).status_code == 302
    now_stands = standing_plan()
    assert now_stands.row.plan == offer.plan.row.plan
    assert now_stands.row.moved
    assert WeekPlan.objects.filter(offered=True).count() == 0
    for name, (_, starts, _) in now_stands.places.items():
        assert WeekEvent.objects.get(uid=name).starts_at == starts
    assert "A better plan was found" not in text(at_owner.get("/week/"))


def test_left_it_is_gone_and_the_plan_is_as_it_was(small, at_owner):
    was = standing_plan()
    search(at_owner)
    offer = offer_beside(was)
    assert at_owner.post(f"/week/offers/{offer.pk}/", {"act": "leave"}).status_code == 302
    assert standing_plan().row.pk == was.row.pk
    assert not WeekPlan.objects.filter(offered=True).exists()


def test_one_whose_input_changed_is_not_shown_and_not_taken(small, at_owner):
    search(at_owner)
    pk = WeekPlan.objects.get(offered=True).pk
    JobInWeek.objects.create(job=small, weight=5)
    assert "A better plan was found" not in text(at_owner.get("/week/"))
    answer = at_owner.post(f"/week/offers/{pk}/", {"act": "take"}, follow=True)
    assert "Something changed since it was worked out" in text(answer)
    assert standing_plan().row.by == "first come"


def test_the_helper_is_offered_nothing(small, at_owner, at_helper):
    search(at_owner)
    assert "A better plan was found" not in text(at_helper.get("/week/"))
    pk = WeekPlan.objects.get(offered=True).pk
    assert at_helper.post(f"/week/offers/{pk}/", {"act": "take"}).status_code == 403
