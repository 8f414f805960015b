"""Exact arithmetic: fractions in, named roundings out. No Django, no floats.

π and square roots are taken to 40 significant digits, so that every rounding
that follows has one right answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Context, Decimal, localcontext
from fractions import Fraction

#: π to 40 significant digits (any table of constants; checked against mpmath-free series in the tests).
PI = Fraction(Decimal("3.141592653589793238462643383279502884197"))
_FORTY_DIGITS = Context(prec=40)


def square_root(value: Fraction) -> Fraction:
    """Return the square root of a fraction, to 40 significant digits."""
    with localcontext(_FORTY_DIGITS):
        return Fraction((Decimal(value.numerator) / Decimal(value.denominator)).sqrt())


def half_up(value: Fraction, step: Fraction) -> Fraction:
    """Round to the nearest multiple of step; halves go away from zero."""
    whole = (abs(value) / step + Fraction(1, 2)).__floor__() * step
    return whole if value >= 0 else -whole


def round_up(value: Fraction, step: Fraction) -> Fraction:
    """Round up to the next multiple of step."""
    return (value / step).__ceil__() * step


def round_down(value: Fraction, step: Fraction) -> Fraction:
    """Round down to a multiple of step."""
    return (value / step).__floor__() * step


def places(digits: int) -> Fraction:
    """Return the rounding step of so many decimal places: places(3) is 1/1000."""
    return Fraction(1, 10**digits)


def share_out(amount: Fraction, weights: Sequence[Fraction], unit: Fraction) -> list[Fraction]:
    """Share an amount in proportion to weights, in whole units, so that the shares sum to it.

    Each share is rounded down; the units left go to the largest remainders, ties to the
    earlier (Hamilton's method; Balinski and Young, Fair Representation).
    """
    whole = sum(weights, Fraction(0))
    exact = [amount * weight / whole for weight in weights]
    shares = [round_down(share, unit) for share in exact]
    left = int((amount - sum(shares, Fraction(0))) / unit)
    by_remainder = sorted(range(len(shares)), key=lambda at: (shares[at] - exact[at], at))
    for at in by_remainder[:left]:
        shares[at] += unit
    return shares


def plain(value: Decimal) -> str:
    """Return a Decimal as it is typed: no exponent, no trailing zeros."""
    return f"{value.normalize():f}"


def as_decimal(value: Fraction, digits: int = 9) -> Decimal:
    """Return a fraction as a Decimal, half up to the given places, without trailing zeros."""
    scaled = half_up(value, places(digits)) * 10**digits
    sign, number = (1, -scaled.numerator) if scaled < 0 else (0, scaled.numerator)
    figure = Decimal((sign, tuple(int(digit) for digit in str(number)), -digits))
    with localcontext(Context(prec=60)):
        return figure.normalize() + Decimal(0)


def decimal_string(value: Fraction, digits: int = 9) -> str:
    """Return a fraction as a plain decimal string, half up to the given places, no trailing zeros."""
    return format(as_decimal(value, digits), "f")
