"""What is asked for and what is open of it, in exact sums: tax by rate, parts of a whole, payments on requests. Pure.

Every part that is taken of a whole is taken from the same rows of tax, and the last part is what the others left: so
the papers' tax sums to the whole's at each rate, whatever was rounded on the way.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from studio.kit.rounding import as_decimal, half_up

NOTHING = Decimal(0)


@dataclass(frozen=True, kw_only=True)
class AtARate:
    """Money at one rate of tax, in the currency. share: of the net, 0.2 for 20 %; name: what the tax is called."""

    name: str
    share: Decimal
    net: Decimal
    tax: Decimal

    @property
    def total(self) -> Decimal:
        return self.net + self.tax


Rows = tuple[AtARate, ...]


def total_of(rows: Iterable[AtARate]) -> Decimal:
    return sum((row.total for row in rows), NOTHING)


def net_of(rows: Iterable[AtARate]) -> Decimal:
    return sum((row.net for row in rows), NOTHING)


def tax_of(rows: Iterable[AtARate]) -> Decimal:
    return sum((row.tax for row in rows), NOTHING)


def summed(papers: Iterable[Iterable[AtARate]]) -> Rows:
    """Return rows summed by name and rate, in the order they are first met; what sums to nothing is left out."""
    sums: dict[tuple[str, Decimal], tuple[Decimal, Decimal]] = {}
    for rows in papers:
        for row in rows:
            net, tax = sums.get((row.name, row.share), (NOTHING, NOTHING))
            sums[row.name, row.share] = net + row.net, tax + row.tax
    return tuple(AtARate(name=name, share=share, net=net, tax=tax)
                 for (name, share), (net, tax) in sums.items() if net or tax)


def less(rows: Rows) -> Rows:
    """Return the opposite of rows."""
    return tuple(AtARate(name=row.name, share=row.share, net=-row.net, tax=-row.tax) for row in rows)


def rest(whole: Rows, *papers: Rows) -> Rows:
    """Return what is left of a whole, by rate: below nothing where more was asked at a rate than the whole has."""
    return summed([whole, *(less(rows) for rows in papers)])


def part(whole: Rows, amount: Decimal, smallest: Fraction) -> Rows:
    """Return an amount as a part of a whole, each rate in its proportion, tax half up to the smallest coin.

    What is left over by rounding is the first rate's. The whole is not nothing; the rows sum to the amount.
    """
    of = Fraction(total_of(whole))
    totals = [half_up(Fraction(amount) * Fraction(row.total) / of, smallest) for row in whole]
    totals[0] += Fraction(amount) - sum(totals, Fraction(0))
    found = []
    for row, total in zip(whole, totals, strict=True):
        tax = half_up(total * Fraction(row.tax) / Fraction(row.total), smallest) if row.total else Fraction(0)
        found.append(AtARate(name=row.name, share=row.share, net=as_decimal(total - tax), tax=as_decimal(tax)))
    return tuple(row for row in found if row.net or row.tax)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A request by its number: its total, below nothing of a credit, which names the number that it takes back."""

    number: int
    total: Decimal
    due_on: date
    credits: int | None = None


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How a request stands: asked, less what was taken back of it and what is paid."""

    asked: Asked
    credited: Decimal
    paid: Decimal

    @property
    def open(self) -> Decimal:
        return self.asked.total - self.credited - self.paid


def standings(asked: Sequence[Asked], paid: Decimal) -> tuple[list[Standing], Decimal]:
    """Return how the requests of a job stand, by number, and what is paid beyond them.

    A credit goes to what it names. What is paid goes to the oldest request first, whatever a payer meant by it.
    """
    credited: dict[int, Decimal] = {}
    for one in asked:
        if one.credits is not None:
            credited[one.credits] = credited.get(one.credits, NOTHING) - one.total
    found, left = [], max(paid, NOTHING)
    for one in sorted((one for one in asked if one.credits is None), key=lambda one: one.number):
        back = credited.get(one.number, NOTHING)
        goes = min(left, one.total - back)
        found.append(Standing(asked=one, credited=back, paid=goes))
        left -= goes
    return found, left
