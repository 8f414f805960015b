"""From costs to a price: every rounding at its tie, every limit at its edge, and what the paper shows of them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from jobs.estimating.basis import Discount, House
from jobs.estimating.estimate import estimate_basis
from jobs.estimating.output import as_output
from jobs.estimating.price import LineCost, markup_of, price_up
from jobs.estimating.refusals import EstimateError
from studio.house.templatetags.figures import percent
from tests.jobs.estimating.test_worked_cases import DOCUMENT
from tests.worked_cases import basis_of

HOUSE, NONE = House(price_step=Fraction("0.01")), Discount()


def cost(number: int = 1, labour: str = "0", **more: str) -> LineCost:
    kinds = {"chemistry": "0", "overhead": "0", "glass": "0", "bought_in": "0", "rework": "0", "labour": labour, **more}
    return LineCost(number=number, **{name: Fraction(value) for name, value in kinds.items()})


def priced(*labour: str, discount: Discount = NONE, weights: tuple[str, ...] = (), **rates: str):
    """Price lines of so much labour each, by rates given as decimals."""
    rates = {"price_step": "0.01", **rates}
    house = replace(HOUSE, **{name: int(value) if name == "minor_digits" else Fraction(value)
                              for name, value in rates.items()})
    lines = [cost(number, minutes) for number, minutes in enumerate(labour, start=1)]
    return price_up(lines, [Fraction(given) for given in weights or ["1"] * len(labour)], house, discount)


def test_a_line_costs_what_its_kinds_sum_to():
    each = cost(labour="2", chemistry="1", overhead="4", glass="8", bought_in="16", rework="32")
    assert each.total == 63
    found = price_up([each], [Fraction(1)], HOUSE, Discount())
    assert (found.cost, found.price, found.line_prices) == (63, 63, (63,))


@pytest.mark.parametrize(("labour", "step", "price"), [
    ("10.00", "5", "10"), ("10.01", "5", "15"), ("14.99", "5", "15"), ("10.001", "0.01", "10.01"), ("0", "5", "0"),
])
def test_a_price_goes_up_to_the_step(labour, step, price):
    assert priced(labour, price_step=step).price == Fraction(price)


def test_margin_is_on_the_price_and_markup_on_the_cost():
    found = priced("60", margin_share="0.4")
    assert (found.before_rounding, found.price, found.markup_share) == (100, 100, Fraction(2, 3))
    assert found.margin_reached == Fraction(2, 5)
    assert markup_of(Fraction(1, 2)) == 1
    assert priced("0").margin_reached is None
    assert priced("5", margin_share="0").price == 5
    for margin in ("1", "-0.01", "1.5"):
        with pytest.raises(EstimateError, match="at least 0 and below 100"):
            priced("5", margin_share=margin)


def test_what_has_a_markup_of_its_own_goes_by_it_and_not_by_the_margin():
    line = replace(cost(labour="60", bought_in="100"), own_markup_cost=Fraction(100), own_markup_price=Fraction(110))
    found = price_up([line, cost(2, "30")], [Fraction(1)] * 2, replace(HOUSE, margin_share=Fraction(2, 5)), Discount())
    assert (found.cost, found.before_rounding) == (190, 260)  # (190 − 100) ÷ 0.6 + 110


@pytest.mark.parametrize(("minor_digits", "labour", "tax", "total", "deposit"), [
    ("2", "0.10", "0.01", "0.11", "0.06"),      # tax 0.005, deposit 0.055
    ("2", "0.30", "0.02", "0.32", "0.16"),      # tax 0.015
    ("0", "10", "1", "11", "6"),                # tax 0.5, deposit 5.5
    ("3", "0.010", "0.001", "0.011", "0.006"),  # tax 0.0005, deposit 0.0055
])
def test_tax_and_deposit_are_half_up_to_the_minor_unit(minor_digits, labour, tax, total, deposit):
    found = priced(labour, tax_share="0.05", deposit_share="0.5", minor_digits=minor_digits, price_step=labour)
    assert (found.tax, found.total, found.deposit) == (Fraction(tax), Fraction(total), Fraction(deposit))
    hair = "0.0499999"
    assert priced(labour, tax_share=hair, minor_digits=minor_digits, price_step=labour).tax < found.tax
    assert [priced("0.10", deposit_share=share).deposit for share in ("0.54", "0.55")] == [Fraction("0.05"), Fraction("0.06")]


@pytest.mark.parametrize(("discount", "off"), [
    (Discount(share=Fraction("0.05")), "0.02"),      # 0.015
    (Discount(share=Fraction("0.0499")), "0.01"),    # 0.01497
    (Discount(amount=Fraction("0.105")), "0.11"),
    (Discount(amount=Fraction("0.30")), "0.30"),
    (Discount(), "0"),
])
def test_a_discount_is_half_up_to_the_minor_unit(discount, off):
    found = priced("0.30", discount=discount, tax_share="0.5")
    assert (found.discount, found.net) == (Fraction(off), Fraction("0.30") - Fraction(off))
    assert found.total == found.net + found.tax


@pytest.mark.parametrize("discount", [
    Discount(amount=Fraction("10.01")), Discount(amount=Fraction("-0.01")), Discount(share=Fraction("1.1")),
])
def test_a_discount_is_neither_more_than_the_price_nor_less_than_nothing(discount):
    with pytest.raises(EstimateError, match=r"more than the price of €10\.00\.$") as refused:
        priced("10", discount=discount)
    assert refused.value.field == "discount"


def test_a_discount_may_take_all():
    found = priced("10", discount=Discount(share=Fraction(1)), tax_share="0.2")
    assert (found.net, found.total, found.line_prices, found.margin_reached) == (0, 0, (0,), None)


@pytest.mark.parametrize(("minimum", "off", "net", "below"), [
    ("50", "0", "50", False),        # raised to the minimum charge
    ("50", "0.01", "49.99", True),   # and a discount takes it below again
    ("9.99", "0.01", "9.99", False),  # down to just the minimum
    ("10", "0", "10", False), ("0", "10", "0", False),
])
def test_below_the_minimum_charge_is_what_a_discount_makes_of_it(minimum, off, net, below):
    found = priced("10", minimum_charge=minimum, discount=Discount(amount=Fraction(off)))
    assert (found.net, found.below_minimum) == (Fraction(net), below)


@pytest.mark.parametrize(("labour", "weights", "price", "shares"), [
    (("1", "1", "1"), (), "1.00", ("0.34", "0.33", "0.33")),            # ties to the earlier
    (("1", "2", "1"), (), "0.10", ("0.03", "0.05", "0.02")),            # 0.025, 0.05, 0.025
    (("2", "1"), (), "0.01", ("0.01", "0")),                            # the largest remainder
    (("1", "2"), (), "0.01", ("0", "0.01")),
    (("0", "0"), ("1", "3"), "0.10", ("0.03", "0.07")),                 # nothing costs: by area, 0.025 and 0.075
    (("0", "5"), ("3", "1"), "10.00", ("0", "10")),
])
def test_line_prices_sum_to_the_net_by_largest_remainders(labour, weights, price, shares):
    found = priced(*labour, weights=weights, minimum_charge="100", discount=Discount(amount=100 - Fraction(price)))
    assert found.net == Fraction(price)
    assert found.line_prices == tuple(Fraction(share) for share in shares)


def test_an_estimate_is_written_to_nine_places_half_up():
    """`output.py`: a tie at the tenth place, in the share of margin reached and in the cost."""
    basis = basis_of(DOCUMENT["cases"][0]["given"])
    estimate = estimate_basis(basis)
    tied = replace(estimate, price=replace(estimate.price, cost=Fraction("0.0000000005"), margin_reached=Fraction("0.1234567895")))
    written = as_output(tied)["price"]
    assert (written["cost"], written["margin_reached_share"]) == ("0.000000001", "0.12345679")
    assert percent(written["margin_reached_share"]) == "12.3 %"
