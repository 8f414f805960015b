"""Two jobs in one mix: offered with what it saves, accepted once, made once in the plan, taken back until it is mixed."""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from jobs.calendar.rules import broken
from jobs.models import JobInWeek, Quote, SharedMix
from jobs.week.kept import standing_plan
from jobs.week.sharing import sharing_offers
from jobs.work.booking import frozen_estimate
from studio.house.clock import pretend
from tests.jobs.week.bench import MONDAY_EIGHT, text, workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def two(owner):
    shop = workshop(owner, mixing_minutes_per_batch=10)
    with pretend(MONDAY_EIGHT):
        yield [shop.booked(shop.line()) for _ in range(2)]


def ready(standing) -> dict[str, int]:
    return {name: (job.finish_minute - 1) // 1440 for name, job in standing.plan.jobs.items()}


def test_it_is_offered_with_what_it_saves_and_done_only_once_accepted(two, at_owner):
    first, second = two
    was = standing_plan()
    assert all(len({name.partition(".")[0] for name in mixing.stretches}) == 1 for mixing in was.plan.mixings)
    offer = sharing_offers()[0]
    mixes = {f"J{job.number}.m{mix.number}": mix for job in two for mix in frozen_estimate(job.quote).mixes}
    one, other = mixes[offer.pair.one], mixes[offer.pair.other]
    assert offer.pair.ml_saved == one.made_ml + other.made_ml - offer.pair.volume_ml >= 0
    assert offer.pair.volume_ml >= one.needed_ml + other.needed_ml
    assert sum(offer.pair.shares) == offer.pair.volume_ml
    assert offer.pair.minutes_saved == 10
    assert re.match(rf"Jobs {first.number} and {second.number} in one mix of .+ on \w+ \d+ \w+: saves 10 min", offer.in_words)
    assert offer.in_words in text(at_owner.get("/week/sharing/"))
    assert not SharedMix.objects.exists()
    sent = {"key": str(uuid4()), "one": offer.pair.one, "other": offer.pair.other}
    for _ in range(2):
        assert at_owner.post("/week/sharing/accept/", sent).status_code == 302
    row = SharedMix.objects.get()
    after = standing_plan()
    assert broken(after.asked, after.plan) == []
    common = [mixing for mixing in after.plan.mixings if len({name.partition(".")[0] for name in mixing.stretches}) == 2]
    assert [mixing.key for mixing in common] == [offer.pair.one]
    assert len(after.plan.mixings) == len(was.plan.mixings) - 1
    assert all(day <= ready(was)[name] for name, day in ready(after).items())
    assert re.search(rf"shared: job {first.number} load 1, \d+ mL and job {second.number} load 1, \d+ mL", text(at_owner.get("/week/")))
    assert row.share_ml + row.other_share_ml == row.volume_ml
    assert row.share_ml >= mixes[f"J{row.job.number}.m{row.mix}"].needed_ml
    assert row.other_share_ml >= mixes[f"J{row.other_job.number}.m{row.other_mix}"].needed_ml
    assert at_owner.post(f"/week/sharing/{row.pk}/remove/").status_code == 302
    assert "Not shared any more: taken back by the owner" in text(at_owner.get("/week/sharing/"))
    assert not SharedMix.objects.agreed().exists()
    assert len(standing_plan().plan.mixings) == len(was.plan.mixings)


def test_what_is_not_alike_or_shared_already_is_refused(two, at_owner):
    offer = sharing_offers()[0]
    for one, other in (("", ""), ("J1.m99", "J2.m99"), (offer.pair.one, offer.pair.one)):
        refused = at_owner.post("/week/sharing/accept/", {"key": str(uuid4()), "one": one, "other": other})
        assert refused.status_code == 422
    assert at_owner.post("/week/sharing/accept/", {"key": str(uuid4()), "one": offer.pair.one, "other": offer.pair.other}).status_code == 302
    again = at_owner.post("/week/sharing/accept/", {"key": str(uuid4()), "one": offer.pair.one, "other": offer.pair.other})
    assert "shared already" in text(again)
    assert SharedMix.objects.count() == 1


def test_the_helper_shares_nothing(two, at_helper):
    assert at_helper.get("/week/sharing/").status_code == 403
    assert at_helper.post("/week/sharing/accept/", {"key": str(uuid4())}).status_code == 403


def test_the_database_refuses_a_job_that_shares_with_itself_and_a_mix_shared_twice(two):
    first, second = two
    with pytest.raises(IntegrityError), transaction.atomic():
        row(first, first, other_mix=2)
    agreed = row(first, second)
    with pytest.raises(IntegrityError), transaction.atomic():
        row(first, second, other_mix=2)
    with pytest.raises(IntegrityError), transaction.atomic():
        SharedMix.objects.filter(pk=agreed.pk).update(withdrawn_at=MONDAY_EIGHT)
    SharedMix.objects.filter(pk=agreed.pk).update(withdrawn_at=MONDAY_EIGHT, withdrawn_because="moved")
    row(first, second, other_mix=2)


def test_mixes_of_another_quote_of_a_job_are_other_mixes(two):
    """What was mixed stays agreed; a job booked by another quote meanwhile shares what that one numbers alike."""
    first, second = two
    row(first, second)
    values = {field.name: getattr(second.quote, field.name) for field in Quote._meta.fields if field.name != "id"}
    revised = Quote.objects.create(**values | {"revision": 9, "form_key": uuid4(), "state": "draft", "decided_at": None})
    row(first, second, mix=2, other_quote=revised)
    with pytest.raises(IntegrityError), transaction.atomic():
        row(first, second, mix=3, other_quote=revised)


def row(job, other, **more) -> SharedMix:
    return SharedMix.objects.create(**{
        "job": job, "quote": job.quote, "mix": 1, "load": 1, "share_ml": 50, "other_job": other, "other_quote": other.quote,
        "other_mix": 1, "other_load": 1, "other_share_ml": 50, "called": "silver", "volume_ml": 100, "agreed_at": MONDAY_EIGHT,
        **more})


def test_what_a_job_that_moved_parts_is_withdrawn_and_told(two, at_owner):
    offer = sharing_offers()[0]
    at_owner.post("/week/sharing/accept/", {"key": str(uuid4()), "one": offer.pair.one, "other": offer.pair.other})
    standing_plan()
    other = SharedMix.objects.get().other_job
    JobInWeek.objects.create(job=other, not_before=MONDAY_EIGHT.date() + timedelta(days=9))
    after = standing_plan()
    assert broken(after.asked, after.plan) == []
    over = SharedMix.objects.get()
    assert over.withdrawn_at is not None
    assert f"job {other.number} on Wed 9 Dec" in over.withdrawn_because
    said = f"mix of {over.called} with job {other.number}: one for both, now each its own: {over.withdrawn_because}"
    assert f"Job {over.job.number}, {said}" in text(at_owner.get("/week/"))
    assert after.row.moved[0]["was"] == "one for both"
    users = [{name.partition(".")[0] for name in mixing.stretches} for mixing in after.plan.mixings]
    assert sorted(map(len, users)) == [1, 1, 1, 1]  # a silver part and a reducer for each of the two
