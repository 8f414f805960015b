"""A lot is held: at once everything it touched is named, and stays on Today until each is settled."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.looking_back.lot_graph import forward
from jobs.looking_back.recall import NotToSettle, recall_of, settle, unsettled
from jobs.models import RecallSettled
from jobs.work.bench import bench_state
from jobs.work.finishing import finish_run
from recipes.trials.conducting import Taken, take_stock
from studio.house.clock import now, pretend, today
from studio.stockroom.lots.keeping import hold_lot, release_lot
from studio.stockroom.models import Lot
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def poured(run, by):
    """Record the ticket's own jar of silver nitrate at the mix, and the rest as written."""
    mix = next(state.mix for state in bench_state(run).mixes if state.mix.solution == "Silver part")
    amounts = {str(row.number): f"{row.amount:f}" for row in mix.ingredients}
    builders.mixed(run, by, mix.key, amounts=amounts, lots={"1": [["S1", amounts["1"]]]})
    return finish_run(run=builders.worked(run, by, but=(mix.key,)), by=by)


def held(shop, owner, why="grey specks"):
    hold_lot(key=builders.key(), lot=shop.silver_lot, by=owner, why=why)
    return Lot.objects.select_related("material").get(pk=shop.silver_lot.pk)


def test_holding_a_lot_names_at_once_what_it_touched(at_owner, at_helper, shop, owner):
    run = poured(shop.run(), owner)
    waiting = shop.run(shop.line("305 x 305 mm", 1))
    page = at_owner.post(f"/stockroom/lots/{shop.silver_lot.pk}/hold/", {"why": "grey specks", "saves": 1, "key": builders.key()},
                         follow=True).content.decode()
    panes = ", ".join(pane.label for pane in run.pane_results.all())
    touched = f"Job 1, Ticket 1-1, load 1: Silver part on panes {panes} ("
    assert touched in page
    assert "; recorded" in page
    assert f"Job 2, {waiting.ticket}, load 1: Silver part (" in page
    assert "stands on its ticket" in page
    today = at_owner.get("/").content.decode()
    assert touched in today
    assert "grey specks" in today
    for_the_helper = at_helper.get("/").content.decode()
    assert touched in for_the_helper
    assert ", for\n            Ada Fenwick" in today
    assert ", for\n            Ada Fenwick" not in for_the_helper
    settling = at_owner.get(f"/stockroom/lots/{shop.silver_lot.pk}/trace/").content.decode()
    assert "quote 1" in settling
    assert "Ada Fenwick" in settling
    assert at_helper.post(f"/stockroom/lots/{shop.silver_lot.pk}/settle/").status_code == 403


def test_each_is_settled_by_itself_and_leaves_today(at_owner, shop, owner):
    first, second = poured(shop.run(), owner), poured(shop.run(), owner)
    lot = held(shop, owner)
    (_, items), = unsettled()
    assert [item.reached.run for item in items] == [second, first]
    address, key = f"/stockroom/lots/{lot.pk}/settle/", builders.key()
    for wrong, sentence in (({"what": items[0].name}, "Say what was decided"), ({"decided": "sound"}, "Tick what this settles"),
                            ({"what": "run-99-r1l1", "decided": "sound"}, "was not touched")):
        refused = at_owner.post(address, {**wrong, "key": builders.key()})
        assert refused.status_code == 422
        assert sentence in refused.content.decode()
    for _ in range(2):
        at_owner.post(address, {"what": items[0].name, "decided": "looked at, sound", "key": key})
    assert RecallSettled.objects.count() == 1
    (_, left), = unsettled()
    assert [item.reached.run for item in left] == [first]
    page = at_owner.get(f"/stockroom/lots/{lot.pk}/").content.decode()
    assert "by maud: looked at, sound" in page
    settle(key=builders.key(), lot=lot, names=[left[0].name], decided="remade", by=owner)
    assert unsettled() == []
    assert "grey specks. It touched" not in at_owner.get("/").content.decode()


def test_a_lot_held_again_is_looked_at_again(shop, owner):
    poured(shop.run(), owner)
    lot = held(shop, owner)
    settle(key=builders.key(), lot=lot, names=[recall_of([lot])[0].name], decided="sound", by=owner)
    assert unsettled() == []
    release_lot(key=builders.key(), lot=lot, by=owner, why="its assay came in good")
    with pytest.raises(NotToSettle, match="is not held"):
        settle(key=builders.key(), lot=lot, names=["x"], decided="sound", by=owner)
    with pretend(now() + timedelta(minutes=5)):
        held(shop, owner, "specks again")
        assert len(unsettled()) == 1


def test_what_is_mixed_of_it_after_it_was_settled_is_named_again(shop, owner):
    """Settled while its run went on; the helper then poured more of it for the same load."""
    run = shop.run()
    mix = next(state.mix for state in bench_state(run).mixes if state.mix.solution == "Silver part")
    builders.mixed(run, owner, mix.key, amounts={"1": "4"}, lots={"1": [["S1", "4"]]})
    lot = held(shop, owner)
    (item,) = recall_of([lot])
    settle(key=builders.key(), lot=lot, names=[item.name], decided="thrown away", by=owner)
    assert unsettled() == []
    with pretend(now() + timedelta(minutes=5)):
        builders.mixed(run, owner, mix.key, amounts={"1": "5"}, lots={"1": [["S1", "5"]]})
        (_, (again,)), = unsettled()
    assert again.reached.amount == Decimal(5)


def test_today_asks_no_more_of_many_runs(at_owner, shop, owner):
    def count():
        with CaptureQueriesContext(connection) as seen:
            at_owner.get("/")
        return len(seen)

    poured(shop.run(), owner)
    held(shop, owner)
    count()  # what is in doubt is worked out once
    few = count()
    release_lot(key=builders.key(), lot=shop.silver_lot, by=owner, why="for the test")
    for _ in range(3):
        poured(shop.run(), owner)
    held(shop, owner)
    assert count() == few


def test_of_many_trials_nothing_is_asked_one_by_one(shop, owner):
    def count():
        with CaptureQueriesContext(connection) as seen:
            items = recall_of([lot])
        return len(seen), len(items)

    def tried():
        trial = builders.trial(shop.recipe, owner)
        take_stock(key=builders.key(), trial=trial, by=owner, day=today(),
                   taken=[Taken(lot=shop.silver_lot, amount=Decimal(1))])
        return trial

    first = tried()
    lot = held(shop, owner)
    assert recall_of([lot])[0].reached.at == first.uses.get().posting.at
    few = count()
    release_lot(key=builders.key(), lot=lot, by=owner, why="for the test")
    for _ in range(3):
        tried()
    held(shop, owner)
    assert few[1] == 1
    assert count() == (few[0], 4)


def test_what_went_into_other_jobs_is_not_read_for_it(shop, owner):
    """An open run takes glass and water as an older one did: that one has nothing to do with the silver that is held."""
    older = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    waiting = shop.run()
    other = builders.lot(shop.silver_lot.material, "50", owner, number="S9")
    hold_lot(key=builders.key(), lot=other, by=owner, why="grey specks")
    graph = forward([other])
    assert list(graph.records) == [waiting.pk]
    assert older.pk in forward([shop.silver_lot]).records
