"""From costs to a price: margin on price, minimum charge, rounding up, discount, tax, deposit and line prices.

Formula: P = ⌈max((C − own)/(1 − m) + own with mark-up, minimum) / step⌉·step; net = P − discount; tax = net·t and
deposit = total·d, each half up to the currency's decimals (ISO 4217); line prices share the net by cost (largest
remainders; Balinski and Young, Fair Representation). Source: margin on price, any costing handbook.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from jobs.estimating.basis import Discount, House
from jobs.estimating.refusals import EstimateError
from studio.kit.currencies import show_money
from studio.kit.rounding import half_up, places, round_up, share_out


@dataclass(frozen=True, kw_only=True)
class LineCost:
    """What one line costs the studio, by kind.

    own_markup_cost: of bought_in, what has a mark-up of its own; own_markup_price: with that mark-up.
    """

    number: int
    chemistry: Fraction
    labour: Fraction
    overhead: Fraction
    glass: Fraction
    bought_in: Fraction
    rework: Fraction
    own_markup_cost: Fraction = Fraction(0)
    own_markup_price: Fraction = Fraction(0)

    @property
    def total(self) -> Fraction:
        return self.chemistry + self.labour + self.overhead + self.glass + self.bought_in + self.rework


@dataclass(frozen=True, kw_only=True)
class Price:
    """The price, step by step, in the studio's currency.

    own_prices_change: what lines with a price of their own add to the price, or take from it; worked_out_lines: what
    the lines came to before, net, empty where none has a price of its own (`own_prices`).
    """

    cost: Fraction
    before_rounding: Fraction
    price: Fraction
    discount: Fraction
    net: Fraction
    tax: Fraction
    total: Fraction
    deposit: Fraction
    line_prices: tuple[Fraction, ...]
    markup_share: Fraction
    margin_reached: Fraction | None
    below_minimum: bool
    own_prices_change: Fraction = Fraction(0)
    worked_out_lines: tuple[Fraction, ...] = ()


def markup_of(margin_share: Fraction) -> Fraction:
    """Return the mark-up on cost that equals a margin on price: m / (1 − m)."""
    return margin_share / (1 - margin_share)


def price_up(costs: Sequence[LineCost], weights: Sequence[Fraction], house: House, discount: Discount) -> Price:
    """Price an order.

    weights: n·A per line, in m², which shares the net when every line cost is zero.
    Raises EstimateError for a margin out of range or a discount above the price.
    """
    if not 0 <= house.margin_share < 1:
        raise EstimateError("margin out of range")
    minor = places(house.minor_digits)
    cost = sum((line.total for line in costs), Fraction(0))
    own_markup_cost = sum((line.own_markup_cost for line in costs), Fraction(0))
    marked_up = sum((line.own_markup_price for line in costs), Fraction(0))
    before = (cost - own_markup_cost) / (1 - house.margin_share) + marked_up
    price = round_up(max(before, house.minimum_charge), house.price_step)
    taken_off = half_up(discount.amount + discount.share * price, minor)
    if not 0 <= taken_off <= price:
        raise EstimateError("discount above the price", price=show_money(price, house.currency))
    net = price - taken_off
    nothing = Fraction(0)
    return taxed(Price(
        cost=cost, before_rounding=before, price=price, discount=taken_off, net=net, tax=nothing, total=nothing,
        deposit=nothing, line_prices=tuple(share_out(net, line_shares(costs, weights), minor)),
        markup_share=markup_of(house.margin_share), margin_reached=None, below_minimum=False,
    ), net, house)


def line_shares(costs: Sequence[LineCost], weights: Sequence[Fraction]) -> list[Fraction]:
    """Return what a price is shared among the lines by: their costs, or n·A where every cost is zero."""
    by_cost = [line.total for line in costs]
    return by_cost if any(by_cost) else list(weights)


def taxed(price: Price, net: Fraction, house: House) -> Price:
    """Return the price with this net: its tax, total, deposit, the margin it reaches and whether it is too low."""
    minor = places(house.minor_digits)
    tax = half_up(net * house.tax_share, minor)
    total = net + tax
    return replace(
        price, net=net, tax=tax, total=total, deposit=half_up(total * house.deposit_share, minor),
        margin_reached=(net - price.cost) / net if net else None, below_minimum=net < house.minimum_charge,
    )
