"""Finishing says first what it deducts from which lot, and deducts just that, once, whatever was planned or recorded."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.models import Run
from jobs.work.bench import bench_state, note, taken_from_lots, used_amounts, used_of_lots
from jobs.work.finishing import finish_run
from jobs.work.ticketing import plan_of
from studio.stockroom.ledger import NotEnough
from studio.stockroom.lots.keeping import discard
from studio.stockroom.models import Lot, LotLevel, StockMovement
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    shop = builders.Workshop(owner)
    builders.lot(shop.silver, "300", owner, "S2", "450")
    return shop


def added_up(rows):
    found: Counter = Counter()
    for lot, amount in rows:
        found[lot.material.code, lot.lot_number] += amount
    return found


def deducted(run):
    run.refresh_from_db()
    return added_up((moved.lot, -moved.quantity) for moved in run.posting.movements.select_related("lot__material"))


def shown_on(page):
    return added_up((row.taking.lot, row.taking.amount) for row in page.context["deduction"].rows)


def test_what_is_shown_first_is_what_is_deducted(shop, helper, at_helper):
    run = shop.run(shop.line(quantity=1))
    page = f"/bench/{run.pk}/finish/"
    assert "Record the conditions." in at_helper.get(page).content.decode()
    mix = next(mix for mix in plan_of(run.ticket).mixes if mix.solution == "Silver part")
    builders.mixed(run, helper, mix.key, lots={"1": [["S2", f"{mix.ingredients[0].amount:f}"]]})
    builders.worked(run, helper, but=(mix.key,))
    shown = at_helper.get(page)
    assert "recorded at the mix" in shown.content.decode()
    assert "the first to expire" in shown.content.decode()
    assert "Nobody recorded the sheets cut of Clear 4 mm" in shown.content.decode()
    before = StockMovement.objects.count()
    assert at_helper.post(page).status_code == 422  # nothing was shown to whoever sends this
    assert StockMovement.objects.count() == before
    assert builders.finish_by_page(at_helper, run).status_code == 302
    assert deducted(run) == shown_on(shown)
    assert deducted(run)["silver-nitrate", "S2"] == mix.ingredients[0].amount
    assert at_helper.get(page).status_code == 302
    assert audit() == []


def test_where_the_stock_moved_meanwhile_it_is_shown_anew_and_asked_again(shop, owner, helper, at_helper):
    run = builders.worked(shop.run(shop.line(quantity=1)), helper)
    page = f"/bench/{run.pk}/finish/"
    mark = at_helper.get(page).context["deduction"].mark
    discard(key=builders.key(), lot=shop.silver_lot, by=owner, amount=Decimal(500), why="spilt")
    anew = at_helper.post(page, {"shown": mark})
    assert anew.status_code == 422
    assert "it is shown anew" in anew.content.decode()
    assert ("silver-nitrate", "S2") in shown_on(anew)
    assert Run.objects.get(pk=run.pk).finished_at is None
    assert not StockMovement.objects.filter(kind="use").exists()
    assert at_helper.post(page, {"shown": anew.context["deduction"].mark}).status_code == 302
    assert deducted(run) == shown_on(anew)


def test_a_held_lot_is_shown_and_its_owner_says_why(shop, helper, at_helper, at_owner):
    run = builders.worked(shop.run(shop.line(quantity=1)), helper)
    Lot.objects.filter(material=shop.silver).update(state="held", hold_reason="looks grey")
    page = f"/bench/{run.pk}/finish/"
    assert "the owner can say why they may be used" in at_helper.get(page).content.decode()
    assert "Finish: deduct this" not in at_helper.get(page).content.decode()
    assert "held: looks grey" in at_owner.get(page).content.decode()
    assert builders.finish_by_page(at_owner, run).status_code == 422
    assert builders.finish_by_page(at_owner, run, kept_back_because="its assay came in good").status_code == 302
    assert StockMovement.objects.get(kind="use", lot__material=shop.silver).note == "its assay came in good"


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_what_is_deducted_is_what_was_recorded_by_lot_once(shop, owner, data):
    """Random plans and records: lots named or not, for all or part of an amount, mixes not made, glass recorded or not."""
    with transaction.atomic():
        run = shop.run(shop.line(quantity=data.draw(st.integers(1, 3)), size=data.draw(
            st.sampled_from(["305 x 305 mm", "610 x 915 mm", "Ø 500 mm"]))))
        recorded: Counter = Counter()
        whole: Counter = Counter()
        mixes = list(plan_of(run.ticket).mixes)
        for mix in mixes:
            made = mix.ammoniacal or data.draw(st.booleans())
            amounts, lots = {}, {}
            for row in mix.ingredients if made else ():
                amount = row.amount * data.draw(st.sampled_from([Decimal("0.5"), Decimal(1), Decimal("1.25")]))
                amounts[str(row.number)] = f"{amount:.3f}"
                amount = Decimal(f"{amount:.3f}")
                whole[row.code] += amount
                named = data.draw(st.sampled_from([(), ("S2",), ("S1", "S2")])) if row.code == "silver-nitrate" else ()
                part = (amount / 3).quantize(Decimal("0.001"))
                lots[str(row.number)] = [[lot, f"{part:f}"] for lot in named]
                for lot in named:
                    recorded[row.code, lot] += part
            builders.mixed(run, owner, mix.key, made=made, amounts=amounts, lots=lots)
        sheets = data.draw(st.sampled_from([None, 0, 2]))
        if sheets is not None:
            note(run=run, by=owner, client_key=builders.key(), kind="glass", subject=shop.glass.code,
                 content={"sheets": sheets})
        whole[shop.glass.code] += sum(glass.sheets for glass in plan_of(run.ticket).glass) if sheets is None else sheets
        builders.worked(run, owner, but=[mix.key for mix in mixes])
        state = bench_state(run)
        assert Counter(used_amounts(state)) == +whole
        assert Counter(used_of_lots(state)) == +recorded
        assert taken_from_lots(state) == {}
        before = dict(LotLevel.objects.values_list("lot", "on_hand"))
        try:
            for _ in range(2):
                finish_run(run=run, by=owner)
        except NotEnough:
            assert any(amount > 800 for code, amount in whole.items() if code == "silver-nitrate") or len(before) < 7
        else:
            taken: Counter = Counter()
            for (code, lot), amount in deducted(run).items():
                taken[code] += amount
                assert amount >= recorded[code, lot]
            assert taken == +whole
            after = dict(LotLevel.objects.values_list("lot", "on_hand"))
            assert sum(before.values()) - sum(after.values()) == sum(whole.values())
        transaction.set_rollback(True)
