"""Money as people write it: “£1,250.50”, “1 250,50 €”, “GBP 1250”. Pure: no Django."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from decimal import Decimal
from fractions import Fraction

from studio.kit.currencies import decimals, show_money, sign
from studio.kit.errors import DaybookError
from studio.kit.rounding import decimal_string
from studio.kit.typed_numbers import TOO_MUCH, NoNumber, bounded, read_decimal

_WITH_MARK = re.compile(
    r"(?P<minus>[−-]?)\s*(?P<before>[^\d.,−\s-]*)\s*(?P<then>[−-]?)\s*"
    r"(?P<figure>\d[\d\s.,'’]*|[.,]\d+)\s*(?P<after>[^\d.,]*)"
)
_GROUPED_BY_COMMA = re.compile(r"[1-9]\d{0,2}(,\d{3})+(\.\d+)?")
_GROUPED_BY_POINT = re.compile(r"[1-9]\d{0,2}((\.\d{3}){2,}(,\d+)?|\.\d{3},\d+)")
_GROUPED_BY_SPACE = re.compile(r"[1-9]\d{0,2}([ '’]\d{3})+([.,]\d+)?")
_TWO_WAYS = re.compile(r"[1-9]\d{0,2}\.\d{3}")
_PLAIN = re.compile(r"\d*([.,]\d+)?")


TOO_MUCH_MONEY = "That is too much money to be meant."


class NoMoney(DaybookError, ValueError):
    """What was typed is no money, or money of another currency."""


def read_money(text: str, codes: Sequence[str] | Callable[[], str]) -> Decimal:
    """Return an amount of money. Raises NoMoney.

    codes: the currencies whose sign or code may stand beside it; a function, where they are only asked for when one
    does. “1,250” is twelve hundred and fifty, since this book writes thousands so; “1250,50” has a decimal comma;
    “1.250” could be either, but of a currency of three decimals.
    """
    try:
        bounded(text)
    except NoNumber as refusal:
        raise NoMoney(str(refusal)) from refusal
    bare = " ".join(text.replace("\u00a0", " ").replace("\u202f", " ").split())
    found = _WITH_MARK.fullmatch(bare)
    if found is None:
        raise NoMoney(_sentence(text))
    marks = [mark.strip() for mark in (found["before"], found["after"]) if mark.strip()]
    if marks:
        known = [codes()] if callable(codes) else list(codes)
        taken = {each.lower() for code in known if code for each in (code, sign(code))}
        strange = next((mark for mark in marks if mark.lower() not in taken), "")
        if strange:
            raise NoMoney(f"“{text.strip()}” is not in the studio's currency, {_names(known)}: write the amount in it.")
    try:
        figure = _figure(found["figure"].strip())
    except NoNumber as refusal:
        raise NoMoney(TOO_MUCH_MONEY) from refusal
    if figure is not None and figure > TOO_MUCH:
        raise NoMoney(TOO_MUCH_MONEY)
    if figure is None or (found["minus"] and found["then"]):
        raise NoMoney(_sentence(text))
    if _TWO_WAYS.fullmatch(found["figure"].strip()) and _fewest_decimals(codes) < 3:
        raise NoMoney(f"“{text.strip()}” may be {figure.normalize():f} or {figure * 1000:,.0f}: write which.")
    return -figure if found["minus"] or found["then"] else figure


def _fewest_decimals(codes: Sequence[str] | Callable[[], str]) -> int:
    known = [codes()] if callable(codes) else codes
    return min((decimals(code) for code in known if code), default=2)


def _names(codes: Sequence[str]) -> str:
    return " or ".join(dict.fromkeys(code for code in codes if code)) or "which is not set yet"


def _sentence(text: str) -> str:
    return f"“{text.strip()}” was not understood as money: write for instance 1,250.50."


def _figure(text: str) -> Decimal | None:
    if _GROUPED_BY_COMMA.fullmatch(text):
        return read_decimal(text.replace(",", ""))
    if _GROUPED_BY_POINT.fullmatch(text):
        return read_decimal(text.replace(".", "").replace(",", "."))
    if _GROUPED_BY_SPACE.fullmatch(text):
        return read_decimal(re.sub(r"[ '’]", "", text).replace(",", "."))
    return read_decimal(text.replace(",", ".")) if _PLAIN.fullmatch(text) else None


def show_typed_money(value: Fraction, code: str) -> str:
    """Return money as a field shows it, to be read again: with its sign, and with every decimal it has.

    Never with just three where its currency has fewer: those could be thousands.
    """
    fewest, kept = decimals(code) if code else 2, len(decimal_string(value, 6).partition(".")[2])
    digits = max(fewest, kept)
    return show_money(value, code, 4 if fewest < digits == 3 else digits).replace("\u00a0", " ")
