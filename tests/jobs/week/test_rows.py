"""What the database itself refuses of the week, whoever writes."""

from __future__ import annotations

from datetime import date, time

import pytest
from django.db import IntegrityError, transaction

from jobs.models import JobInWeek, PinnedStretch, WeekEvent, WeekFeed, WeekPlan
from studio.house.clock import now
from studio.house.week_models import DayApart, StudioWeek
from tests import builders

pytestmark = pytest.mark.django_db
DAY = date(2026, 12, 1)


@pytest.fixture
def job(owner, rates):
    return builders.Workshop(owner).booked()


@pytest.mark.parametrize("make", [
    lambda job, owner: StudioWeek.objects.create(id=2),
    lambda job, owner: StudioWeek.objects.create(holds_share=0),
    lambda job, owner: StudioWeek.objects.create(look_ahead_days=3),
    lambda job, owner: DayApart.objects.create(first_on=DAY, last_on=date(2026, 11, 1)),
    lambda job, owner: DayApart.objects.create(who="cat", first_on=DAY, last_on=DAY),
    lambda job, owner: JobInWeek.objects.create(job=job, weight=0),
    lambda job, owner: PinnedStretch.objects.create(job=job, load="r1l1", stretch=1, on=DAY),
    lambda job, owner: PinnedStretch.objects.create(job=job, load="r1l1", stretch=0, on=DAY, at=time(9), bench="Bench 1"),
    lambda job, owner: WeekEvent.objects.create(uid="a", summary="a", changed_at=now()),
    lambda job, owner: [WeekFeed.objects.create(person=owner, token_hash=each, made_at=now()) for each in "ab"],
    lambda job, owner: WeekFeed.objects.create(person=owner, token_hash="", made_at=now()),
    lambda job, owner: WeekPlan.objects.create(made_at=now(), mark="", good_until=now(), by="search", version="1", asked={}, plan={}, value={}, about={}),
    lambda job, owner: WeekPlan.objects.create(made_at=now(), mark="a", good_until=now(), by="chance", version="1", asked={}, plan={}, value={}, about={}),
])
def test_the_database_refuses_it(job, owner, make):
    with pytest.raises(IntegrityError), transaction.atomic():
        make(job, owner)


def test_a_stretch_is_pinned_once(job):
    PinnedStretch.objects.create(job=job, load="r1l1", stretch=0, on=DAY)
    with pytest.raises(IntegrityError), transaction.atomic():
        PinnedStretch.objects.create(job=job, load="r1l1", stretch=0, on=DAY)
