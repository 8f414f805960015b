"""First expired, first out: which lots an amount is taken from."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.stockroom.picking import LotOnShelf, Shelf, pick

DAY = date(2026, 6, 1)


def on_shelf(lot_id, on_hand="10", **more):
    values = {"expires_on": None, "opened_on": None, "received_on": DAY, **more}
    return LotOnShelf(lot_id=lot_id, lot_number=f"L{lot_id}", on_hand=Decimal(on_hand), **values)


def taken(picks):
    return [(pick.lot_id, pick.lot_number, pick.amount) for pick in picks]


@pytest.mark.parametrize(("lot", "usable", "why_not"), [
    (on_shelf(1), True, ""), (on_shelf(1, "0.001"), True, ""), (on_shelf(1, "0"), False, "used up"),
    (on_shelf(1, expires_on=DAY + timedelta(1)), True, ""), (on_shelf(1, expires_on=DAY), True, ""),
    (on_shelf(1, expires_on=DAY - timedelta(1)), False, "expired on 31 May 2026"),
    (on_shelf(1, held=True, hold_reason="label torn"), False, "held: label torn"),
    (on_shelf(1, "0", held=True, hold_reason="label torn", expires_on=DAY - timedelta(9)), False, "held: label torn"),
    (on_shelf(1, "0", expires_on=DAY - timedelta(1)), False, "expired on 31 May 2026"),
])
def test_a_lot_is_usable_or_says_why_not(lot, usable, why_not):
    assert (lot.usable_on(DAY), lot.why_not(DAY)) == (usable, why_not)


@pytest.mark.parametrize(("amount", "picked", "missing"), [
    ("0", [], "0"), ("0.001", [(2, "L2", "0.001")], "0"), ("4", [(2, "L2", "4")], "0"),
    ("4.001", [(2, "L2", "4"), (1, "L1", "0.001")], "0"), ("14", [(2, "L2", "4"), (1, "L1", "10")], "0"),
    ("14.5", [(2, "L2", "4"), (1, "L1", "10")], "0.5"),
])
def test_a_lot_is_emptied_before_the_next_is_opened(amount, picked, missing):
    lots = [on_shelf(1), on_shelf(2, "4", expires_on=DAY)]
    picks, left = pick(Decimal(amount), lots, DAY)
    assert taken(picks) == [(lot, number, Decimal(amount)) for lot, number, amount in picked]
    assert left == Decimal(missing)


def test_lots_alike_in_all_are_taken_as_they_were_entered_and_an_opened_one_first():
    assert [chosen.lot_id for chosen in pick(Decimal(30), [on_shelf(3), on_shelf(1), on_shelf(2, opened_on=DAY)], DAY)[0]] == [2, 1, 3]


EARLIER, LATER = DAY - timedelta(5), DAY + timedelta(5)


@pytest.mark.parametrize(("first", "other"), [
    pytest.param(on_shelf(2, expires_on=LATER), on_shelf(1, expires_on=LATER + timedelta(1), opened_on=EARLIER, received_on=EARLIER),
                 id="expires sooner"),
    pytest.param(on_shelf(2, expires_on=LATER), on_shelf(1, opened_on=EARLIER, received_on=EARLIER), id="expires at all"),
    pytest.param(on_shelf(2, expires_on=LATER, opened_on=DAY), on_shelf(1, expires_on=LATER, received_on=EARLIER), id="is open"),
    pytest.param(on_shelf(2, received_on=EARLIER), on_shelf(1), id="was received earlier"),
    pytest.param(on_shelf(1), on_shelf(2), id="was entered first"),
])
def test_given_two_lots_when_one_is_chosen_then_each_rule_goes_before_all_that_follow_it(first, other):
    """Every rule after the one that decides speaks for the other lot."""
    for shelf in ([first, other], [other, first]):
        assert taken(pick(Decimal(1), shelf, DAY)[0]) == [(first.lot_id, first.lot_number, 1)]


def test_kept_back_lots_come_after_all_usable_ones_and_empty_ones_never():
    """What the owner allows is taken in the same order: first expired, first out."""
    lots = [on_shelf(1, "0", held=True), on_shelf(2, "0.5", held=True), on_shelf(3, "2", expires_on=DAY - timedelta(3)),
            on_shelf(4, "2")]
    assert taken(pick(Decimal(9), lots, DAY, kept_back_too=True)[0]) == [(4, "L4", 2), (3, "L3", 2), (2, "L2", Decimal("0.5"))]
    assert pick(Decimal(9), lots, DAY)[1] == 7


@given(st.lists(st.integers(0, 20), max_size=5), st.lists(st.integers(0, 30), min_size=1, max_size=6))
def test_a_shelf_picked_from_in_turn_gives_what_it_gives_at_once(on_hand, wanted):
    """Several picks in a row take the same from each lot as one pick of their sum, and are short of as much."""
    lots = [on_shelf(number, str(amount)) for number, amount in enumerate(on_hand)]
    shelf, by_lot, short = Shelf(lots, DAY), dict.fromkeys(range(len(lots)), Decimal(0)), Decimal(0)
    for amount in wanted:
        picks, missing = shelf.take(Decimal(amount))
        short += missing
        for each in picks:
            by_lot[each.lot_id] += each.amount
    at_once, missing_at_once = pick(Decimal(sum(wanted)), lots, DAY)
    assert short == missing_at_once
    assert {lot: amount for lot, amount in by_lot.items() if amount} == {chosen.lot_id: chosen.amount for chosen in at_once}


def test_a_shelf_knows_its_day():
    late = Shelf([on_shelf(1, expires_on=DAY - timedelta(1)), on_shelf(2, "3")], DAY)
    assert taken(late.take(Decimal(2))[0]) == [(2, "L2", 2)]
    picks, short = late.take(Decimal(2))
    assert (taken(picks), short) == ([(2, "L2", 1)], 1)
