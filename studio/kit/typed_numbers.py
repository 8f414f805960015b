"""The one place where text becomes a number: its letters are counted and looked at before it is one. No Django.

Text that is read elsewhere, by a pattern of its own, comes here in the end: a test reads the source for numbers that
are made of text in any other place.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from fractions import Fraction

from studio.kit.errors import DaybookError

#: no number, amount, size or date is longer
MOST_LETTERS = 60
#: figures of a whole number: it fits a column of numbers on both databases
MOST_FIGURES = 9
#: figures before and after the point of a decimal number
MOST_BEFORE, MOST_AFTER = 18, 20
#: no value that somebody types is larger, in whatever unit: every exact column holds it
TOO_MUCH = 10**12

WHOLE = "Write a whole number, for instance 12."
NUMBER = "Write a number, for instance 12 or 12.5."
_LONG = f"That is too long: {MOST_LETTERS} letters at most."
_WHOLE = re.compile(rf"[+-]?[0-9]{{1,{MOST_FIGURES}}}(?:\.0{{0,{MOST_FIGURES}}})?")
_COUNT = re.compile(rf"[0-9]{{1,{MOST_FIGURES}}}")
_DECIMAL = re.compile(rf"[+-]?(?:[0-9]{{1,{MOST_BEFORE}}}(?:\.[0-9]{{0,{MOST_AFTER}}})?|\.[0-9]{{1,{MOST_AFTER}}})")


class NoNumber(DaybookError, ValueError):
    """What was typed is no number that the book takes."""


def bounded(text: str, most: int = MOST_LETTERS) -> str:
    """Return text that a number may be read from, as it is. Raises NoNumber.

    It is short, on one line, without letters that nobody types, and its figures are 0 to 9: “²” stands behind a unit
    only, as in “m²”.
    """
    if len(text) > most:
        raise NoNumber(_LONG if most == MOST_LETTERS else f"That is too long: {most} letters at most.")
    before = ""
    for letter in text.strip():
        kind = unicodedata.category(letter)
        if kind in ("Cc", "Cs", "Co", "Cn") or letter in "\u2028\u2029":
            raise NoNumber("Write it on one line, without letters that cannot be seen.")
        if kind == "Nd" and not letter.isascii():
            raise NoNumber(f"Write “{letter}” with the figures 0 to 9.")
        if unicodedata.decomposition(letter).startswith("<super>") and letter.isdigit() and not before.isalpha():
            raise NoNumber(f"“{letter}” stands behind a unit, as in m²: write the number with the figures 0 to 9.")
        before = letter
    return text


def read_whole(text: str) -> int:
    """Return a whole number. Raises NoNumber."""
    bare = bounded(text).strip()
    if not _WHOLE.fullmatch(bare):
        large = re.fullmatch("[0-9]+", bare)
        raise NoNumber(f"That is too large: {MOST_FIGURES} figures at most." if large else WHOLE)
    return int(bare.partition(".")[0])


def whole_number(sent: str, otherwise: int = 0) -> int:
    """Return a whole number that a page sent, not below nothing; `otherwise` for anything else."""
    return int(sent) if is_whole(sent) else otherwise


def is_whole(sent: str) -> bool:
    """Say whether text is a whole number, not below nothing, that a column of numbers holds."""
    return _COUNT.fullmatch(sent) is not None


def read_decimal(text: str) -> Decimal:
    """Return a number of plain figures with a point, as “-12.5”: no exponent, no infinity. Raises NoNumber."""
    bare = bounded(text).strip()
    if not _DECIMAL.fullmatch(bare):
        raise NoNumber(NUMBER)
    return Decimal(bare)


def read_exact(text: str) -> Fraction:
    """Return a number of plain figures with a point, exactly. Raises NoNumber."""
    return Fraction(read_decimal(text))


def is_plain(number: Decimal) -> bool:
    """Say whether a Decimal has few enough figures that it can be worked with: not so 1e40000000, nor NaN."""
    if not number.is_finite():
        return False
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int)
    return exponent >= -2 * MOST_AFTER and number.adjusted() <= 2 * MOST_BEFORE
