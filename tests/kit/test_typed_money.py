"""Money as people write it: what a field shows it reads, and thousands are never taken for decimals."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis.strategies import decimals, sampled_from

from studio.kit.typed_money import NoMoney, read_money, show_typed_money


@given(value=decimals("-9999999", "9999999", places=4), code=sampled_from(["GBP", "USD", "EUR", "JPY", "KWD", "CHF", "SEK"]))
def test_what_a_field_shows_it_reads(value, code):
    assert read_money(show_typed_money(Fraction(value), code), [code]) == value


@pytest.mark.parametrize(("typed", "value"), [
    ("£1,250.50", "1250.50"), ("1250", "1250"), ("1 250,50", "1250.50"), ("1.250,50", "1250.50"), ("GBP 12", "12"), ("12 gbp", "12"),
    (".5", "0.5"), ("12,5", "12.5"), ("0,125", "0.125"), ("1,250", "1250"), ("−£5", "-5"), ("£ 1,250,000", "1250000"),
])
def test_how_people_write_pounds(typed, value):
    assert read_money(typed, ["GBP"]) == Decimal(value)


@pytest.mark.parametrize(("typed", "said"), [
    ("1.250", "may be 1.25 or 1,250"), ("$5", "not in the studio's currency, GBP"), ("12,", "not understood as money"),
    ("1,25,0", "not understood as money"), ("about 5", "not in the studio's currency"), ("--5", "not understood"), ("-£-5", "not understood"),
])
def test_what_is_not_sure_is_refused_in_words(typed, said):
    with pytest.raises(NoMoney, match=said):
        read_money(typed, lambda: "GBP")


def test_three_decimals_are_decimals_where_the_currency_has_three():
    assert read_money("1.250", ["KWD"]) == Decimal("1.25")
