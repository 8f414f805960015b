"""Keeping is counted in minutes from ready from: an older mix inside bounds the newer, a leftover keeps its mix's clock."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, connection, transaction

from jobs.work.bench import bench_state, note
from jobs.work.finishing import finish_run
from jobs.work.kept import keep_leftover_of
from recipes.models import MadeLot
from recipes.solutions.mixing_ahead import CannotBeKept, keep_leftover, mix_ahead
from recipes.solutions.putting_in_use import SolutionRefused
from studio.house.clock import now, pretend, today
from studio.kit import database_rules
from studio.stockroom.deliveries.receiving import read_table
from studio.stockroom.ledger import LedgerError, NotEnough, Used, use_up
from studio.stockroom.materials import save_material
from studio.stockroom.models import Delivery, Lot, StockMovement
from studio.stockroom.shelf import as_on_shelf, shortages
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db
TEN = datetime(2026, 5, 4, 10, 0, tzinfo=ZoneInfo("UTC"))


def minutes(count: int) -> timedelta:
    return timedelta(minutes=count)


@pytest.fixture
def stock(shop):
    """Ready after 30 minutes, then keeps 2 hours: made at ten it is discarded by half past twelve."""
    return builders.solution("Stock", {"material": shop.sugar, "amount": 60, "unit": "g"}, {"material": shop.water},
                             ready_after_minutes=Decimal(30), keeps_minutes=Decimal(120))


@pytest.fixture
def wash(shop, stock):
    return builders.solution("Wash", {"nested": stock, "amount": 20}, {"material": shop.water}, keeps_minutes=Decimal(120))


def mixed(version, owner, volume=100, at=TEN):
    with pretend(at):
        return mix_ahead(key=builders.key(), by=owner, version=version, volume_ml=Fraction(volume), day=at.date())


def test_keeping_is_counted_from_ready_from_to_the_minute(shop, owner, stock):
    lot = mixed(stock, owner)
    assert (lot.made_at, lot.made.ready_at, lot.discard_at) == (TEN, TEN + minutes(30), TEN + minutes(150))
    assert lot.made.discard_at == lot.discard_at
    assert lot.until == "4 May 2026, 12:30"
    for at, good in ((149, True), (150, False)):
        with pretend(TEN + minutes(at)):
            assert as_on_shelf(lot).usable_on(today()) is good
            assert lot.has_expired(today()) is not good
            assert bool(shortages({lot.material_id: Decimal(1)}, today())) is not good


def test_a_lot_past_its_minute_is_picked_no_more_though_the_day_goes_on(shop, owner, stock):
    lot = mixed(stock, owner)
    used = [Used(material=lot.material, amount=Decimal(5))]
    with pretend(TEN + minutes(151)), pytest.raises(NotEnough, match=r"to be discarded by 04 May 2026, 12:30"):
        use_up(key=builders.key(), by=owner, used=used, day=today(), why="rinse")
    with pretend(TEN + minutes(151)):  # done in time, entered late
        use_up(key=builders.key(), by=owner, used=used, day=today(), why="rinse", at=TEN + minutes(100))


def test_the_pages_say_the_minute(at_owner, shop, owner, stock):
    lot = mixed(stock, owner)
    with pretend(TEN + minutes(60)):
        assert "4 May 2026, 12:30" in at_owner.get(f"/stockroom/lots/{lot.pk}/").content.decode()
        assert "expires today, 12:30" in at_owner.get("/").content.decode()
        assert "usable" in at_owner.get(f"/stockroom/{lot.material.code}/").content.decode()
    with pretend(TEN + minutes(200)):
        assert "expired today, 12:30" in at_owner.get("/").content.decode()
        assert ">expired 4 May 2026, 12:30" in at_owner.get(f"/stockroom/lots/{lot.pk}/").content.decode()
        assert ">expired 4 May 2026, 12:30" in at_owner.get(f"/stockroom/{lot.material.code}/").content.decode()


def test_the_day_is_the_studios_own(shop, owner, stock):
    """Half past midnight in Auckland is the day before in UTC."""
    shop_house = builders.house(time_zone="Pacific/Auckland")
    assert shop_house.time_zone == "Pacific/Auckland"
    lot = mixed(stock, owner)  # 22:00 in Auckland, discarded by 00:30
    assert lot.expires_on == TEN.date() + timedelta(days=1)


def test_an_older_mix_inside_bounds_the_newer(shop, owner, stock, wash):
    older = mixed(stock, owner)
    newer = mixed(wash, owner, at=TEN + minutes(60))
    assert newer.discard_at == older.discard_at
    fresh = mixed(wash, owner, volume=50_000, at=TEN + minutes(60))  # the lot holds too little: stock mixed with it
    assert fresh.discard_at == TEN + minutes(180)
    assert audit() == []


def test_its_authors_reason_keeps_it_longer(shop, owner, stock):
    longer = builders.solution("Acid wash", {"nested": stock, "amount": 20}, {"material": shop.water},
                               keeps_minutes=Decimal(600), longer_keeping_reason="The acid in it keeps it.")
    mixed(stock, owner)
    assert mixed(longer, owner, at=TEN + minutes(60)).discard_at == TEN + minutes(660)


def test_old_lots_without_a_minute_keep_to_their_day(shop, owner, stock, wash):
    older = mixed(stock, owner)
    database_rules.lift(connection)
    Lot.objects.filter(pk=older.pk).update(made_at=None, discard_at=None)
    database_rules.install(connection)
    older = Lot.objects.select_related("material", "level").get(pk=older.pk)
    with pretend(TEN + minutes(600)):
        assert as_on_shelf(older).usable_on(today())
    with pretend(TEN + timedelta(days=1)):
        assert not as_on_shelf(older).usable_on(today())
    newer = mixed(wash, owner, at=TEN + timedelta(hours=13))  # 23:00: the day of what is in it ends at midnight
    assert newer.discard_at == TEN + timedelta(hours=14)


def test_the_database_bounds_the_newer_as_well(shop, owner, stock, wash):
    older, newer = mixed(stock, owner), mixed(wash, owner, at=TEN + minutes(60))
    assert StockMovement.objects.filter(lot=older, kind="make-up out").exists()
    later = Lot.objects.create(
        material=newer.material, lot_number="late", received_on=TEN.date(), quantity_received=1, made_here=True,
        made_at=TEN, discard_at=TEN + minutes(900))
    posting = newer.movements.get().posting
    StockMovement.objects.create(posting=posting, line=9, lot=later, kind="make-up in", quantity=1, unit_cost=0)
    with pytest.raises(IntegrityError, match="not kept past an older mix"), transaction.atomic():
        MadeLot.objects.create(lot=later, solution_version=wash)
    with pytest.raises(IntegrityError, match="does not change"), transaction.atomic():
        Lot.objects.filter(pk=newer.pk).update(discard_at=TEN + minutes(900))


def test_the_audit_finds_a_lot_kept_past_what_is_in_it(shop, owner, stock, wash):
    older, newer = mixed(stock, owner), mixed(wash, owner, at=TEN + minutes(60))
    database_rules.lift(connection)
    Lot.objects.filter(pk=newer.pk).update(discard_at=TEN + minutes(170))
    database_rules.install(connection)
    assert audit() == [f"{newer} is kept past {older}, which went into it."]


def test_a_leftover_keeps_the_clock_of_its_mix(shop, owner, at_owner):
    """The reducer keeps a day: mixed at ten, kept at seven in the evening, it is discarded by ten the next day."""
    with pretend(TEN - minutes(60)):
        run = shop.run()
    with pretend(TEN):
        builders.worked(run, owner)
    mix = next(mix for mix in bench_state(run).mixes if mix.mix.solution == "Reducer")
    with pretend(TEN + minutes(60)):  # an amount put right starts no clock
        note(run=run, by=owner, client_key=builders.key(), kind="mixed", subject=mix.mix.key,
             content={"made": True, "amounts": {str(row.number): str(amount) for row, amount in mix.rows}})
    with pretend(TEN + minutes(480)):
        finish_run(run=run, by=owner)
    run.refresh_from_db()
    with pretend(TEN + minutes(540)):
        lot = keep_leftover_of(run=run, mix_key=mix.mix.key, volume_ml=Fraction(10), key=builders.key(), by=owner)
    assert (lot.made_at, lot.discard_at) == (TEN, TEN + timedelta(days=1))
    with pretend(TEN + timedelta(days=1)), pytest.raises(CannotBeKept, match="was to be discarded by 05 May 2026, 10:00"):
        keep_leftover_of(run=run, mix_key=mix.mix.key, volume_ml=Fraction(10), key=builders.key(), by=owner)
    assert audit() == []


def test_a_leftover_is_bounded_by_the_older_mix_in_it(shop, owner, wash):
    lot = keep_leftover(key=builders.key(), by=owner, version=wash, volume_ml=Fraction(10), mixed_at=now(), why="left",
                        inside=[now() + minutes(20), None])
    assert lot.discard_at <= now() + minutes(20)


def test_what_nobody_has_classed_is_not_mixed_ahead(shop, owner, stock):
    shop.sugar.reacts_as, shop.sugar.cas_number = [], ""
    save_material(shop.sugar, why_taken_away="another product's sheet")
    assert shop.sugar.is_unclassed
    with pytest.raises(SolutionRefused, match="Dextrose"):
        mixed(stock, owner)


@pytest.mark.parametrize("kind", ["service", "page", "table", "lot", "movement", "delivery", "material"])
def test_what_is_made_here_never_comes_in_by_delivery(shop, owner, at_owner, stock, kind):
    lot = mixed(stock, owner)
    material = lot.material
    if kind == "service":
        with pytest.raises(LedgerError, match="never from a delivery"):
            builders.lot(material, "5", owner, "X1")
    elif kind == "page":
        page = at_owner.get(f"/stockroom/{material.code}/").content.decode()
        assert "never from a delivery" in page
        assert "Receive the lot" not in page
        sent = {"lot_number": "X1", "amount": "5 mL", "cost_with_carriage": "1", "received_on": "2026-05-04", "key": builders.key()}
        answer = at_owner.post(f"/stockroom/{material.code}/receive/", sent)
        assert answer.status_code == 422
        assert "never from a delivery" in answer.content.decode()
    elif kind == "table":
        _, wrong = read_table("Stock\tX1\t5 mL\t1.00\n")
        assert [cell.column for cell in wrong] == ["material"]
        assert "never from a delivery" in wrong[0].why
    elif kind == "lot":
        with pytest.raises(IntegrityError, match="never from a delivery"), transaction.atomic():
            Lot.objects.create(material=material, lot_number="X1", received_on=TEN.date(), quantity_received=1)
    elif kind == "movement":
        with pytest.raises(IntegrityError, match="never from a delivery"), transaction.atomic():
            StockMovement.objects.create(posting=lot.movements.get().posting, line=9, lot=lot, kind="receipt",
                                         quantity=1, unit_cost=0)
    elif kind == "delivery":
        came = Delivery.objects.create(supplier="Acme", received_on=TEN.date(), key=builders.key())
        with pytest.raises(IntegrityError), transaction.atomic():
            Lot.objects.create(material=material, lot_number="X1", received_on=TEN.date(), quantity_received=1,
                               made_here=True, delivery=came)
    else:
        with pytest.raises(IntegrityError, match="stays made here"), transaction.atomic():
            type(material).objects.filter(pk=material.pk).update(kind="chemical")
    assert material.lots.count() == 1
