"""Remedies for a late job: each tried by a plan that keeps every rule, shown with it, and nothing saved by trying."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from jobs.calendar.rules import broken
from jobs.models import Job, WeekPlan
from jobs.week.kept import standing_plan
from jobs.week.remedies import remedies_of
from studio.house.clock import pretend
from studio.house.week import the_week
from studio.house.week_models import DayApart
from tests import builders
from tests.jobs.week.bench import text

pytestmark = pytest.mark.django_db
THURSDAY_EIGHT = datetime(2026, 12, 3, 8, 0, tzinfo=ZoneInfo("UTC"))


@pytest.fixture
def shop(owner):
    builders.house()
    builders.rates(hands=1, benches=1, setup_minutes=30, cutting_minutes_per_pane=4, packing_minutes_per_pane=8, cure_hours=24)
    with pretend(THURSDAY_EIGHT):
        week = the_week()
        week.owner_monday = week.owner_tuesday = week.owner_wednesday = week.owner_thursday = "08:00-13:00, 13:30-17:00"
        week.owner_friday = ""
        week.save()
        yield builders.Workshop(owner)


def ready(job: Job):
    standing = standing_plan()
    return standing.day(standing.plan.jobs[f"J{job.number}"].finish_minute - 1)


def test_a_half_day_on_a_day_off_is_offered_with_the_plan_that_shows_it(shop, at_owner):
    job = shop.booked(shop.line())
    Job.objects.filter(pk=job.pk).update(due_on=THURSDAY_EIGHT.date() + timedelta(days=1))
    was, plans = ready(job), WeekPlan.objects.count()
    found = remedies_of(job)
    assert found
    for remedy in found:
        assert remedy.ready < was
        assert broken(remedy.plan.asked, remedy.plan.plan) == []
        assert remedy.plan.day(remedy.plan.plan.jobs[f"J{job.number}"].finish_minute - 1) == remedy.ready
    assert re.match(r"Could be Fri 4 Dec if the owner worked Fri 4 Dec, 8:00 to 13:00\.|Could be \w+ \d+ Dec if the owner worked", found[0].in_words)
    page = text(at_owner.get(f"/week/jobs/{job.number}/sooner/"))
    assert found[0].in_words in page
    assert "packing" in page
    assert ready(job) == was
    assert WeekPlan.objects.count() == plans
    assert not DayApart.objects.exists()
    assert "What would make it sooner?" in text(at_owner.get("/week/"))


def test_what_is_shown_comes_true_once_the_hours_are_given(shop):
    job = shop.booked(shop.line())
    remedy = remedies_of(job)[0]
    day, low, high = re.search(r"(\w+ \d+ Dec), ([\d:]+) to ([\d:]+)$", remedy.provided).groups()
    on = datetime.strptime(day + " 2026", "%a %d %b %Y").date()
    DayApart.objects.create(who="owner", first_on=on, last_on=on, spells=f"{low}-{high}")
    assert ready(job) <= remedy.ready


def test_a_day_off_for_a_reason_is_nobodys_to_work(shop):
    job = shop.booked(shop.line())
    DayApart.objects.create(who="studio", first_on=THURSDAY_EIGHT.date() + timedelta(days=1), because="fair",
                            last_on=THURSDAY_EIGHT.date() + timedelta(days=3))
    assert [remedy for remedy in remedies_of(job) if "worked" in remedy.provided] == []


def test_a_job_with_slack_may_come_after_it(shop, at_owner):
    easy = shop.booked(shop.line(quantity=80))
    late = shop.booked(shop.line(quantity=2))
    Job.objects.filter(pk=late.pk).update(due_on=THURSDAY_EIGHT.date() + timedelta(days=1))
    standing = standing_plan()
    found = [remedy for remedy in remedies_of(late) if remedy.other_job]
    assert [remedy.other_job for remedy in found] == [easy.number]
    assert f"if job {easy.number} came after it" in found[0].in_words
    assert found[0].ready < ready(late)
    assert text(at_owner.get(f"/week/jobs/{late.number}/sooner/")).count(f"let job {easy.number} begin later") == 1
    assert standing_plan().row.pk == standing.row.pk


def test_the_helper_meets_none_of_it(shop, at_helper):
    job = shop.booked(shop.line())
    Job.objects.filter(pk=job.pk).update(due_on=THURSDAY_EIGHT.date())
    assert at_helper.get(f"/week/jobs/{job.number}/sooner/").status_code == 403
    assert "What would make it sooner?" not in text(at_helper.get("/week/"))
