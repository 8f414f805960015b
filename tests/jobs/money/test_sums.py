"""The sums of requests: parts of a whole, what they leave, and payments on them. Nothing is lost in a rounding."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from jobs.money.sums import Asked, AtARate, less, net_of, part, rest, standings, summed, tax_of, total_of

CENT = Fraction(1, 100)
cents = st.integers(1, 5_000_00).map(lambda amount: Decimal(amount) / 100)
shares = st.sampled_from([Decimal(text) for text in ("0", "0.05", "0.077", "0.2", "0.25")])


@st.composite
def wholes(draw):
    rows = []
    for at, share in enumerate(draw(st.lists(shares, min_size=1, max_size=3, unique=True))):
        net = draw(cents)
        tax = Decimal(int(net * share * 100)) / 100
        rows.append(AtARate(name=f"tax {at}", share=share, net=net, tax=tax))
    return tuple(rows)


@given(wholes(), st.lists(st.integers(1, 60), max_size=5), st.data())
def test_deposits_credits_and_balance_are_the_whole_at_every_rate(whole, percents, data):
    """Given a whole and some parts of it, some taken back; when the balance is what they leave; then all tie."""
    papers, agreed = [], total_of(whole)
    for percent in percents:
        amount = Decimal(int(agreed * percent)) / 100
        if 0 < amount <= total_of(rest(whole, *papers)):
            one = part(whole, amount, CENT)
            assert total_of(one) == amount
            assert net_of(one) + tax_of(one) == amount
            assert all((Fraction(row.net) / CENT).denominator == (Fraction(row.tax) / CENT).denominator == 1 for row in one)
            papers.append(one)
            if data.draw(st.booleans()):
                papers.append(less(one))
    papers.append(rest(whole, *papers))
    assert total_of(summed(papers)) == agreed
    assert sorted((row.name, row.net, row.tax) for row in summed(papers)) == sorted((row.name, row.net, row.tax) for row in whole)


@given(wholes(), cents)
def test_the_tax_of_a_part_is_at_most_a_coin_from_its_share(whole, amount):
    one = part(whole, min(amount, total_of(whole)), CENT)
    exact = Fraction(total_of(one)) * Fraction(tax_of(whole)) / Fraction(total_of(whole))
    assert abs(Fraction(tax_of(one)) - exact) <= CENT * 2 * len(whole)


@given(st.lists(st.tuples(cents, st.integers(0, 100)), min_size=1, max_size=6), st.integers(0, 8_000_00))
def test_what_is_paid_goes_to_the_oldest_request_and_none_of_it_is_lost(requests, paid):
    """Given requests, each taken back by a share; then paid, open and beyond are all that was asked and paid."""
    asked, number = [], 0
    for total, back in requests:
        number += 1
        first = number
        asked.append(Asked(number=first, total=total, due_on=date(2026, 1, 1)))
        credit = Decimal(int(total * back)) / 100
        if credit:
            number += 1
            asked.append(Asked(number=number, total=-credit, due_on=date(2026, 1, 1), credits=first))
    came_in = Decimal(paid) / 100
    found, beyond = standings(asked, came_in)
    assert sum(one.paid for one in found) + beyond == came_in
    assert sum(one.open for one in found) == sum(one.total for one in asked) - sum(one.paid for one in found)
    assert all(one.open >= 0 and one.paid >= 0 for one in found)
    unpaid = [one.open > 0 for one in found if one.asked.total > one.credited]
    assert unpaid == sorted(unpaid)  # once one is open, every later one is
    assert beyond == 0 or not any(unpaid)
