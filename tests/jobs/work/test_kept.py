"""What a run leaves: no more of a mix than was mixed, no glass that was not cut, nothing of a cancelled job."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import IntegrityError, transaction

from jobs.draft import draft_of
from jobs.models import Job, Run
from jobs.quotes.pricing import price_order
from jobs.work.bench import BenchError, bench_state, note
from jobs.work.booking import BookingError, deliver
from jobs.work.cancelling import cancel
from jobs.work.finishing import finish_run
from jobs.work.kept import NotThere, keep_leftover_of, keep_offcuts_of, left_over_ml, mixed_ml, went_into_others_ml
from recipes.solutions.authoring import next_version
from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import now, today
from studio.stockroom.models import Lot, Offcut, StockMovement
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def reducer_of(run: Run):
    return next(mix for mix in bench_state(run).mixes if mix.mix.solution == "Reducer")


def leftover(run: Run, owner, volume: Fraction, mix: str = "") -> Lot:
    return keep_leftover_of(run=run, mix_key=mix or reducer_of(run).mix.key, volume_ml=volume, key=builders.key(), by=owner)


# A cancelled job ----------------------------------------------------------------------------------------------------

def test_a_cancelled_jobs_run_is_on_no_bench_takes_no_note_and_never_finishes(shop, owner, at_owner, at_helper):
    run = shop.run()
    assert "Open the run" in at_helper.get("/bench/").content.decode()
    cancel(job=run.ticket.job, by=owner, because="The customer withdrew.", nothing_else=True)
    assert "Open the run" not in at_helper.get("/bench/").content.decode()
    page = at_helper.get(f"/bench/{run.pk}/").content.decode()
    assert "The job is cancelled" in page
    assert "Finish the run" not in page
    assert "Start the dwell" not in page
    assert "Record the conditions" not in page
    with pytest.raises(BenchError, match="is cancelled: nothing more can be recorded"):
        note(run=run, by=owner, client_key=builders.key(), kind="note", content={"text": "late"})
    assert at_helper.post(f"/bench/{run.pk}/note/", {"text": "late", "key": builders.key()}).status_code == 422
    refused = at_owner.post(f"/bench/{run.pk}/finish/")
    assert refused.status_code == 422
    assert "is cancelled: its run is not finished" in refused.content.decode()
    with pytest.raises(IntegrityError, match="cancelled"), transaction.atomic():
        Run.objects.filter(pk=run.pk).update(finished_at=now(), finished_by=owner, made_safe_at=now(), made_safe_by=owner,
                                             posting=shop.silver_lot.movements.get().posting)
    with pytest.raises(BookingError, match="only what is finished"):
        deliver(job=Job.objects.get(pk=run.ticket.job_id))
    order = at_owner.get(f"/jobs/{run.ticket.job.number}/order/", follow=True)
    assert order.redirect_chain[-1][0] == f"/jobs/{run.ticket.job.number}/"
    assert "its order stands as it was" in order.content.decode()
    assert not StockMovement.objects.filter(kind="use").exists()
    assert audit() == []


def test_a_run_that_was_all_noted_before_the_job_was_cancelled_deducts_nothing(shop, owner):
    """What a database of before could hold: notes on the run of a job that was cancelled meanwhile."""
    run = shop.run()
    Job.objects.filter(pk=run.ticket.job_id).update(state="cancelled")
    with pytest.raises(BenchError, match="is cancelled: its run is not finished"):
        finish_run(run=run, by=owner)
    assert not StockMovement.objects.filter(kind="use").exists()


# Leftovers ----------------------------------------------------------------------------------------------------------

def test_a_leftover_is_kept_once_however_often_it_is_asked_for(shop, owner, at_helper):
    run = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    mix, most = reducer_of(run), mixed_ml(reducer_of(run))
    assert most == mix.mix.volume_ml
    leftover(run, owner, most - 10)
    for volume in (most, most - 10, Fraction(11)):
        with pytest.raises(NotThere, match="kept before"):
            leftover(run, owner, volume)
    assert "left over of 10 mL" in at_helper.get(f"/bench/{run.pk}/").content.decode()
    leftover(run, owner, Fraction(10))
    assert f'value="{mix.mix.key}"' not in at_helper.get(f"/bench/{run.pk}/").content.decode()
    assert sum(lot.quantity_received for lot in Lot.objects.filter(left_by__run=run)) == most
    assert audit() == []


def test_a_leftover_follows_what_was_poured_and_what_was_not_mixed_left_none(shop, owner):
    run = finish_run(run=builders.worked(shop.run(), owner, factor=Fraction(1, 2)), by=owner)
    mix = reducer_of(run)
    assert abs(mixed_ml(mix) - mix.mix.volume_ml / 2) < Fraction(1, 100)
    with pytest.raises(NotThere, match="More than was mixed"):
        leftover(run, owner, mix.mix.volume_ml * 3 / 4)
    none = builders.worked(shop.run(), owner)
    note(run=none, by=owner, client_key=builders.key(), kind="mixed", subject=reducer_of(none).mix.key,
         content={"made": False, "amounts": {}})
    none = finish_run(run=none, by=owner)
    with pytest.raises(NotThere, match="was not mixed"):
        leftover(none, owner, Fraction(1))


def test_what_went_into_another_mix_is_not_left_over(shop, owner):
    stock = builders.solution("Sugar stock", {"material": shop.sugar, "amount": 90, "unit": "g", "scales_with_strength": True},
                              {"material": shop.water})
    outer = builders.solution("Reducer of stock", {"nested": stock, "amount": 100, "scales_with_strength": True}, {"material": shop.water})
    steps = shop.steps()
    steps[2]["parts"][1]["solution_version"] = outer
    recipe = builders.put_version_in_use(builders.recipe("Silver of stock", steps), owner)
    run = finish_run(run=builders.worked(shop.run(shop.line(recipe_version_id=recipe.pk)), owner), by=owner)
    state = bench_state(run)
    inner = next(mix for mix in state.mixes if mix.mix.solution == "Sugar stock")
    parents = [mix for mix in state.mixes if mix.mix.solution == "Reducer of stock"]
    taken = sum(Fraction(amount) for parent in parents for row, amount in parent.rows if row.name == "Sugar stock")
    assert taken > 0
    assert left_over_ml(inner, state) == mixed_ml(inner) - taken
    with pytest.raises(NotThere, match="4 mL can be left"):
        leftover(run, owner, Fraction(5), inner.mix.key)


def test_two_versions_of_one_nested_solution_are_not_taken_for_each_other(shop, owner):
    """Each outer solution holds a version of its own of the same stock: 100 mL/L of the first, 300 mL/L of the second."""
    sugar = {"material": shop.sugar, "amount": 90, "unit": "g", "scales_with_strength": True}
    first = builders.solution("Sugar stock", sugar, {"material": shop.water})
    second = next_version(first, "for the other")
    steps = shop.steps()
    for part, name, stock, amount in ((0, "Silver of stock", first, 100), (1, "Reducer of stock", second, 300)):
        steps[2]["parts"][part]["solution_version"] = builders.solution(
            name, {"nested": stock, "amount": amount, "scales_with_strength": True}, {"material": shop.water})
    recipe = builders.put_version_in_use(builders.recipe("Of two stocks", steps), owner)
    run = finish_run(run=builders.worked(shop.run(shop.line(recipe_version_id=recipe.pk)), owner), by=owner)
    state = bench_state(run)
    for stock, outer in ((first, "Silver of stock"), (second, "Reducer of stock")):
        inner = next(one for one in state.mixes if one.mix.solution_key == stock.key)
        parents = [one for one in state.mixes if one.mix.solution == outer]
        taken = sum(Fraction(amount) for one in parents for row, amount in one.rows if row.name == "Sugar stock")
        assert taken > 0
        assert went_into_others_ml(inner, state) == taken


def test_a_ticket_printed_before_its_ingredients_named_their_solution_by_key_is_read_by_name(shop, owner):
    stock = builders.solution("Sugar stock", {"material": shop.sugar, "amount": 90, "unit": "g", "scales_with_strength": True},
                              {"material": shop.water})
    steps = shop.steps()
    steps[2]["parts"][1]["solution_version"] = builders.solution(
        "Reducer of stock", {"nested": stock, "amount": 100, "scales_with_strength": True}, {"material": shop.water})
    recipe = builders.put_version_in_use(builders.recipe("Silver of stock", steps), owner)
    run = finish_run(run=builders.worked(shop.run(shop.line(recipe_version_id=recipe.pk)), owner), by=owner)

    def taken() -> Fraction:
        state = bench_state(run)
        return went_into_others_ml(next(one for one in state.mixes if one.mix.solution == "Sugar stock"), state)

    by_key = taken()
    for mix in run.ticket.plan["mixes"]:
        for ingredient in mix["ingredients"]:
            del ingredient["solution_key"]
    assert taken() == by_key > 0


def test_a_form_sent_twice_is_answered_as_the_first_time_whatever_became_of_the_job(shop, owner):
    run = builders.worked(shop.run(), owner)
    builders.judge(run, owner, good=0)
    run = finish_run(run=run, by=owner)
    key, mix = builders.key(), reducer_of(run).mix.key
    lot = keep_leftover_of(run=run, mix_key=mix, volume_ml=Fraction(20), key=key, by=owner)
    cancel(job=run.ticket.job, by=owner, because="The customer withdrew.", nothing_else=True)
    assert keep_leftover_of(run=run, mix_key=mix, volume_ml=Fraction(20), key=key, by=owner) == lot
    with pytest.raises(NotThere, match="is cancelled"):
        leftover(run, owner, Fraction(20))


def test_a_key_that_another_posting_carries_is_refused_in_words(shop, owner, at_helper):
    delivery = shop.silver_lot.movements.get().posting.key
    run = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    ahead = mix_ahead(key=builders.key(), by=owner, version=shop.reducer, volume_ml=Fraction(100), day=today())
    for key in (delivery, ahead.movements.get().posting.key):
        told = at_helper.post(f"/bench/{run.pk}/leftover/", {"mix": reducer_of(run).mix.key, "volume": "20 ml", "key": key},
                              follow=True).content.decode()
        assert "The key of this form belongs to something else" in told
    refused = at_helper.post(f"/finishes/solutions/{shop.reducer.solution.code}/{shop.reducer.number}/mix-ahead/",
                             {"volume": "100 ml", "key": delivery}, follow=True)
    assert "The key of this form belongs to something else" in refused.content.decode()
    assert not run.kept_leftovers.exists()


def test_the_key_of_a_leftover_mixes_nothing_ahead(shop, owner, at_helper):
    """Given a leftover on the shelf, when its form's key is sent to mix the same solution ahead, then it is refused."""
    run = shop.run()
    builders.worked(run, owner)
    finish_run(run=run, by=owner)
    key = builders.key()
    lot = keep_leftover_of(run=run, mix_key=reducer_of(run).mix.key, volume_ml=Fraction(20), key=key, by=owner)
    page = f"/finishes/solutions/{shop.reducer.solution.code}/{shop.reducer.number}/mix-ahead/"
    refused = at_helper.post(page, {"volume": "100 ml", "key": key}, follow=True)
    assert "The key of this form belongs to something else" in refused.content.decode()
    assert list(lot.material.lots.all()) == [lot]


# Offcuts ------------------------------------------------------------------------------------------------------------

def test_no_offcut_before_the_glass_is_cut_nor_after_the_job_was_cancelled(shop, owner, at_helper):
    run = shop.run(shop.line(quantity=1, own_panes_to_start=1))
    name = f"{shop.glass.code}/1/1"
    page = at_helper.get(f"/bench/{run.pk}/").content.decode()
    assert "Offcuts worth keeping" not in page
    page = at_helper.post(f"/bench/{run.pk}/offcuts/", {"offcut": [name]}, follow=True).content.decode()
    assert "kept once its glass is cut" in page
    cancel(job=run.ticket.job, by=owner, because="The customer withdrew.", nothing_else=True)
    page = at_helper.post(f"/bench/{run.pk}/offcuts/", {"offcut": [name]}, follow=True).content.decode()
    assert "is cancelled: nothing left of it is kept" in page
    assert not Offcut.objects.exists()
    next_order = shop.order(shop.line(quantity=1, own_panes_to_start=1))
    assert price_order(draft_of(next_order), today()).costs[0].glass > 0


def test_only_the_sheets_that_were_cut_leave_offcuts(shop, owner):
    run = shop.run(shop.line("1000 x 1500 mm", quantity=3, own_panes_to_start=3))
    code, sheets = shop.glass.code, bench_state(run).plan.glass[0].plan
    assert len(sheets) >= 2
    last = next(f"{code}/{sheet.number}/1" for sheet in reversed(sheets) if sheet.offcuts)

    def cut(count: int) -> None:
        note(run=run, by=owner, client_key=builders.key(), kind="glass", subject=code, content={"sheets": count})

    cut(1)
    with pytest.raises(NotThere):
        keep_offcuts_of(run=run, names=[last], place="", by=owner)
    cut(len(sheets))
    (offcut,) = keep_offcuts_of(run=run, names=[last], place="rack", by=owner)
    cut(1)
    builders.worked(run, owner)
    with pytest.raises(BenchError, match=f"{offcut} was kept of sheet"):
        finish_run(run=run, by=owner)
    cut(len(sheets))
    finish_run(run=run, by=owner)
    assert offcut.width_mm > Decimal(0)
    assert audit() == []
