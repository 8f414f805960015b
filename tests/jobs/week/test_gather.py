"""What jobs ask of the calendar: loads and mixes as their ticket has them, what is left of a run, what is waited for."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from jobs.models import BoughtIn, JobInWeek, PinnedStretch
from jobs.week.gather import gather, moment_of
from jobs.work.bench import note
from jobs.work.booking import frozen_estimate
from jobs.work.ticketing import plan_of
from jobs.work.work_plan import work_plan
from studio.house.clock import pretend, today
from studio.house.models import House
from studio.stockroom.models import Purchase
from tests import builders
from tests.jobs.week.bench import MONDAY_EIGHT, workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner):
    return workshop(owner)


def test_a_booked_job_asks_for_its_cutting_its_loads_its_cure_and_its_packing(shop):
    with pretend(MONDAY_EIGHT):
        job = shop.booked(shop.line(quantity=6))
        asked = gather().asked
        estimate = frozen_estimate(job.quote)
    (mine,) = asked.jobs
    assert (mine.id, mine.name) == (f"J{job.number}", str(job))
    assert sum(work.minutes for work in mine.before) >= estimate.before_bench_minutes
    assert all(work.minutes <= 90 and work.minutes % 5 == 0 for work in (*mine.before, *mine.after))
    assert mine.cure_minutes == 24 * 60
    assert sum(work.minutes for work in mine.after) >= 8 * 6
    loads = sum(len(each) for each in estimate.loads.values())
    assert len(asked.loads) == loads
    works = [work for load in asked.loads for stretch in load.stretches for work in stretch.works]
    hands = sum((step.work_minutes for load in estimate.timetable.loads for step in load.steps if not step.only_mixing), 0)
    assert hands <= sum(work.minutes for work in works) <= hands + 5 * len(works) + 5
    assert {person.name for person in asked.people} == {"owner", "helper"}


def test_every_mix_of_a_load_is_asked_for_and_ammoniacal_silver_is_made_safe_in_time(shop):
    with pretend(MONDAY_EIGHT):
        job = shop.booked(shop.line())
        asked = gather().asked
        estimate = frozen_estimate(job.quote)
    mixed = {f"J{job.number}.m{mix.number}" for mix in estimate.mixes if mix.load and not mix.pane and mix.parent_mix is None}
    assert {mix.key for mix in asked.mixes} == mixed
    uses = [(use, stretch) for load in asked.loads for stretch in load.stretches for use in stretch.mixes]
    assert {use.key for use, _ in uses} == mixed
    for use, stretch in uses:
        assert 0 <= use.first_work < len(stretch.works)
        mix = next(mix for mix in asked.mixes if mix.key == use.key)
        assert use.ml <= mix.most_ml
        if mix.safe_within_minutes is not None:
            assert mix.safe_within_minutes <= House.ammoniacal_limit()
            assert use.safe_work is not None


def test_what_is_done_on_the_bench_is_asked_no_more(shop, owner):
    with pretend(MONDAY_EIGHT):
        run = shop.run(shop.line())
        whole = gather().asked
        load = work_plan(plan_of(run.ticket)).loads[0]
        for card in load.steps:
            note(run=run, by=owner, client_key=builders.key(), kind="step", subject=f"{load.anchor}s{card.step.number}", content={"did": "done"})
        left = gather().asked
    assert len(whole.loads) == 1
    assert whole.jobs[0].before
    assert left.loads == ()
    assert left.mixes == ()
    assert left.jobs[0].before == ()
    assert left.jobs[0].after == whole.jobs[0].after
    assert left.jobs[0].earliest.packing_minute == whole.now_minute + 24 * 60


def test_glass_on_its_way_and_outside_work_say_when_and_why(shop, owner):
    with pretend(MONDAY_EIGHT):
        order = shop.order(shop.line())
        BoughtIn.objects.create(order=order, name="Polishing", cost=Decimal(40), kind="bevelling", days=5, before="silvering")
        BoughtIn.objects.create(order=order, name="Crate", cost=Decimal(40), due_on=today() + timedelta(days=9), before="packing")
        _booked(order, owner)
        asked = gather().asked
    assert asked.jobs[0].outside_minutes == 5 * 1440
    assert (asked.jobs[0].earliest.packing_cause, asked.jobs[0].earliest.packing_minute) == ("Crate comes", 9 * 1440 + 5)


def test_what_is_short_waits_for_what_is_on_its_way_and_is_named_where_nothing_is(owner):
    builders.house()
    builders.rates()
    shop = builders.Workshop(owner, silver="0.5")
    with pretend(MONDAY_EIGHT):
        job = shop.booked(shop.line())
        found = gather()
        assert found.short == {job.number: ["Silver nitrate"]}
        Purchase.objects.create(material=shop.silver, quantity=500, ordered_on=today(), due_on=today() + timedelta(days=3), form_key=builders.key())
        there = gather()
    assert there.mark != found.mark
    assert there.short == {}
    earliest = there.asked.jobs[0].earliest
    assert (earliest.bench_minute, earliest.bench_cause) == (3 * 1440 + 5, "Silver nitrate comes")


def _booked(order, owner):
    from jobs.quotes.quoting import decide, mark_sent, save_quote
    from jobs.work.booking import book_job

    quote = save_quote(order=order, by=owner, form_key=builders.key())
    mark_sent(quote, owner)
    decide(quote=quote, accepted=True, by=owner, who="")
    order.job.refresh_from_db()
    return book_job(job=order.job, by=owner, sample_approved=True, deposit_noted=True, waived_because="", due_on=None)


def test_a_pin_a_weight_and_a_day_not_to_begin_before_are_asked(shop):
    with pretend(MONDAY_EIGHT):
        job = shop.booked(shop.line())
        PinnedStretch.objects.create(job=job, load="r1l1", stretch=1, on=date(2026, 12, 2), at=time(10), bench="Bench 2")
        JobInWeek.objects.create(job=job, weight=3, not_before=date(2026, 12, 1), because="the sample dries")
        asked = gather().asked
    (mine,) = asked.jobs
    assert mine.weight == 3
    assert (mine.earliest.before_minute, mine.earliest.before_cause) == (1440 + 5, "the sample dries")
    pin = asked.loads[0].stretches[0].pinned
    assert (pin.start_minute, pin.bench) == (2 * 1440 + 600, "Bench 2")
    assert moment_of(asked.first_day, pin.start_minute, ZoneInfo("UTC")).replace(tzinfo=None) == datetime(2026, 12, 2, 10)


def test_what_starts_by_the_end_of_the_next_working_day_stays(shop):
    with pretend(MONDAY_EIGHT):
        shop.booked(shop.line())
        stretch = gather().asked.loads[0].stretches[0].id
        tuesday, friday = MONDAY_EIGHT + timedelta(days=1, hours=2), MONDAY_EIGHT + timedelta(days=4, hours=2)
        soon = gather({stretch: (tuesday.date(), tuesday, "Bench 1")}).asked.loads[0].stretches[0]
        later = gather({stretch: (friday.date(), friday, "Bench 1")}).asked.loads[0].stretches[0]
    assert (soon.pinned.start_minute, soon.pinned.bench, soon.was_day) == (1440 + 600, "Bench 1", 1)
    assert (later.pinned, later.was_day) == (None, 4)
