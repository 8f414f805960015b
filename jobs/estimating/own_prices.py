"""Prices that the owner sets for a line, put in place of the worked-out ones: the last step before tax.

A line's own price is what the customer pays for each pane, net. So it is not rounded up, the minimum charge does not
raise it, and no discount is taken from it; the lines beside it keep their share of the worked-out price, and the
discount is taken from them alone. Formula: price = Σ worked-out lines + Σ own price · quantity, half up to the
currency's decimals line by line; discount = amount + share · Σ worked-out lines; net, tax, deposit from that as ever.
Source: none; what an agreed price means.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from jobs.estimating.basis import Discount, House, LineFacts
from jobs.estimating.price import LineCost, Price, taxed
from jobs.estimating.refusals import EstimateError
from studio.kit.currencies import show_money
from studio.kit.rounding import half_up, places, share_out


@dataclass(frozen=True, kw_only=True)
class LinePrice:
    """What one line comes to, net, in the studio's currency.

    worked_out: of the whole line, before any own price; own_each: the own price of a pane, if it has one; net: what is
    charged for the line; cost: what it costs the studio.
    """

    number: int
    quantity: int
    worked_out: Fraction
    own_each: Fraction | None
    net: Fraction
    cost: Fraction

    @property
    def each(self) -> Fraction:
        return self.net / self.quantity

    @property
    def worked_out_each(self) -> Fraction:
        return self.worked_out / self.quantity

    @property
    def cost_each(self) -> Fraction:
        return self.cost / self.quantity

    @property
    def margin_left(self) -> Fraction | None:
        """Return the share of the net price that is above cost, negative below it; None where nothing is charged."""
        return (self.net - self.cost) / self.net if self.net else None

    @property
    def below_cost(self) -> bool:
        return self.net < self.cost


def with_own_prices(
    price: Price, lines: Sequence[LineFacts], shares: Sequence[Fraction], house: House, discount: Discount
) -> Price:
    """Return the price with every line that has a price of its own at that price; without any, the same price.

    shares: what each line's part of the worked-out price goes by. Raises EstimateError for a discount above what the
    lines without a price of their own come to.
    """
    if all(line.own_price_each is None for line in lines):
        return price
    minor = places(house.minor_digits)
    own = {at: half_up(line.own_price_each * line.quantity, minor)
           for at, line in enumerate(lines) if line.own_price_each is not None}
    before = share_out(price.price, list(shares), minor)
    others = [at for at in range(len(lines)) if at not in own]
    worked_out = sum((before[at] for at in others), Fraction(0))
    taken_off = half_up(discount.amount + discount.share * worked_out, minor)
    if taken_off > worked_out:
        raise EstimateError("discount on own prices", price=show_money(worked_out, house.currency))
    shared = [before[at] for at in others]
    if taken_off:
        shared = share_out(worked_out - taken_off, [shares[at] for at in others], minor)
    nets = own | dict(zip(others, shared, strict=True))
    whole = worked_out + sum(own.values(), Fraction(0))
    return replace(
        taxed(price, whole - taken_off, house), price=whole, discount=taken_off,
        line_prices=tuple(nets[at] for at in range(len(lines))), worked_out_lines=price.line_prices,
        own_prices_change=whole - price.price,
    )


def line_prices(price: Price, lines: Sequence[LineFacts], costs: Sequence[LineCost]) -> list[LinePrice]:
    """Return what each line comes to, in the order of the lines."""
    worked_out = price.worked_out_lines or price.line_prices
    return [
        LinePrice(number=line.number, quantity=line.quantity, worked_out=before, own_each=line.own_price_each, net=net,
                  cost=cost.total)
        for line, before, net, cost in zip(lines, worked_out, price.line_prices, costs, strict=True)
    ]
