"""The lot that was poured is recorded at the mix, and the ledger takes exactly that, once."""

from __future__ import annotations

from decimal import Decimal

import pytest

from jobs.work.bench import BenchError, bench_state, used_amounts, used_of_lots
from jobs.work.finishing import finish_run
from jobs.work.records import Sent
from jobs.work.records import record as send
from jobs.work.ticketing import plan_of
from studio.house.clock import now
from studio.house.form_keys import NAME
from studio.stockroom.ledger import NotEnough
from studio.stockroom.models import Lot, StockMovement
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


@pytest.fixture
def run(workshop, owner):
    """Two jars of silver nitrate on the shelf; the ticket takes from the first, S1."""
    builders.lot(workshop.silver, "300", owner, "S2", "450")
    return workshop.run(workshop.line(quantity=1))


def silver_mix(run):
    return next(mix for mix in plan_of(run.ticket).mixes if mix.solution == "Silver part")


def record(client, run, act="", **sent):
    return client.post(f"/bench/{run.pk}/mixes/{silver_mix(run).key}/{act}", {NAME: str(builders.key()), **sent})


def taken(run):
    return {(moved.lot.lot_number, -moved.quantity) for moved in StockMovement.objects.filter(
        posting=run.posting, lot__material__name="Silver nitrate").select_related("lot")}


def test_as_written_records_the_lots_of_the_ticket(run, at_helper):
    assert record(at_helper, run, "as-written/").status_code in (200, 302)
    amount = silver_mix(run).ingredients[0].amount
    assert used_of_lots(bench_state(run))["silver-nitrate", "S1"] == amount


def test_another_lot_is_recorded_and_is_what_the_ledger_takes(run, at_helper, helper):
    mix = silver_mix(run)
    sent = {f"{mix.key}-amount_{row.number}": f"{row.amount:f}" for row in mix.ingredients}
    assert record(at_helper, run, **sent, **{f"{mix.key}-lot_1": "S2"}).status_code in (200, 302)
    builders.worked(run, helper, but=(mix.key,))
    finish_run(run=run, by=helper)
    run.refresh_from_db()
    assert taken(run) == {("S2", mix.ingredients[0].amount)}
    assert audit() == []


def test_a_held_lot_stops_the_mix_and_the_next_is_offered(run, at_helper):
    Lot.objects.filter(lot_number="S1").update(state="held", hold_reason="looks grey")
    page = at_helper.get(f"/bench/{run.pk}/").content.decode()
    assert "Lot S1 of Silver nitrate is not taken: held: looks grey. Take lot S2." in page
    for elsewhere in ("/", "/bench/"):
        assert "Take lot S2." in at_helper.get(elsewhere).content.decode(), elsewhere
    refused = record(at_helper, run, "as-written/")
    assert "Record it under" in refused.content.decode()
    assert bench_state(run).mixes == [mix for mix in bench_state(run).mixes if mix.made is None]
    mix = silver_mix(run)
    sent = {f"{mix.key}-amount_{row.number}": f"{row.amount:f}" for row in mix.ingredients}
    record(at_helper, run, **sent, **{f"{mix.key}-lot_1": "S2"})
    assert "Take lot S2." not in at_helper.get("/").content.decode()
    assert used_of_lots(bench_state(run))["silver-nitrate", "S2"] == mix.ingredients[0].amount


def test_a_held_lot_that_was_used_is_recorded_and_its_owner_says_why(run, at_helper, helper, owner):
    Lot.objects.filter(lot_number="S1").update(state="held", hold_reason="looks grey")
    mix = silver_mix(run)
    sent = {f"{mix.key}-amount_{row.number}": f"{row.amount:f}" for row in mix.ingredients}
    record(at_helper, run, **sent, **{f"{mix.key}-lot_1": "S1"})
    builders.worked(run, helper, but=(mix.key,))
    with pytest.raises(NotEnough, match="held: looks grey"):
        finish_run(run=run, by=helper)
    finish_run(run=run, by=owner, kept_back_because="its assay came in good")
    run.refresh_from_db()
    assert taken(run) == {("S1", mix.ingredients[0].amount)}


def test_a_pane_is_not_silvered_with_nothing(run, helper):
    """Given a good pane whose silver is recorded as not mixed, the run asks before it finishes."""
    builders.worked(run, helper, safe=False)
    mix = silver_mix(run)
    builders.made_safe(run, helper)
    builders.mixed(run, helper, mix.key, made=False, amounts={})
    with pytest.raises(BenchError, match="is good, and its silver, Silver part, is recorded as not mixed"):
        finish_run(run=run, by=helper)


def test_what_was_recorded_of_a_lot_is_taken_from_no_other(run, helper, owner):
    """More was recorded of a jar than the book says is in it: finishing says so, and nothing is deducted."""
    mix = silver_mix(run)
    builders.worked(run, helper, safe=False)
    whole = used_amounts(bench_state(run))["silver-nitrate"]
    builders.mixed(run, helper, mix.key, lots={"1": [["S2", "5000"]]}, amounts={"1": "5000"})
    builders.made_safe(run, helper)
    assert used_of_lots(bench_state(run))["silver-nitrate", "S2"] == Decimal(5000)
    with pytest.raises(NotEnough, match="Silver nitrate"):
        finish_run(run=run, by=helper)
    assert not StockMovement.objects.filter(kind="use").exists()
    builders.mixed(run, helper, mix.key, lots={"1": [["S2", f"{whole:f}"]]}, amounts={"1": f"{whole:f}"})
    builders.made_safe(run, helper)
    finish_run(run=run, by=helper)
    run.refresh_from_db()
    assert taken(run) == {("S2", whole)}
    assert run.finished_at <= now()


def test_mixed_once_more_with_a_held_lot_takes_what_the_first_was_mixed_from(run, owner):
    Lot.objects.filter(lot_number="S1").update(state="held", hold_reason="looks grey")
    mix = silver_mix(run)
    amounts = {f"{mix.key}-amount_{row.number}": [f"{row.amount:f}"] for row in mix.ingredients}
    for subject, fields in ((mix.key, {"act": ["amounts"], f"{mix.key}-lot_1": ["S2"], **amounts}),
                            (f"{mix.key}-2", {"act": ["again"], "because": ["knocked over"]})):
        send(run=run, by=owner, sent=Sent(key=builders.key(), kind="mixed", subject=subject, fields=fields))
    used = used_of_lots(bench_state(run))
    assert {lot: amount for (code, lot), amount in used.items() if code == "silver-nitrate"} == {
        "S2": 2 * mix.ingredients[0].amount}
