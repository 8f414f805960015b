"""Postings one by one: from which lots, with which notes, under which refusals; and what a unit costs."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from studio.house.clock import today
from studio.stockroom.costing import unit_costs
from studio.stockroom.deliveries.receiving import DeliveryLine, costs_with_carriage
from studio.stockroom.ledger import LedgerError, Movement, NotEnough, Used, lock_levels, post, receive, reverse, use_up
from studio.stockroom.models import Lot, LotLevel, Posting, StockMovement
from tests import builders

pytestmark = pytest.mark.django_db
AT = datetime(2026, 5, 4, 9, 30, tzinfo=ZoneInfo("Europe/Rome"))


@pytest.fixture
def silver(owner, house):
    return builders.material("Silver nitrate")


def used_up(by, *used, **more):
    return use_up(**{"key": builders.key(), "by": by, "used": used, "day": today(), "why": "run", **more})


def moved(posting: Posting) -> list[tuple[str, Decimal, str]]:
    return [(movement.lot.lot_number, movement.quantity, movement.note) for movement in posting.movements.order_by("line")]


def yesterday():
    return today() - timedelta(days=1)


# Posting ------------------------------------------------------------------------------------------------------------------

def test_a_posting_says_what_when_who_and_why(silver, owner):
    first, second = builders.lot(silver, "10", owner, cost="20"), builders.lot(silver, "5", owner, "L2")
    posting = post(key=builders.key(), kind="discard", by=owner, why="damp", at=AT, movements=[
        Movement(lot=second, kind="discard", quantity=Decimal(-5), unit_cost=Decimal(2), note="all of it"),
        Movement(lot=first, kind="discard", quantity=Decimal("-0.001"), unit_cost=Decimal(1)),
    ])
    posting.refresh_from_db()
    assert (posting.kind, posting.by, posting.why, posting.at) == ("discard", owner, "damp", AT)
    assert moved(posting) == [("L2", -5, "all of it"), ("L1", Decimal("-0.001"), "")]
    assert [movement.line for movement in posting.movements.order_by("line")] == [1, 2]
    assert [movement.unit_cost for movement in posting.movements.order_by("line")] == [2, 1]
    assert LotLevel.objects.get(lot=second).on_hand == 0
    unsaid = post(key=builders.key(), kind="discard", by=owner, movements=[])
    assert unsaid.why == ""
    assert abs(unsaid.at - datetime.now(ZoneInfo("UTC"))) < timedelta(days=1)


def test_the_same_key_is_one_posting_and_the_first_counts(silver, owner):
    lot, key = builders.lot(silver, "10", owner), builders.key()
    taken = [Movement(lot=lot, kind="discard", quantity=Decimal(-1), unit_cost=lot.unit_cost)]
    first = post(key=key, kind="discard", by=owner, movements=taken, why="first")
    with CaptureQueriesContext(connection) as asked:
        assert post(key=key, kind="return", by=owner, movements=taken * 3, why="second") == first
    assert not any("lotlevel" in query["sql"] for query in asked)  # nobody waits for a lock only to learn it is done
    assert LotLevel.objects.get(lot=lot).on_hand == 9
    assert Posting.objects.get(key=key).why == "first"


def test_only_what_would_fall_below_zero_is_named(silver, owner):
    lots = [builders.lot(silver, "5", owner, number) for number in ("L3", "L1", "L2")]
    with pytest.raises(LedgerError) as refused:
        post(key=builders.key(), kind="count", by=owner, movements=[
            Movement(lot=lot, kind="count correction", quantity=Decimal(amount), unit_cost=lot.unit_cost)
            for lot, amount in zip(lots, (-6, -1, 2), strict=True)])
    assert str(refused.value) == ("One of these does not hold that much, so nothing was saved: "
                                  "Silver nitrate, lot L1, Silver nitrate, lot L3.")
    assert not Posting.objects.filter(kind="count").exists()
    with pytest.raises(LedgerError, match=r"^The ledger refused this, so nothing was saved: "):
        post(key=builders.key(), kind="discard", by=owner, movements=[
            Movement(lot=lots[0], kind="discard", quantity=Decimal(6), unit_cost=lots[0].unit_cost)])


def test_a_kind_that_is_none_is_refused_before_it_is_written(silver, owner):
    with pytest.raises(ValidationError):
        post(key=builders.key(), kind="gift", by=owner, movements=[])


def test_levels_are_locked_by_their_ids_and_only_those_asked_for(silver, owner):
    first, other, last = (builders.lot(silver, amount, owner, f"L{amount}") for amount in ("3", "2", "1"))
    with transaction.atomic():
        levels = lock_levels([last.pk, first.pk])
    assert [(lot, level.on_hand) for lot, level in levels.items()] == [(first.pk, 3), (last.pk, 1)]
    assert other.pk not in levels


# Receiving ----------------------------------------------------------------------------------------------------------------

def test_a_receipt_keeps_what_was_said_of_the_lot(silver, owner):
    key, opened = builders.key(), today()
    values = {"key": key, "by": owner, "material": silver, "lot_number": "S7", "quantity": Decimal(3), "cost_with_carriage": Decimal(1),
              "received_on": yesterday(), "at": AT, "supplier": "Ebb", "opened_on": opened}
    lot = receive(**values)
    lot.refresh_from_db()
    assert (lot.quantity_received, lot.cost_with_carriage, lot.supplier, lot.opened_on) == (3, 1, "Ebb", opened)
    posting = Posting.objects.get(key=key)
    assert (posting.kind, posting.at, moved(posting)) == ("receipt", AT, [("S7", 3, "")])
    assert posting.movements.get().unit_cost == Decimal("0.333333")
    assert receive(**{**values, "lot_number": "again"}) == lot
    assert Lot.objects.count() == 1
    with pytest.raises(LedgerError, match="Silver nitrate has a lot S7 already"):
        receive(**{**values, "key": builders.key()})


@pytest.mark.parametrize(("cost", "quantity", "unit_cost"), [
    ("0.0001", "200", "0.000001"),   # 0.0000005, a tie
    ("0.0001", "201", "0"), ("0.0003", "200", "0.000002"), ("0.0005", "200", "0.000003"), ("2", "3", "0.666667"),
    ("10", "3", "3.333333"), ("322.50", "250", "1.29"),
])
def test_a_unit_costs_cost_with_carriage_by_quantity_half_up_to_six_places(silver, cost, quantity, unit_cost):
    lot = Lot(material=silver, cost_with_carriage=Decimal(cost), quantity_received=Decimal(quantity))
    assert lot.unit_cost == Decimal(unit_cost)


def test_what_a_material_costs_is_what_the_last_lot_received_cost(silver, owner):
    """A tie in the day goes to the lot entered later; a reversed receipt, a lot made here and tomorrow's count for nothing."""
    unpriced = builders.material("Gift", list_price=None)
    assert {pk: (cost.unit_cost, cost.source, cost.on) for pk, cost in unit_costs([silver, unpriced], today()).items()} == {
        silver.pk: (Decimal("0.1"), "list price", None)}
    builders.lot(silver, "10", owner, "L1", "30")
    builders.lot(silver, "10", owner, "L2", "20", state="held", hold_reason="label torn")
    builders.lot(silver, "10", owner, "L0", "90", received_on=today() - timedelta(days=11))
    builders.lot(silver, "10", owner, "L4", "70", received_on=today())
    builders.lot(silver, "10", owner, "L5", "80", made_here=True)
    builders.lot(silver, "10", owner, "L6", "60")
    reverse(key=builders.key(), by=owner, posting=Posting.objects.get(movements__lot__lot_number="L6"), why="sent back")
    known = unit_costs([silver], yesterday())[silver.pk]
    assert (known.unit_cost, known.source, known.on) == (2, "lot L2", today() - timedelta(days=10))
    assert unit_costs([silver], today())[silver.pk].unit_cost == 7


# Carriage -----------------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize(("carriage", "digits", "costs"), [
    ("10", 2, ("4.34", "4.33", "4.33")), ("0.02", 2, ("1.01", "1.01", "1")), ("0.002", 3, ("1.001", "1.001", "1")),
    ("2", 0, ("2", "2", "1")), ("0", 2, ("1", "1", "1")),
])
def test_carriage_is_shared_to_the_penny_and_ties_go_to_the_earlier_line(silver, carriage, digits, costs):
    lines = [DeliveryLine(row=row, material=silver, lot_number=str(row), amount=Decimal(5), price=Decimal(1)) for row in (1, 2, 3)]
    for by in ("value", "mass"):
        assert costs_with_carriage(lines, Decimal(carriage), by, digits) == [Decimal(cost) for cost in costs]


def test_carriage_finer_than_the_currency_is_refused_and_not_lost(silver, at_owner, rates):
    line = DeliveryLine(row=1, material=silver, lot_number="1", amount=Decimal(5), price=Decimal(1))
    with pytest.raises(LedgerError, match="decimals") as refused:
        costs_with_carriage([line], Decimal("10.005"), "value")
    assert refused.value.field == "carriage"
    assert costs_with_carriage([line], Decimal("10.005"), "value", 3) == [Decimal("11.005")]
    page = at_owner.post("/stockroom/receive/", {
        "supplier": "Ebb", "received_on": "2026-06-01", "carriage": "10.0051", "share_by": "value",
        "table": "Silver nitrate,S9,500 g,100", "key": str(builders.key())})
    assert page.status_code == 422
    assert "the currency has 2 decimals" in page.content.decode()
    assert 'value="10.0051"' in page.content.decode()
    assert not Lot.objects.exists()


# Using up -----------------------------------------------------------------------------------------------------------------

def test_what_was_used_comes_from_the_first_to_expire_each_at_its_own_cost(silver, owner):
    builders.lot(silver, "10", owner, "late", "10")
    builders.lot(silver, "2", owner, "soon", "6", expires_on_given=today())
    water = builders.material("Water", "mL")
    builders.lot(water, "100", owner, "W1", "50")
    posting = used_up(owner, Used(material=water, amount=Decimal(40)),
                      Used(material=silver, amount=Decimal(3), note="a little more"), why="Job 7", at=AT)
    assert moved(posting) == [("W1", -40, ""), ("soon", -2, "a little more"), ("late", -1, "a little more")]
    assert [movement.unit_cost for movement in posting.movements.order_by("line")] == [Decimal("0.5"), 3, 1]
    assert (posting.kind, posting.why, posting.at, posting.by) == ("run", "Job 7", AT, owner)
    assert {movement.kind for movement in posting.movements.all()} == {StockMovement.Kind.USE}


def test_a_lot_somebody_chose_is_taken_first_and_alone_no_other(silver, owner):
    builders.lot(silver, "10", owner, "soon", expires_on_given=today())
    chosen = builders.lot(silver, "2", owner, "late")
    first = used_up(owner, Used(material=silver, amount=Decimal(3), first_lot=chosen.pk, note="the other jar"))
    assert moved(first) == [("late", -2, "the other jar"), ("soon", -1, "the other jar")]
    chosen = builders.lot(silver, "2", owner, "later")
    exactly = used_up(owner, Used(material=silver, amount=Decimal(1), first_lot=chosen.pk))
    assert moved(exactly) == [("later", -1, "")]
    alone = used_up(owner, Used(material=silver, amount=Decimal(1), first_lot=chosen.pk, alone=True))
    assert moved(alone) == [("later", -1, "")]


def test_a_lot_taken_alone_falls_short_alone_and_no_other_is_offered(silver, owner):
    """What was taken of one made-up lot is of that one: neither what is usable nor what is held beside it helps."""
    chosen = builders.lot(silver, "2", owner, "made")
    builders.lot(silver, "10", owner, "other", state="held", hold_reason="label torn")
    builders.lot(silver, "10", owner, "good")
    with pytest.raises(NotEnough) as refused:
        used_up(owner, Used(material=silver, amount=Decimal("2.5"), first_lot=chosen.pk, alone=True))
    assert (refused.value.missing, refused.value.wanted, refused.value.material) == (Decimal("0.5"), Decimal("2.5"), silver)
    assert "Not counted" not in str(refused.value)
    Lot.objects.filter(pk=chosen.pk).update(state="held", hold_reason="cloudy")
    with pytest.raises(NotEnough, match=r"Not counted: lot made \(held: cloudy\); the owner can say"):
        used_up(owner, Used(material=silver, amount=Decimal(1), first_lot=chosen.pk, alone=True))


def test_too_little_names_the_material_what_is_missing_and_what_is_kept_back(silver, owner):
    builders.lot(silver, "5", owner)
    with pytest.raises(NotEnough) as refused:
        used_up(owner, Used(material=silver, amount=Decimal("8.250")))
    assert str(refused.value) == (
        "Silver nitrate: 3.25 g of the 8.25 g used is missing on the usable lots, so nothing was saved. "
        "Receive or count the lot you took it from, or correct the amount, then finish again.")
    assert refused.value.field == f"material-{silver.pk}"
    builders.lot(silver, "1", owner, "old", expires_on_given=yesterday())
    builders.lot(silver, "1", owner, "torn", state="held", hold_reason="label torn")
    emptied = builders.lot(silver, "1", owner, "gone", state="held", hold_reason="empty")
    post(key=builders.key(), kind="discard", by=owner, movements=[
        Movement(lot=emptied, kind="discard", quantity=Decimal(-1), unit_cost=emptied.unit_cost)])
    with pytest.raises(NotEnough) as refused:
        used_up(owner, Used(material=silver, amount=Decimal(8)))
    assert (f"Not counted: lot old (expired on {yesterday():%d %b %Y}); lot torn (held: label torn); "
            "the owner can say why they may be used.") in str(refused.value)
    assert not StockMovement.objects.filter(kind="use").exists()


def test_the_owners_reason_stands_on_what_was_kept_back_and_on_nothing_else(silver, owner, helper):
    builders.lot(silver, "2", owner, "good")
    builders.lot(silver, "5", owner, "old", expires_on_given=yesterday())
    used = Used(material=silver, amount=Decimal(3), note="as chosen")
    with pytest.raises(LedgerError, match="Only the owner can say why") as refused:
        used_up(helper, used, kept_back_because="fresh enough")
    assert refused.value.field == "kept_back_because"
    posting = used_up(owner, used, kept_back_because="r" * 250)
    assert moved(posting) == [("good", -2, "as chosen"), ("old", -1, "r" * 200)]
    with pytest.raises(NotEnough, match="2 g of the 6 g"):
        used_up(owner, Used(material=silver, amount=Decimal(6)), kept_back_because="fresh enough")


def test_a_deduction_sent_again_is_the_first_whatever_it_now_says(silver, owner):
    builders.lot(silver, "5", owner)
    key = builders.key()
    first = used_up(owner, Used(material=silver, amount=Decimal(5)), key=key)
    assert used_up(owner, Used(material=silver, amount=Decimal(50)), key=key) == first
    assert LotLevel.objects.get().on_hand == 0


# Reversing ----------------------------------------------------------------------------------------------------------------

def test_a_reversal_names_each_movement_it_takes_back(silver, owner):
    builders.lot(silver, "2", owner, "a", "4")
    builders.lot(silver, "5", owner, "b", "5")
    posting = used_up(owner, Used(material=silver, amount=Decimal(3)))
    back = reverse(key=builders.key(), by=owner, posting=posting, why="wrong job", at=AT)
    assert (back.kind, back.why, back.at, back.by) == ("reversal", "wrong job", AT, owner)
    assert [(movement.reverses, movement.lot, movement.kind, movement.quantity, movement.unit_cost) for movement in back.movements.order_by("line")] == [
        (movement, movement.lot, "use", -movement.quantity, movement.unit_cost) for movement in posting.movements.order_by("line")]
    with pytest.raises(LedgerError, match="Say why it is reversed") as refused:
        reverse(key=builders.key(), by=owner, posting=posting, why="  ")
    assert refused.value.field == "why"


def test_only_lots_that_can_give_are_locked_and_looked_through(owner, silver):
    """A bottle emptied years ago waits for nobody, and nobody for it."""
    empty = [builders.lot(silver, "10", owner) for _ in range(3)]
    used_up(owner, Used(material=silver, amount=Decimal(30)))
    giving = builders.lot(silver, "10", owner)
    with CaptureQueriesContext(connection) as asked:
        posting = used_up(owner, Used(material=silver, amount=Decimal(4)))
    assert [movement.lot for movement in posting.movements.all()] == [giving]
    locks = [query["sql"] for query in asked if '"inventory_lotlevel"."lot_id" IN (' in query["sql"]]
    assert locks
    assert not any(f"({lot.pk}," in sql or f" {lot.pk}," in sql for sql in locks for lot in empty)
    assert all(f"IN ({giving.pk})" in sql for sql in locks)
