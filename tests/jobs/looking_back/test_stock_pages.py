"""From the jobs to the stockroom: traced to any depth, bought in whole packs, the silver accounted, lots chosen by hand."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from io import BytesIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from jobs.looking_back.buying import buying_list
from jobs.looking_back.comparison import compare
from jobs.looking_back.silver_account import silver_account
from jobs.looking_back.tracing import by_lot, lots_of_job, uses_of_lot
from jobs.models import Job, Run
from jobs.work.bench import BenchError, bench_state, note
from jobs.work.finishing import finish_run
from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from studio.kit import database_rules
from studio.kit.units import show_stock
from studio.stockroom.ledger import reverse
from studio.stockroom.lots.keeping import discard
from studio.stockroom.models import Lot, Purchase, StockMovement, WasteContainer
from studio.stockroom.waste.containers import hand_over, put_in
from studio.whole.audit import audit
from tests import builders
from tests.asking import error_beside

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def worked_from_lot(shop, owner) -> tuple[Run, Lot]:
    """A run whose reducer was taken from a lot that was made up ahead."""
    made = mix_ahead(key=builders.key(), by=owner, version=shop.reducer, volume_ml=Fraction(3000), day=today())
    run = builders.worked(shop.run(), owner)
    mix = next(recorded.mix for recorded in bench_state(run).mixes if recorded.mix.solution == "Reducer")
    note(run=run, by=owner, client_key=builders.key(), kind="mixed", subject=mix.key,
         content={"made": False, "amounts": {}, "lot": made.pk, "lot_number": made.lot_number})
    return finish_run(run=run, by=owner), made


def test_use_of_a_lot_mixed_ahead_traces_through_to_its_ingredients(shop, owner):
    run, made = worked_from_lot(shop, owner)
    sugar = shop.lots[2]
    (reached,) = [use for use in uses_of_lot(sugar) if use.kind == "run"]
    assert reached.run == run
    assert reached.via == (str(made),)
    assert reached.customer == "Ada Fenwick"
    assert [pane.label for pane in reached.panes] == [pane.label for pane in run.pane_results.all()]
    came = lots_of_job(run.ticket.job)
    inside = [source for source in came if source.via == str(made)]
    assert {part.lot for part in inside} == {sugar, shop.lots[0]}
    assert {part.depth for part in inside} == {1}
    assert made.pk in by_lot(came)
    assert audit() == []


def test_tracing_forwards_and_backwards_agree(shop, owner):
    run, _ = worked_from_lot(shop, owner)
    builders.trial(shop.recipe, owner)
    there = {source.lot.pk for source in lots_of_job(run.ticket.job)}
    for lot in Lot.objects.all():
        reaches = any(use.run == run for use in uses_of_lot(lot))
        assert reaches == (lot.pk in there), lot


def test_what_was_given_back_is_not_traced(shop, owner):
    run, made = worked_from_lot(shop, owner)
    make = StockMovement.objects.get(lot=made, kind="make-up in").posting
    assert uses_of_lot(shop.lots[2])
    reverse(key=builders.key(), by=owner, posting=run.posting, why="the wrong run")
    assert not [use for use in uses_of_lot(shop.lots[2]) if use.run]
    assert make.movements.count() == 3


def test_trace_as_page_paper_and_table(at_owner, at_helper, shop, owner):
    run, made = worked_from_lot(shop, owner)
    lot, job = shop.lots[2], run.ticket.job
    page = at_owner.get(f"/stockroom/lots/{lot.pk}/trace/").content.decode()
    assert "Ada Fenwick" in page
    assert str(made) in page
    table = at_owner.get(f"/stockroom/lots/{lot.pk}/trace/?as=csv").content.decode()
    assert table.count("Ada Fenwick") == run.pane_results.count()
    for address in (f"/stockroom/lots/{lot.pk}/trace/?as=pdf", f"/jobs/{job.number}/trace/?as=pdf", "/stockroom/buying/?as=pdf"):
        assert PdfReader(BytesIO(at_owner.get(address).content)).pages
        assert at_helper.get(address).status_code == 403
    assert lot.lot_number in at_owner.get(f"/jobs/{job.number}/trace/?as=csv").content.decode()


def test_queries_of_a_trace_do_not_grow_with_runs(shop, owner):
    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            uses_of_lot(shop.silver_lot)
        return len(seen)

    finish_run(run=builders.worked(shop.run(), owner), by=owner)
    few = count()
    for _ in range(3):
        finish_run(run=builders.worked(shop.run(), owner), by=owner)
    assert count() == few


def test_a_lot_chosen_by_hand_says_why(at_owner, shop, owner):
    later = builders.lot(shop.silver, "500", owner, "S2", "700", received_on=today())
    run = builders.worked(shop.run(), owner)
    page = at_owner.get(f"/bench/{run.pk}/finish/").content.decode()
    assert "the first to expire" in page
    with pytest.raises(BenchError, match="Say why another lot"):
        finish_run(run=run, by=owner, chosen={shop.silver.pk: later.pk})
    builders.finish_by_page(at_owner, run, **{f"chosen-{shop.silver.pk}": later.pk}, chosen_because="the other jar was empty")
    moved = StockMovement.objects.filter(posting__run=run, lot__material=shop.silver)
    assert {use.lot for use in moved} == {later}
    assert {use.note for use in moved} == {"the other jar was empty"}
    assert audit() == []


def test_a_mix_is_taken_from_a_lot_and_its_leftover_kept(at_helper, shop, owner):
    made = mix_ahead(key=builders.key(), by=owner, version=shop.reducer, volume_ml=Fraction(3000), day=today())
    run = shop.run()
    mix = next(recorded.mix for recorded in bench_state(run).mixes if recorded.mix.solution == "Reducer")
    assert f"lot {made.lot_number}" in at_helper.get(f"/bench/{run.pk}/").content.decode()
    at_helper.post(f"/bench/{run.pk}/mixes/{mix.key}/from-lot/", {"lot": made.pk, "key": builders.key()})
    assert bench_state(run).mixes
    builders.worked(run, owner)
    wrong = at_helper.post(f"/bench/{run.pk}/mixes/{mix.key}/from-lot/", {"lot": 999, "key": builders.key()})
    assert wrong.status_code == 422
    finish_run(run=run, by=owner)
    key = builders.key()
    for _ in range(2):
        at_helper.post(f"/bench/{run.pk}/leftover/", {"mix": mix.key, "volume": "80 mL", "key": key})
    left = Lot.objects.get(made_here=True, cost_with_carriage=0)
    assert (left.quantity_received, left.made.solution_version) == (Decimal(80), shop.reducer)
    too_much = at_helper.post(f"/bench/{run.pk}/leftover/", {"mix": mix.key, "volume": "80 L", "key": builders.key()}, follow=True)
    assert "More than was mixed" in too_much.content.decode()
    silver = next(recorded.mix for recorded in bench_state(run).mixes if recorded.mix.solution == "Silver part")
    assert at_helper.post(f"/bench/{run.pk}/leftover/", {"mix": silver.key, "volume": "8 mL", "key": builders.key()}).status_code == 404
    assert audit() == []


@pytest.mark.parametrize("ticket_of_before", [False, True], ids=["today's ticket", "a ticket that holds names alone"])
def test_a_renamed_solution_is_still_taken_from_its_lot_and_its_leftover_kept(at_helper, shop, owner, ticket_of_before):
    made = mix_ahead(key=builders.key(), by=owner, version=shop.reducer, volume_ml=Fraction(3000), day=today())
    run = shop.run()
    if ticket_of_before:
        for mix in run.ticket.plan["mixes"]:
            mix.pop("solution_key", None)
        database_rules.lift(connection)
        run.ticket.save()
        database_rules.install(connection)
    shop.reducer.solution.name = "Sugar reducer"
    shop.reducer.solution.save()
    mix = next(recorded.mix for recorded in bench_state(run).mixes if recorded.mix.solution == "Reducer")
    assert f"lot {made.lot_number}" in at_helper.get(f"/bench/{run.pk}/").content.decode()
    taken = at_helper.post(f"/bench/{run.pk}/mixes/{mix.key}/from-lot/",
                           {"lot": made.pk, "key": builders.key()})
    assert taken.status_code == 302
    builders.worked(run, owner)
    finish_run(run=run, by=owner)
    kept = at_helper.post(f"/bench/{run.pk}/leftover/", {"mix": mix.key, "volume": "80 mL", "key": builders.key()})
    assert kept.status_code == 302
    left = Lot.objects.get(made_here=True, cost_with_carriage=0)
    assert left.made.solution_version == shop.reducer


# Buying ------------------------------------------------------------------------------------------------------------------

def test_the_buying_list_is_what_is_short_in_whole_packs(at_owner, shop, owner):
    shop.silver.reorder_point, shop.silver.pack_size = Decimal(600), Decimal(250)
    shop.silver.save()
    rows = {row.material.name: row for row in buying_list(today())}
    assert (rows["Silver nitrate"].buy, rows["Silver nitrate"].packs) == (250, 1)  # 100 g short of 600
    assert rows["Silver nitrate"].why == ["below its reorder point"]
    Lot.objects.filter(pk=shop.silver_lot.pk).update(expires_on_given=today() + timedelta(days=9))
    rows = {row.material.name: row for row in buying_list(today())}
    assert rows["Silver nitrate"].buy == 750  # what expires soon is not counted on
    job = shop.booked(shop.line("610 x 915 mm", 40))
    job.due_on = today() + timedelta(days=12)
    job.save()
    rows = {row.material.name: row for row in buying_list(today())}
    assert rows["Silver nitrate"].by_when == job.due_on
    assert "job 1" in rows["Silver nitrate"].why
    table = at_owner.get("/stockroom/buying/?as=csv").content.decode()
    assert "Silver nitrate" in table


def test_what_is_ordered_is_awaited_until_it_came(at_owner, shop, owner):
    shop.silver.reorder_point = Decimal(600)
    shop.silver.save()
    key = builders.key()
    for _ in range(2):
        at_owner.post("/stockroom/buying/ordered/", {"material": shop.silver.pk, "amount": "0.25 kg", "supplier": "Quay", "key": key,
                                                     "due_on": today().isoformat()})
    assert Purchase.objects.count() == 1
    assert "Silver nitrate" not in [row.material.name for row in buying_list(today())]
    row = Purchase.objects.get()
    shown = at_owner.post(f"/stockroom/buying/{row.pk}/came/", {"lot": "S9"}, follow=True).content.decode()
    assert "receive it first" in shown
    builders.lot(shop.silver, "250", owner, "S9")
    at_owner.post(f"/stockroom/buying/{row.pk}/came/", {"lot": "S9"})
    row.refresh_from_db()
    assert row.lot.lot_number == "S9"


def test_an_order_that_is_refused_says_so_beside_its_field_in_its_row(at_owner, shop):
    # given a list on which silver stands, and an amount nobody can read
    shop.silver.reorder_point = Decimal(600)
    shop.silver.save()
    of = f"amount-{shop.silver.pk}"
    typed = {"material": shop.silver.pk, "amount": "some", "supplier": "Quay Chemicals", "due_on": "in 3 weeks", "key": builders.key()}
    answer = at_owner.post("/stockroom/buying/ordered/?sort=-name", typed)
    page = answer.content.decode()
    # then its row is open with what was typed, the refusal beside the amount, and the list as it was sorted
    assert answer.status_code == 422
    assert "was not understood" in error_beside(page, of)
    assert 'value="Quay Chemicals"' in page
    assert 'value="in 3 weeks"' in page
    assert page.count("<details open>") == 1
    assert 'aria-sort="descending"' in page
    assert not Purchase.objects.exists()
    # and its links, asked of this address, lead to the list
    assert at_owner.get("/stockroom/buying/ordered/?sort=name").url == "/stockroom/buying/?sort=name"
    # what is mended there is saved
    at_owner.post("/stockroom/buying/ordered/?sort=-name", {**typed, "amount": "250 g"})
    assert Purchase.objects.get().supplier == "Quay Chemicals"


@pytest.mark.parametrize("material", ["sugar", "", "%d", "9" * 40])
def test_a_refused_order_of_what_is_not_on_the_list_stands_above_it(at_owner, shop, material):
    of = shop.sugar.pk if material == "sugar" else material
    answer = at_owner.post("/stockroom/buying/ordered/", {"material": of, "amount": "heaps", "key": builders.key()})
    assert answer.status_code == 422
    assert 'value="heaps"' in answer.content.decode()
    assert "Nothing is saved yet" in answer.content.decode()


def test_an_open_quote_is_counted_too(shop, owner):
    from jobs.quotes.quoting import save_quote

    save_quote(order=shop.order(shop.line("610 x 915 mm", 60)), by=owner, form_key=builders.key())
    rows = {row.material.name: row for row in buying_list(today())}
    assert rows["Clear 4 mm"].quoted > 10
    assert rows["Clear 4 mm"].buy == rows["Clear 4 mm"].quoted - 10


# The silver account ---------------------------------------------------------------------------------------------------------

def test_the_silver_account_balances(shop, owner):
    run = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    discard(key=builders.key(), lot=shop.silver_lot, by=owner, amount=Decimal(10), why="damp")
    kept = WasteContainer.objects.create(name="S-1", meant_for="rinse", opened_on=today())
    handed_over = WasteContainer.objects.create(name="S-0", meant_for="rinse", opened_on=today())
    put_in(key=builders.key(), container=kept, by=owner, what="rinse", agents=["silver_salt"], volume_ml=Decimal(1), silver_g=Decimal(2))
    put_in(key=builders.key(), container=handed_over, by=owner, what="rinse", agents=["silver_salt"], volume_ml=Decimal(1), silver_g=Decimal(3))
    hand_over(handed_over, on=today(), to="Ebb Refiners")
    account, share = silver_account(), Fraction(Decimal("0.63499"))
    assert account.bought == 500 * share
    taken = -sum(Fraction(movement.quantity) for movement in StockMovement.objects.filter(lot=shop.silver_lot, quantity__lt=0))
    assert account.used == taken * share
    area = sum(Fraction(pane.area_m2) for pane in run.pane_results.filter(good=True))
    assert account.on_good_glass == area * Fraction("0.7343")  # 70 nm at 10.49 g/cm³
    assert (account.in_containers, account.handed_over) == (2, 3)
    assert account.unaccounted == account.used - account.on_good_glass - 5


def test_silver_on_spoilt_panes_is_on_no_good_glass(shop, owner, at_owner):
    """What was spoilt is stripped or thrown away: its silver is not on glass that left the house, but unaccounted for."""
    run = builders.worked(shop.run(shop.line(quantity=3)), owner)
    panes = [pane.label for pane in bench_state(run).panes]
    for label, outcome in ((panes[0], "spoilt"), (panes[1], "not started")):
        note(run=run, by=owner, client_key=builders.key(), kind="pane", subject=label,
             content={"outcome": outcome, "attempts": 1, "because": "pinholes"})
    finish_run(run=run, by=owner)
    film = Fraction("0.55815") * Fraction("0.7343")  # 610 × 915 mm at 70 nm
    account, compared = silver_account(), compare(Job.objects.get(pk=run.ticket.job_id))
    assert account.on_good_glass == compared.silver_on_glass_g == (len(panes) - 2) * film
    assert (compared.good, compared.started) == (len(panes) - 2, len(panes) - 1)
    assert compared.silver_to_waste_g == compared.silver_used_g - (len(panes) - 2) * film
    assert account.unaccounted == account.used - account.on_good_glass
    assert show_stock(account.used - account.on_good_glass, "g") in at_owner.get(f"/bench/{run.pk}/").content.decode()


def test_a_runs_silver_is_worked_out_and_offered_to_a_container(at_helper, shop, owner):
    drum = WasteContainer.objects.create(name="S-1", meant_for="rinse", opened_on=today())
    run = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    page = at_helper.get(f"/bench/{run.pk}/").content.decode()
    taken = -sum(Fraction(movement.quantity) for movement in StockMovement.objects.filter(lot=shop.silver_lot, posting=run.posting))
    area = sum(Fraction(pane.area_m2) for pane in run.pane_results.filter(good=True))
    rest = taken * Fraction(Decimal("0.63499")) - area * Fraction("0.7343")
    assert f"{float(rest):.3f}".rstrip("0") in page
    assert f"/stockroom/waste/{drum.pk}/?what=" in page
    form = at_helper.get(f"/stockroom/waste/{drum.pk}/?what=Ticket&silver=3.2&posting={run.posting_id}").content.decode()
    assert 'value="3.2"' in form
    assert f'value="run {run.ticket.job.number}/{run.ticket.number}" selected' in form
