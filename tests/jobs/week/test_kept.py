"""The plan that stands: new when anything it rests on is another, checked, with what moved; never one that breaks a rule."""

from __future__ import annotations

from datetime import date, time, timedelta

import pytest

from jobs.calendar.effort import TWO_SECONDS
from jobs.calendar.rules import broken
from jobs.models import JobInWeek, PinnedStretch, WeekPlan
from jobs.week import kept, offers
from jobs.week.kept import mark_seen, standing_plan, unseen_moves
from jobs.week.offers import search_longer
from studio.house.clock import pretend
from studio.house.week_models import DayApart
from studio.stockroom.models import Lot
from tests.jobs.week.bench import MONDAY_EIGHT, workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner):
    return workshop(owner)


def test_every_booked_job_has_its_place_and_no_rule_is_broken(shop):
    with pretend(MONDAY_EIGHT):
        for _ in range(3):
            shop.booked(shop.line(quantity=4))
        standing = standing_plan()
    assert broken(standing.asked, standing.plan) == []
    assert len(standing.plan.jobs) == 3
    assert standing.plan.refused == ()
    assert len(standing.plan.stretches) == sum(len(load.stretches) for load in standing.asked.loads)


def test_it_stands_until_something_changes(shop):
    with pretend(MONDAY_EIGHT):
        shop.booked(shop.line())
        first = standing_plan()
        assert standing_plan().row.pk == first.row.pk
        shop.booked(shop.line())
        second = standing_plan()
    assert second.row.pk != first.row.pk
    assert len(second.plan.jobs) == 2


def test_a_lot_that_is_held_and_words_that_changed_make_the_plan_stale(shop):
    with pretend(MONDAY_EIGHT):
        job = shop.booked(shop.line())
        first = standing_plan()
        assert first.about.short == {}
        Lot.objects.filter(material=shop.silver).update(state="held", hold_reason="cloudy")
        second = standing_plan()
        assert second.about.short == {job.number: ("Silver nitrate",)}
        row = JobInWeek.objects.create(job=job, not_before=date(2026, 12, 3), because="the sample dries")
        assert "the sample dries" in standing_plan().asked.jobs[0].earliest.before_cause
        JobInWeek.objects.filter(pk=row.pk).update(because="the frame is made")
        assert "the frame is made" in standing_plan().asked.jobs[0].earliest.before_cause


def test_what_should_have_begun_and_did_not_is_planned_anew(shop):
    with pretend(MONDAY_EIGHT):
        shop.booked(shop.line())
        first = standing_plan()
    with pretend(MONDAY_EIGHT + timedelta(hours=3)):
        second = standing_plan()
    assert second.row.pk != first.row.pk
    assert min(work.start_minute for job in second.plan.jobs.values() for work in job.before) >= 11 * 60


def test_a_day_off_moves_what_stood_on_it_and_is_told_until_seen(shop):
    with pretend(MONDAY_EIGHT):
        job = shop.booked(shop.line())
        first = standing_plan()
        stretch, (day, _, _) = next(iter(first.places.items()))
        DayApart.objects.create(who="studio", first_on=day, last_on=day)
        second = standing_plan()
        assert second.places[stretch][0] > day
        moves = unseen_moves()
        assert {move.job for move in moves} == {job.number}
        assert any(move.what == "ready" for move in moves)
        mark_seen()
        assert unseen_moves() == []


def test_a_pin_is_kept_to_the_minute_and_the_bench(shop):
    with pretend(MONDAY_EIGHT):
        job = shop.booked(shop.line())
        PinnedStretch.objects.create(job=job, load="r1l1", stretch=1, on=date(2026, 12, 3), at=time(9, 30), bench="Bench 2")
        place = standing_plan().places[f"J{job.number}.r1l1.1"]
    assert (place[0], place[1].time(), place[2]) == (date(2026, 12, 3), time(9, 30), "Bench 2")


def test_a_plan_that_breaks_a_rule_is_discarded_and_the_former_stands(shop, monkeypatch):
    with pretend(MONDAY_EIGHT):
        shop.booked(shop.line())
        first = standing_plan()
        monkeypatch.setattr(kept, "broken", lambda asked, plan: ["two works at once"])
        shop.booked(shop.line())
        second = standing_plan()
    assert second.row.pk == first.row.pk
    assert "discarded" in second.row.trouble
    assert len(second.plan.jobs) == 1


def test_the_longer_search_is_taken_only_while_its_input_is_still_todays(shop, monkeypatch):
    with pretend(MONDAY_EIGHT):
        jobs = [shop.booked(shop.line(quantity=6)) for _ in range(4)]
        standing_plan()
        try_out = kept.try_out

        def and_meanwhile(before, effort):
            found = try_out(before, effort)
            JobInWeek.objects.create(job=jobs[0], weight=5)
            return found

        monkeypatch.setattr(offers, "try_out", and_meanwhile)
        assert search_longer(TWO_SECONDS) is None


def test_few_plans_are_kept(shop, monkeypatch):
    monkeypatch.setattr(kept, "MOST_KEPT", 2)
    with pretend(MONDAY_EIGHT):
        for _ in range(4):
            shop.booked(shop.line())
            standing_plan()
    assert WeekPlan.objects.count() <= 3


def test_a_plan_that_stands_is_read_once_for_many_pages(shop):
    with pretend(MONDAY_EIGHT):
        shop.booked(shop.line(quantity=2))
        worked_out = standing_plan()
        first, again = standing_plan(), standing_plan()
        assert first.asked is again.asked
        assert first.about is again.about
        assert (first.asked, first.plan, first.value, first.about) == (
            worked_out.asked, worked_out.plan, worked_out.value, worked_out.about)
        shop.booked(shop.line(quantity=3))
        assert len(standing_plan().asked.jobs) == 2
