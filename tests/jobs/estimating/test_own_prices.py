"""A line's own price: what the customer pays for each pane, in place of the worked-out price, worked by hand and at large."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.estimating.basis import Discount, House, LineFacts
from jobs.estimating.estimate import estimate_basis
from jobs.estimating.own_prices import line_prices, with_own_prices
from jobs.estimating.price import LineCost, Price, line_shares, price_up
from jobs.estimating.refusals import EstimateError
from jobs.frozen import freeze, thaw
from jobs.quotes.frozen_plan import faults_within, freeze_plan, thaw_plan
from tests.jobs.estimating.test_price import cost
from tests.jobs.estimating.test_worked_cases import _by_hand

HOUSE = House(price_step=Fraction(5), margin_share=Fraction("0.5"), tax_share=Fraction("0.2"),
              deposit_share=Fraction("0.5"), minimum_charge=Fraction(100))

NONE = Discount()


def line(number: int, own: str | None, quantity: int = 1) -> LineFacts:
    return LineFacts(number=number, shape="rectangle", width_mm=Fraction(300), height_mm=Fraction(300),
                     quantity=quantity, recipe="r", glass="g", edge="e",
                     own_price_each=None if own is None else Fraction(own))


def priced(*rows: tuple[str, str | None, int], discount: Discount = NONE, house: House = HOUSE) -> tuple[
    Price, Price, list[LineFacts], list[LineCost]
]:
    """Price lines of (cost, own price, quantity): as worked out, with own prices, and the lines and costs themselves."""
    lines = [line(at, own, quantity) for at, (_, own, quantity) in enumerate(rows, start=1)]
    costs = [cost(at, labour) for at, (labour, _, _) in enumerate(rows, start=1)]
    weights = [Fraction(1)] * len(rows)
    worked_out = price_up(costs, weights, house, discount)
    own = with_own_prices(worked_out, lines, line_shares(costs, weights), house, discount)
    return worked_out, own, lines, costs


def test_an_own_price_stands_in_place_of_the_worked_out_one_by_hand():
    """Costs 60 and 41 come to 202, up to 205: 121.78 and 83.22. The second, two panes, is sold at 50 each."""
    worked_out, found, lines, costs = priced(("60", None, 1), ("41", "50", 2))
    assert worked_out.line_prices == (Fraction("121.78"), Fraction("83.22"))
    assert found.line_prices == (Fraction("121.78"), 100)
    assert (found.price, found.discount, found.net) == (Fraction("221.78"), 0, Fraction("221.78"))
    assert (found.tax, found.total, found.deposit) == (Fraction("44.36"), Fraction("266.14"), Fraction("133.07"))
    assert found.own_prices_change == Fraction("16.78")
    first, second = line_prices(found, lines, costs)
    assert (first.own_each, first.net, first.worked_out) == (None, Fraction("121.78"), Fraction("121.78"))
    assert (second.each, second.worked_out_each, second.margin_left) == (50, Fraction("41.61"), Fraction("0.59"))
    assert not second.below_cost


def test_a_discount_is_taken_from_the_other_lines_alone_by_hand():
    """10 % of 121.78 is 12.18; an amount of 20 is taken whole, and of lines that come to less it is refused."""
    _, share, _, _ = priced(("60", None, 1), ("41", "50", 2), discount=Discount(share=Fraction("0.1")))
    assert (share.discount, share.line_prices) == (Fraction("12.18"), (Fraction("109.60"), 100))
    _, amount, _, _ = priced(("60", None, 1), ("41", "50", 2), discount=Discount(amount=Fraction(20)))
    assert (amount.discount, amount.line_prices, amount.net) == (20, (Fraction("101.78"), 100), Fraction("201.78"))
    with pytest.raises(EstimateError, match=r"without a price of their own, and they come to €121\.78"):
        priced(("60", None, 1), ("41", "50", 2), discount=Discount(amount=Fraction(122)))
    with pytest.raises(EstimateError, match=r"they come to €0\.00"):
        priced(("60", "70", 1), discount=Discount(share=Fraction("0.1"), amount=Fraction(1)))


def test_an_own_price_may_fall_below_cost_and_below_the_minimum_charge_and_both_are_seen():
    _, found, lines, costs = priced(("60", "59.99", 1))
    [only] = line_prices(found, lines, costs)
    assert only.below_cost
    assert found.below_minimum
    assert found.margin_reached == Fraction("-0.01") / Fraction("59.99")
    _, given_away, lines, costs = priced(("60", "0", 1))
    [gift] = line_prices(given_away, lines, costs)
    assert (given_away.total, gift.margin_left, gift.below_cost) == (0, None, True)


def test_an_own_price_finer_than_the_currency_is_rounded_once_for_the_line():
    _, found, _, _ = priced(("60", "33.335", 3))
    assert found.line_prices == (Fraction("100.01"),)


money = st.decimals("0", "900", places=2).map(str)
rows = st.lists(st.tuples(money, st.none() | money, st.integers(1, 9)), min_size=1, max_size=6)
discounts = st.builds(Discount, share=st.sampled_from([Fraction(0), Fraction("0.07"), Fraction(1)]))


@given(rows, discounts)
def test_the_total_is_the_sum_of_its_parts_and_own_prices_are_charged_as_set(given_rows, discount):
    worked_out, found, lines, costs = priced(*given_rows, discount=discount)
    assert sum(found.line_prices) == found.net == found.price - found.discount
    assert found.net + found.tax == found.total
    assert found.price == worked_out.price + found.own_prices_change
    for row, price in zip(lines, line_prices(found, lines, costs), strict=True):
        if row.own_price_each is not None:
            assert price.net == row.own_price_each * row.quantity
    if not discount.share:  # nothing is taken off: the other lines are what they were
        for row, before, after in zip(lines, worked_out.line_prices, found.line_prices, strict=True):
            assert row.own_price_each is not None or before == after


@given(rows, discounts)
def test_without_an_own_price_nothing_changes(given_rows, discount):
    worked_out, found, _, _ = priced(*((labour, None, count) for labour, _, count in given_rows), discount=discount)
    assert found == worked_out


def test_a_frozen_quote_keeps_its_own_prices_and_one_without_is_written_as_before():
    plain = estimate_basis(_by_hand())
    assert "own_prices_change" not in freeze_plan(plain)["price"]
    lines = tuple(replace(row, own_price_each=Fraction("29.99")) for row in plain.basis.lines)
    own = estimate_basis(replace(plain.basis, lines=lines))
    read = thaw_plan(freeze_plan(own), thaw(freeze(own.basis), type(own.basis)))
    assert read.estimate.price == own.price
    assert read.estimate.line_prices[0].own_each == Fraction("29.99")
    assert list(faults_within(read)) == []
    assert own.costs == plain.costs
