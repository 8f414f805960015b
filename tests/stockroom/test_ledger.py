"""The ledger: sums, never below zero, append-only, once; and picking."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.db.models import F
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.house.clock import today
from studio.stockroom.hazards.identity import cas_check_digit_holds
from studio.stockroom.hazards.pairs import DANGEROUS_PAIRS
from studio.stockroom.ledger import LedgerError, Movement, NotEnough, Used, post, receive, reverse, use_up
from studio.stockroom.models import Lot, LotLevel, Material, Posting, StockMovement
from studio.stockroom.picking import LotOnShelf, pick, picking_order
from studio.stockroom.shelf import shortages
from studio.whole.audit import audit
from tests import builders

DAY = date(2026, 6, 1)


def on_shelf(lot_id, on_hand="10", **more):
    values = {"expires_on": None, "opened_on": None, "received_on": DAY, **more}
    return LotOnShelf(lot_id=lot_id, lot_number=f"L{lot_id}", on_hand=Decimal(on_hand), **values)


def test_first_expired_first_out():
    lots = [
        on_shelf(1), on_shelf(2, expires_on=DAY + timedelta(9)), on_shelf(3, expires_on=DAY + timedelta(5)),
        on_shelf(4, expires_on=DAY + timedelta(5), opened_on=DAY), on_shelf(5, received_on=DAY - timedelta(1)),
        on_shelf(6, expires_on=DAY + timedelta(5), received_on=DAY - timedelta(3)),
    ]
    assert [lot.lot_id for lot in picking_order(lots)] == [4, 6, 3, 2, 5, 1]


def test_held_and_expired_lots_are_left_but_the_expiry_day_counts():
    lots = [on_shelf(1, held=True, hold_reason="label"), on_shelf(2, expires_on=DAY - timedelta(1)),
            on_shelf(3, "4", expires_on=DAY), on_shelf(4, "3")]
    picks, short = pick(Decimal(8), lots, DAY)
    assert [(taken.lot_id, taken.amount) for taken in picks] == [(3, 4), (4, 3)]
    assert short == 1
    all_picks, none_short = pick(Decimal(8), lots, DAY, kept_back_too=True)
    assert [(taken.lot_id, taken.amount) for taken in all_picks] == [(3, 4), (4, 3), (2, 1)]
    assert none_short == 0


@given(st.lists(st.tuples(st.integers(1, 50), st.one_of(st.none(), st.integers(-3, 9)), st.booleans()), max_size=8),
       st.integers(1, 200))
def test_picks_never_take_more_than_is_there(shelf, wanted):
    lots = [on_shelf(n, str(amount), held=held, expires_on=None if days is None else DAY + timedelta(days))
            for n, (amount, days, held) in enumerate(shelf)]
    picks, short = pick(Decimal(wanted), lots, DAY)
    usable = {lot.lot_id: lot.on_hand for lot in lots if lot.usable_on(DAY)}
    assert all(0 < taken.amount <= usable[taken.lot_id] for taken in picks)
    assert sum(taken.amount for taken in picks) + short == wanted
    assert short == max(Decimal(0), wanted - sum(usable.values()))


@pytest.fixture
def silver(owner, house):
    return builders.material("Silver nitrate", reacts_as=["silver_salt"])


def test_a_lot_holds_what_its_movements_sum_to(silver, owner):
    lot = builders.lot(silver, "250", owner, cost="322.50")
    assert lot.unit_cost == Decimal("1.29")
    use_up(key=builders.key(), by=owner, used=[Used(material=silver, amount=Decimal("12.345"))], day=today(), why="run")
    assert LotLevel.objects.get(lot=lot).on_hand == Decimal("237.655")
    assert audit_of_stock() == []


def audit_of_stock():
    return [sentence for sentence in audit() if "belongs to no run" not in sentence]


def test_a_posting_counts_once_however_often_it_is_sent(silver, owner):
    lot, key = builders.lot(silver, "100", owner), builders.key()
    for _ in range(3):
        use_up(key=key, by=owner, used=[Used(material=silver, amount=Decimal(10))], day=today(), why="run")
    assert LotLevel.objects.get(lot=lot).on_hand == 90
    again = receive(key=Posting.objects.get(kind="receipt").key, by=owner, material=silver, lot_number="other",
                    quantity=Decimal(5), cost_with_carriage=Decimal(1), received_on=today())
    assert again == lot
    assert Lot.objects.count() == 1


def test_too_little_posts_nothing_and_says_what_is_missing(silver, owner):
    builders.lot(silver, "5", owner)
    builders.lot(silver, "50", owner, "L2", state="held", hold_reason="label torn")
    water = builders.material("Water", "mL")
    builders.lot(water, "1000", owner)
    with pytest.raises(NotEnough) as refusal:
        use_up(key=builders.key(), by=owner, day=today(), why="run", used=[
            Used(material=water, amount=Decimal(100)), Used(material=silver, amount=Decimal(8))])
    assert "Silver nitrate: 3 g of the 8 g" in str(refusal.value)
    assert "lot L2 (held: label torn)" in str(refusal.value)
    assert not StockMovement.objects.filter(kind="use").exists()


def test_a_mistake_is_corrected_by_its_opposite(silver, owner):
    lot = builders.lot(silver, "100", owner)
    posting = use_up(key=builders.key(), by=owner, used=[Used(material=silver, amount=Decimal(30))], day=today(), why="run")
    with pytest.raises(LedgerError, match="Say why"):
        reverse(key=builders.key(), by=owner, posting=posting, why=" ")
    reverse(key=builders.key(), by=owner, posting=posting, why="wrong job")
    assert LotLevel.objects.get(lot=lot).on_hand == 100
    with pytest.raises(LedgerError):
        reverse(key=builders.key(), by=owner, posting=posting, why="twice")
    assert audit_of_stock() == []


def test_level_never_below_zero_says_so(silver, owner):
    lot = builders.lot(silver, "5", owner)
    with pytest.raises(LedgerError, match="does not hold that much"):
        post(key=builders.key(), kind="discard", by=owner, movements=[
            Movement(lot=lot, kind="discard", quantity=Decimal(-6), unit_cost=lot.unit_cost)])
    assert LotLevel.objects.get(lot=lot).on_hand == 5


@pytest.mark.parametrize("change", [
    lambda lot: StockMovement.objects.update(quantity=1),
    lambda lot: StockMovement.objects.all().delete(),
    lambda lot: Posting.objects.update(why="edited"),
    lambda lot: LotLevel.objects.update(on_hand=99),
    lambda lot: LotLevel.objects.update(on_hand=2 * LotLevel.objects.get().on_hand),  # its one movement counted once more
    lambda lot: LotLevel.objects.update(counted_to=F("counted_to") + 1),
    lambda lot: LotLevel.objects.update(counted_to=0),
    lambda lot: LotLevel.objects.all().delete(),
    lambda lot: LotLevel.objects.create(lot=lot, on_hand=0),
    lambda lot: Lot.objects.update(quantity_received=1),
    lambda lot: Lot.objects.update(cost_with_carriage=1),
    lambda lot: Lot.objects.update(state="held", hold_reason=""),
    lambda lot: Material.objects.update(stock_unit="mL", liquid=True),
    lambda lot: Material.objects.update(code="another"),
    lambda lot: StockMovement.objects.create(posting=Posting.objects.get(), line=2, lot=lot, kind="use", quantity=1,
                                             unit_cost=1),
    lambda lot: StockMovement.objects.create(posting=Posting.objects.get(), line=2, lot=lot, kind="discard",
                                             quantity=-500, unit_cost=1),
    lambda lot: StockMovement.objects.create(posting=Posting.objects.get(), line=2, lot=lot, kind="count correction",
                                             quantity=0, unit_cost=1),
    lambda lot: StockMovement.objects.create(posting=Posting.objects.get(), line=1, lot=lot, kind="discard",
                                             quantity=-1, unit_cost=1),
    lambda lot: StockMovement.objects.create(posting=Posting.objects.get(), line=2, lot=lot, kind="receipt",
                                             quantity=-1, unit_cost=1, reverses=StockMovement.objects.get()),
], ids=["movement edited", "movement deleted", "posting edited", "level reset", "counted twice", "counted ahead", "counted back", "level deleted", "second level",
        "received edited", "cost edited", "held without reason", "unit changed", "code changed", "use that adds",
        "below zero", "nothing moved", "posted twice", "reversal that is no opposite"])
def test_what_the_database_refuses_whoever_writes(silver, owner, change):
    lot = builders.lot(silver, "100", owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        change(lot)
    assert LotLevel.objects.get(lot=lot).on_hand == 100


def test_replacing_a_movement_is_refused(silver, owner):
    builders.lot(silver, "100", owner)
    if connection.vendor != "sqlite":
        return
    with pytest.raises(IntegrityError, match="never replaced"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("INSERT OR REPLACE INTO inventory_stockmovement SELECT * FROM inventory_stockmovement")


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["receive", "use", "discard", "reverse"]), st.integers(1, 60)), max_size=14))
@pytest.mark.django_db(transaction=False)
def test_ledger_sums_hold_under_random_sequences(django_db_blocker, actions):
    """Against a model of its own: a plain sum of what went in and out."""
    with transaction.atomic():
        owner = builders.person(f"owner-{builders.key()}", "owner")
        builders.house()
        salt = builders.material(f"Salt {builders.key()}")
        model, last = Decimal(0), None
        for number, (action, amount) in enumerate(actions):
            if action == "receive":
                builders.lot(salt, str(amount), owner, f"L{number}")
                model += amount
            elif action == "use":
                try:
                    last = use_up(key=builders.key(), by=owner, day=today(), why="run",
                                  used=[Used(material=salt, amount=Decimal(amount))])
                    model -= amount
                except NotEnough:
                    assert amount > model
            elif action == "discard" and (lot := Lot.objects.filter(material=salt, level__on_hand__gte=amount).first()):
                post(key=builders.key(), kind="discard", by=owner, movements=[
                    Movement(lot=lot, kind="discard", quantity=Decimal(-amount), unit_cost=lot.unit_cost)])
                model -= amount
            elif action == "reverse" and last is not None:
                model -= sum(movement.quantity for movement in last.movements.all())
                reverse(key=builders.key(), by=owner, posting=last, why="wrong")
                last = None
            held = sum(LotLevel.objects.filter(lot__material=salt).values_list("on_hand", flat=True))
            assert held == model
        transaction.set_rollback(True)


def test_shortage_names_what_is_promised_elsewhere(owner, rates):
    workshop = builders.Workshop(owner, silver="30")
    workshop.booked(workshop.line(quantity=1))
    (short,) = shortages({workshop.silver.pk: Decimal(28)}, today())
    assert short.promised_to == ("job 1",)
    assert short.free + short.promised == 30
    assert short.short == 28 - short.free


def test_expiry_is_the_earlier_of_given_and_opened_life(owner, house):
    tin = builders.material("Tin", shelf_life_days=365, opened_life_days=10)
    lot = builders.lot(tin, "5", owner, received_on=date(2026, 1, 1), opened_on=date(2026, 2, 1))
    assert lot.expires_on == date(2026, 2, 11)
    assert not lot.has_expired(date(2026, 2, 11))
    assert lot.has_expired(date(2026, 2, 12))


def test_cas_check_digit_refuses_the_published_counter_example(house):
    """7761-88-8 is silver nitrate; 7761-88-7 fails its check digit (Chemical Abstracts Service)."""
    assert cas_check_digit_holds("7761-88-8")
    assert not cas_check_digit_holds("7761-88-7")
    with pytest.raises(ValidationError, match="check digit"):
        builders.material("Wrong", cas_number="7761-88-7")


def test_every_dangerous_pair_has_reason_and_source():
    assert all(pair.reason.endswith(".") and pair.source for pair in DANGEROUS_PAIRS)
