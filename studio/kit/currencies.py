"""What is known of a currency by its ISO 4217 code: whether there is one, its decimals, its sign. No Django."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from functools import cache

from babel import Locale, UnknownLocaleError
from babel.numbers import get_currency_precision, get_currency_symbol, is_currency

from studio.kit.rounding import half_up, places

__all__ = ["decimals", "is_currency", "show_money", "sign"]


def decimals(code: str) -> int:
    """Return how many decimals money of that currency has: 2 for GBP, 0 for JPY, 3 for KWD."""
    return get_currency_precision(code)


@cache
def sign(code: str) -> str:
    """Return the sign that is written where that money is at home: “£”, “$”, “kr”; the code where there is none.

    The first two letters of a code are its country's (ISO 3166), but for the few that are shared, as EUR.
    """
    try:
        home = Locale.parse(f"en_{code[:2]}")
    except (UnknownLocaleError, ValueError):
        home = Locale("en")
    shown = get_currency_symbol(code, home)
    at_home = shown if shown != code else get_currency_symbol(code, "en")
    return at_home.removeprefix(code[:2]) or code if at_home.endswith("$") else at_home


def show_money(value: Fraction, code: str = "", digits: int | None = None) -> str:
    """Return money with its sign and decimals, half up: “£1,116.75”, “−£5.00”, “CHF 12.00”; without a code, bare.

    digits: more decimals than the currency has, for a figure before it is rounded.
    """
    if digits is None:
        digits = decimals(code) if code else 2
    rounded = half_up(value, places(digits))
    mark = sign(code) if code else ""
    space = "\u00a0" if mark[-1:].isalpha() else ""
    figure = Decimal(abs(rounded.numerator)) / Decimal(rounded.denominator)
    return f"{'−' if rounded < 0 else ''}{mark}{space}{figure:,.{digits}f}"
