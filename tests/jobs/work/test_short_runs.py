"""A run falls short: what is still to make is said, and a further ticket for just that is one press."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from jobs.looking_back.comparison import compare, rework_of
from jobs.models import Job, JobAct, Run, WorkTicket
from jobs.work.bench import bench_state, note
from jobs.work.booking import BookingError
from jobs.work.cancelling import cancel
from jobs.work.coming_in import undo_taking_in
from jobs.work.finishing import finish_run
from jobs.work.further_ticket import make_further_ticket, still_to_make
from jobs.work.pane_labels import pane_labels
from jobs.work.rest_plan import what_is_left
from jobs.work.samples import approve, keep_sample
from jobs.work.ticket_paper import render_ticket
from jobs.work.ticketing import plan_of
from studio.stockroom.models import Reservation, StockMovement
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def finished(run: Run, by, spoilt: Sequence[str]) -> Job:
    builders.worked(run, by)
    for pane in bench_state(run).panes:
        if pane.label in spoilt:
            note(run=run, by=by, client_key=builders.key(), kind="pane", subject=pane.label,
                 content={"outcome": "spoilt", "attempts": 1, "because": "pinholes"})
    finish_run(run=run, by=by)
    return Job.objects.get(pk=run.ticket.job_id)


@pytest.fixture
def short(shop, helper):
    """Four panes of one size and two of another; 1.2, 1.4 and 2.1 are spoilt."""
    lines = [shop.line(quantity=4, own_panes_to_start=4),
             shop.line("305 x 305 mm", quantity=2, number=2, own_panes_to_start=2)]
    return finished(shop.run(*lines), helper, ["1.2", "1.4", "2.1"])


def test_the_panes_still_to_make_are_one_press_on_a_ticket_of_their_own(short, at_owner, at_helper, shop):
    page = at_owner.get(f"/jobs/{short.number}/").content.decode()
    assert "3 of 6 panes are still to make: 1.2, 1.4, 2.1." in page
    assert "Print a ticket for the 3 panes left" in page
    assert at_helper.post(f"/jobs/{short.number}/further-ticket/").status_code == 403
    for _ in range(2):  # pressed twice, it is one ticket
        assert at_owner.post(f"/jobs/{short.number}/further-ticket/").status_code == 302
    first, further = short.tickets.order_by("number")
    plan, before = plan_of(further), plan_of(first)
    assert [pane.label for pane in plan.panes] == ["1.2", "1.4", "2.1"]
    assert {pane.note for pane in plan.panes} == {"made again, spoilt before: pinholes"}
    assert [label for recipe in plan.recipes for load in recipe.loads for label in load.panes] == ["1.2", "1.4", "2.1"]
    assert sorted(piece.pane for glass in plan.glass for sheet in glass.plan for piece in sheet.pieces) == [
        "1.2", "1.4", "2.1"]
    silver = [next(mix.volume_ml for mix in each.mixes if mix.solution == "Silver part") for each in (before, plan)]
    assert silver[1] < silver[0]
    assert {mix.solution_key for mix in plan.mixes} == {mix.solution_key for mix in before.mixes}
    promised = {row.material.code: row.quantity for row in further.run.reservation.amounts.all()}
    assert promised[shop.glass.code] == sum(glass.sheets for glass in plan.glass)
    assert further.run.reservation.released_at is None
    assert Job.objects.get(pk=short.pk).state == "on the bench"
    assert render_ticket(further).startswith(b"%PDF")
    assert audit() == []


def test_the_rest_is_finished_and_its_cost_stands_as_rework(short, owner, helper, at_owner):
    first = compare(short)
    assert rework_of(short) is None
    run = make_further_ticket(job=short, by=owner).run
    job = finished(run, helper, ["1.4"])  # and falls short again
    assert job.state == "part done"
    assert still_to_make(job).labels == ["1.4"]
    assert Reservation.objects.filter(released_at=None).count() == 0
    assert {label.label for label in pane_labels(run)} == {"1.2", "2.1"}
    last = make_further_ticket(job=job, by=owner).run
    job = finished(last, helper, [])
    assert job.state == "finished"
    assert not still_to_make(job)
    both, rework = compare(job), rework_of(job)
    again = StockMovement.objects.filter(posting__run__in=[run, last]).select_related("lot__material")
    cost = {True: Decimal(0), False: Decimal(0)}
    for moved in again:
        cost[moved.lot.material.kind == "glass sheet"] -= moved.quantity * moved.unit_cost
    assert (rework.glass, rework.chemistry) == (cost[True], cost[False])
    assert both.used_cost == first.used_cost + rework.glass + rework.chemistry
    assert rework.minutes == 140
    assert both.noted_minutes == 210
    assert (rework.panes, rework.good) == (4, 3)
    assert "started again on further tickets" in at_owner.get(f"/jobs/{job.number}/").content.decode()
    assert audit() == []


def test_only_a_part_done_job_has_a_further_ticket_and_cancelling_lets_its_stock_go(short, owner, shop, helper):
    whole = finished(shop.run(shop.line(quantity=1)), helper, [])
    with pytest.raises(BookingError, match="This job is finished: a further ticket"):
        make_further_ticket(job=whole, by=owner)
    ticket = make_further_ticket(job=short, by=owner)
    with pytest.raises(IntegrityError, match="kept as it was"), transaction.atomic():
        WorkTicket.objects.filter(pk=ticket.pk).update(plan={})
    cancel(job=short, by=owner, because="withdrawn", nothing_else=True)
    assert Reservation.objects.filter(released_at=None).count() == 0
    assert audit() == []


def test_a_rest_from_kept_offcuts_that_are_gone_is_cut_from_sheets(shop, owner, helper):
    from studio.stockroom.offcuts.kept import keep_offcut

    keep_offcut(key=builders.key(), by=owner, material=shop.glass, width_mm=Decimal(700), height_mm=Decimal(1000))
    job = finished(shop.run(shop.line(quantity=1, own_panes_to_start=1, route="offcut")), helper, ["1.1"])
    plan = plan_of(make_further_ticket(job=job, by=owner))
    assert [glass.sheets for glass in plan.glass] == [1]


@given(st.lists(st.integers(1, 5), min_size=1, max_size=4), st.data())
def test_what_is_left_is_what_was_ordered_less_what_is_good(quantities, data):
    """Of any runs: a good spare stands in for a spoilt pane, and no good pane is made again."""
    results, good = [], set()
    for line, quantity in enumerate(quantities, start=1):
        for copy in range(1, quantity + data.draw(st.integers(0, 2)) + 1):
            for outcome in data.draw(st.sampled_from([[], [False], [True], [False, True]])):
                results.append((line, f"{line}.{copy}", outcome, ""))
                good |= {f"{line}.{copy}"} if outcome else set()
    left = what_is_left(enumerate(quantities, start=1), results)
    assert not good & set(left.labels)
    for line, quantity in enumerate(quantities, start=1):
        of_line = sum(label.startswith(f"{line}.") for label in good)
        assert len(left.by_line.get(line, [])) == max(quantity - of_line, 0)


def test_given_a_sample_undone_meanwhile_then_a_further_ticket_waits_for_it_in_words(short, shop, at_owner):
    undo_taking_in(act=JobAct.objects.get(job=short, kind="sample"), by=shop.owner, why="of another job")
    refused = at_owner.post(f"/jobs/{short.number}/further-ticket/")
    assert refused.status_code == 422
    assert "waits for the sample of Plain silver, whose approval was undone" in refused.content.decode()
    approve(keep_sample(job=short, recipe_version=shop.recipe, values={}), "Ada", "visit", by=shop.owner)
    assert at_owner.post(f"/jobs/{short.number}/further-ticket/").status_code == 302
    undo_taking_in(act=JobAct.objects.filter(job=short, kind="sample").last(), by=shop.owner, why="once more")
    again = at_owner.post(f"/jobs/{short.number}/ticket/anew/", {"ticket": 2})
    assert again.status_code == 422
    assert "whose approval was undone" in again.content.decode()
