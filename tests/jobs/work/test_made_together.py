"""A mix that two jobs share, on their tickets: each says with whom, one makes it, each records its share, one clock."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from uuid import uuid4

import pytest

from jobs.models import JobInWeek, RunEntry, SharedMix
from jobs.week.gather import gather, names_of
from jobs.week.kept import standing_plan
from jobs.week.sharing import CannotShare, accept, agreed_lately, sharing_offers, take_back
from jobs.work.bench import note
from jobs.work.booking import frozen_estimate
from jobs.work.cancelling import cancel
from jobs.work.clock import clocks_of
from jobs.work.finishing import finish_run
from jobs.work.overtaken import overtaken
from jobs.work.records import Sent, record
from jobs.work.shared_mixes import batch_key
from jobs.work.ticketing import make_ticket, plan_of, print_anew
from studio.house.clock import pretend
from tests import builders
from tests.jobs.week.bench import MONDAY_EIGHT, text, workshop

Kind = RunEntry.Kind
pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner):
    """Silver that works for 62 minutes, so that two loads side by side may take of one mix."""
    shop = workshop(owner, mixing_minutes_per_batch=10, setup_minutes=5, cutting_minutes_per_pane=1)
    bath = builders.solution(
        "Lasting silver part", {"material": shop.silver, "amount": 12, "unit": "g", "scales_with_strength": True},
        {"material": shop.ammonia, "amount": 14, "scales_with_strength": True}, {"material": shop.water},
        keeps_minutes=None, working_minutes=Decimal(62), mixing_minutes=Decimal(10))
    steps = shop.steps()
    steps[2]["parts"][0] = {"solution_version": bath, "mixed_for": "loads"}
    shop.recipe = builders.put_version_in_use(builders.recipe("Shared silver", steps), owner)
    return shop


@pytest.fixture
def shared(shop):
    """Two jobs whose silver is made in one mix, agreed before their tickets are printed."""
    with pretend(MONDAY_EIGHT):
        for _ in range(2):
            shop.booked(shop.line())
        agreed = [accept(offer.pair.one, offer.pair.other, uuid4()) for offer in sharing_offers()]
        yield next(row for row in agreed if "silver" in row.called.lower())


def mix_of(job, number: int, owner):
    ticket = make_ticket(job=job, by=owner)
    return ticket, next(mix for mix in plan_of(ticket).mixes if mix.key == batch_key(number))


def test_the_tickets_say_who_makes_it_and_hold_each_jobs_share(shared, owner, at_helper):
    first, one = mix_of(shared.job, shared.mix, owner)
    second, other = mix_of(shared.other_job, shared.other_mix, owner)
    assert (one.volume_ml, other.volume_ml) == (shared.share_ml, shared.other_share_ml)
    assert one.together.makes
    assert not other.together.makes
    whole = next(mix for mix in frozen_estimate(shared.job.quote).mixes if mix.number == shared.mix)
    for row, mine, theirs, for_both in zip(whole.batches[0].ingredients, one.ingredients, other.ingredients, one.together.rows, strict=True):
        together = row.amount * Fraction(shared.volume_ml) / whole.made_ml
        assert abs(Fraction(mine.amount + theirs.amount) - together) <= Fraction(1, 1000)
        assert abs(Fraction(for_both.amount) - together) <= max(together / 20, 1)
    maker = text(at_helper.get(f"/bench/{first.own_run.pk}/steps/"))
    taker = text(at_helper.get(f"/bench/{second.own_run.pk}/steps/"))
    assert f"One mix with job {shared.other_job.number}" in maker
    assert "This ticket makes it" in maker
    assert f"Do not mix: the ticket of job {shared.job.number} makes it" in taker
    assert "Taken as written" in taker
    assert "€" not in taker


def test_a_share_stands_since_the_other_job_mixed_it(shared, owner):
    first, one = mix_of(shared.job, shared.mix, owner)
    second, other = mix_of(shared.other_job, shared.other_mix, owner)
    builders.mixed(first.own_run, owner, one.key)
    with pretend(MONDAY_EIGHT + timedelta(minutes=25)):
        builders.mixed(second.own_run, owner, other.key)
        starts = [clocks_of(ticket.own_run).get().started_at for ticket in (first, second)]
    assert starts == [MONDAY_EIGHT, MONDAY_EIGHT]


@pytest.mark.parametrize("ticked", [False, True])
def test_a_share_recorded_before_its_mix_is_set_back_once_that_comes(shared, owner, ticked):
    first, one = mix_of(shared.job, shared.mix, owner)
    second, other = mix_of(shared.other_job, shared.other_mix, owner)
    with pretend(MONDAY_EIGHT + timedelta(minutes=60)):
        builders.mixed(second.own_run, owner, other.key)
    with pretend(MONDAY_EIGHT + timedelta(minutes=90)):
        if ticked:  # ammonia meets silver in the maker's jug before the mix is recorded
            record(run=first.own_run, by=owner, sent=Sent(
                key=uuid4(), kind=Kind.ADDED, subject=one.key, done_at=MONDAY_EIGHT, live=False,
                fields={"put_in": [str(row.number) for row in one.ingredients]}))
        else:
            note(run=first.own_run, by=owner, client_key=uuid4(), kind=Kind.MIXED, subject=one.key,
                 content={"made": True, "amounts": {}}, device_at=MONDAY_EIGHT)
        starts = [clocks_of(ticket.own_run).get().started_at for ticket in (first, second)]
    assert starts == [MONDAY_EIGHT, MONDAY_EIGHT]


def weigh(run, mix, by):
    """Tick all that is in a mix, before it is recorded as mixed."""
    record(run=run, by=by, sent=Sent(
        key=uuid4(), kind=Kind.ADDED, subject=mix.key, fields={"put_in": [str(row.number) for row in mix.ingredients]}))


def test_a_share_stands_since_ammonia_met_silver_in_the_other_jobs_jug(shared, owner):
    first, one = mix_of(shared.job, shared.mix, owner)
    second, other = mix_of(shared.other_job, shared.other_mix, owner)
    weigh(first.own_run, one, owner)
    with pretend(MONDAY_EIGHT + timedelta(minutes=25)):
        builders.mixed(second.own_run, owner, other.key)
        assert clocks_of(second.own_run).get().started_at == MONDAY_EIGHT


def test_what_is_weighed_for_both_is_not_taken_back_nor_parted_by_a_plan(shared, owner, at_owner):
    first, one = mix_of(shared.job, shared.mix, owner)
    make_ticket(job=shared.other_job, by=owner)
    weigh(first.own_run, one, owner)
    with pytest.raises(CannotShare, match="mixed already"):
        take_back(shared.pk)
    assert not next(row.is_open for row in agreed_lately() if row.row == shared)
    JobInWeek.objects.create(job=shared.other_job, not_before=MONDAY_EIGHT.date() + timedelta(days=9))
    standing_plan()
    shared.refresh_from_db()
    assert shared.withdrawn_at is None


@pytest.mark.parametrize("then", ["finished", "cancelled"])
def test_a_share_is_taken_of_what_was_mixed_also_where_its_maker_is_over(shared, owner, then):
    first, _ = mix_of(shared.job, shared.mix, owner)
    second, _ = mix_of(shared.other_job, shared.other_mix, owner)
    if then == "finished":
        finish_run(run=builders.worked(first.own_run, owner), by=owner)
    else:
        for mix in plan_of(first).mixes:
            builders.mixed(first.own_run, owner, mix.key)
        builders.made_safe(first.own_run, owner)
        cancel(job=shared.job, by=owner, because="the customer moved", nothing_else=True)
    assert overtaken([second.own_run]) == []
    name = names_of(shared)[1]
    assert name not in {mix.key for mix in gather().asked.mixes}


def test_a_ticket_printed_before_it_was_agreed_or_before_it_fell_away_is_overtaken(shop, owner):
    with pretend(MONDAY_EIGHT):
        jobs = [shop.booked(shop.line()) for _ in range(2)]
        runs = [make_ticket(job=job, by=owner).own_run for job in jobs]
        assert overtaken(runs) == []
        for offer in sharing_offers():
            accept(offer.pair.one, offer.pair.other, uuid4())
        said = dict(overtaken(runs))
        assert all(any("in one mix with job" in why for why in said[run]) for run in runs)
        anew = [print_anew(job=job, by=owner) for job in jobs]
        runs = [ticket.own_run for ticket in anew]
        assert overtaken(runs) == []
        cancel(job=jobs[1], by=owner, because="the customer moved", nothing_else=True)
        assert not SharedMix.objects.agreed().exists()
        (_, why), = list(overtaken([runs[0]]))
        assert any(f"not shared with job {jobs[1].number} any more" in sentence for sentence in why)
