"""What is known of a currency by its ISO 4217 code: whether there is one, its decimals, its sign. No Django."""

from __future__ import annotations

from babel import Locale, UnknownLocaleError
from babel.numbers import get_currency_precision, get_currency_symbol, is_currency

__all__ = ["decimals", "is_currency", "sign"]


def decimals(code: str) -> int:
    """Return how many decimals money of that currency has: 2 for GBP, 0 for JPY, 3 for KWD."""
    return get_currency_precision(code)


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
