"""What is in a price, as pictures: bars with their places in a drawing. Pure: no Django.

Every picture has its figures beside it in words: nothing is shown by a picture alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.estimate import Estimate
from jobs.estimating.price_contents import PriceContents
from studio.kit.rounding import decimal_string

WIDE, BAR, ROW = 600, 26, 40


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One bar: from `x` so wide, in row `y`; share is of the whole, or of the largest."""

    name: str
    amount: Fraction
    x: str
    width: str
    y: str
    middle_y: str
    marked: bool = False


@dataclass(frozen=True, kw_only=True)
class Picture:
    title: str
    bars: list[Bar]
    width: int
    height: int


def _place(value: Fraction) -> str:
    return decimal_string(value, 1)


def cost_build_up(estimate: Estimate) -> Picture:
    """Return the price from the bottom up: each kind of cost, then what comes on top, as steps of a stair."""
    def total(kind: str) -> Fraction:
        return sum((getattr(cost, kind) for cost in estimate.costs), Fraction(0))

    rows = [(name, total(kind)) for name, kind in (
        ("Chemistry", "chemistry"), ("Glass", "glass"), ("Labour", "labour"), ("Overhead", "overhead"),
        ("Bought in", "bought_in"), ("Rework", "rework"),
    )]
    rows += [
        ("Margin and rounding", estimate.price.price - estimate.price.own_prices_change - estimate.price.cost),
        ("Own prices", estimate.price.own_prices_change), ("Discount", -estimate.price.discount),
    ]
    most = max(estimate.price.price, estimate.price.cost, estimate.price.net, Fraction(1))
    bars: list[Bar] = []
    at = Fraction(0)
    for name, amount in ((name, amount) for name, amount in rows if amount):
        low, high = sorted((at, at + amount))
        bars.append(_bar(name, amount, max(low, Fraction(0)), high - max(low, Fraction(0)), most, len(bars)))
        at += amount
    bars.append(_bar("Net price", estimate.price.net, Fraction(0), estimate.price.net, most, len(bars), marked=True))
    return _picture("From cost to price", bars)


def price_by_quantity(estimate: Estimate, contents: PriceContents) -> Picture:
    """Return the net price of one ordered pane at other quantities."""
    ordered = sum(line.quantity for line in estimate.basis.lines)
    prices = {Fraction(1): estimate.price.net} | {
        Fraction(factor): price for factor, price in contents.prices_by_factor.items() if price is not None
    }
    each = {
        factor: price / sum(max((line.quantity * factor).__ceil__(), 1) for line in estimate.basis.lines)
        for factor, price in sorted(prices.items())
    }
    most = max(each.values())
    return _picture("Net price of one pane, by how many are ordered", [
        _bar(f"{decimal_string(factor, 2)} ×, {max((ordered * factor).__ceil__(), 1)} panes", price, Fraction(0), price,
             most, at, marked=factor == 1)
        for at, (factor, price) in enumerate(each.items())
    ])


def price_by_silver(estimate: Estimate, contents: PriceContents) -> Picture:
    """Return the net price as silver gets cheaper or dearer; all else stays."""
    prices = {Fraction(1): estimate.price.net} | {
        Fraction(factor): price for factor, price in contents.prices_by_silver.items() if price is not None
    }
    most = max(prices.values())
    return _picture("Net price, by the price of silver", [
        _bar("today's" if factor == 1 else f"{decimal_string((factor - 1) * 100, 0)} %".replace("-", "−"), price,
             Fraction(0), price, most, at, marked=factor == 1)
        for at, (factor, price) in enumerate(sorted(prices.items()))
    ])


def cost_band_picture(estimate: Estimate, contents: PriceContents) -> Picture:
    """Return cost where one in ten is cheaper and where one in ten is dearer, beside the cost and the net price."""
    rows = [("One in ten below", contents.band_low), ("Cost as worked out", estimate.price.cost),
            ("One in ten above", contents.band_high), ("Net price", estimate.price.net)]
    most = max(amount for _, amount in rows)
    return _picture("What it may cost", [
        _bar(name, amount, Fraction(0), amount, most, at, marked=name == "Net price")
        for at, (name, amount) in enumerate(rows)
    ])


def pictures_of(estimate: Estimate, contents: PriceContents) -> list[Picture]:
    found = [cost_build_up(estimate), price_by_quantity(estimate, contents), cost_band_picture(estimate, contents)]
    return [*found, price_by_silver(estimate, contents)] if contents.prices_by_silver else found


def _bar(
    name: str, amount: Fraction, low: Fraction, extent: Fraction, most: Fraction, row: int, *, marked: bool = False
) -> Bar:
    scale = Fraction(WIDE) / (most or 1)
    return Bar(
        name=name, amount=amount, x=_place(low * scale), width=_place(max(extent * scale, Fraction(1))),
        y=str(row * ROW + ROW - BAR), middle_y=str(row * ROW + ROW - BAR // 2), marked=marked,
    )


def _picture(title: str, bars: list[Bar]) -> Picture:
    return Picture(title=title, bars=bars, width=WIDE, height=len(bars) * ROW + 6)
