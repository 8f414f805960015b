"""What somebody typed to find: words, a size, a sum of money, or the number of one thing. Pure.

Words are compared case-folded, here and not by the database: its columns know letters of one alphabet only, or those
of its collation. What the database is asked holds at least every row that matches.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal, half_up, places
from studio.kit.typed_money import read_money
from studio.kit.typed_numbers import whole_number
from studio.kit.units import parse_size, show_size, size_unit

#: so many words are looked for; the rest is left out
MOST_WORDS = 8
#: as long as anything is typed into the field
MOST_LETTERS = 200
#: no quote comes to so much
MOST_MONEY = 10 ** 9
#: a side may differ by so much and is still the size
NEAR_MM = Decimal(1)
#: what a database may compare otherwise than by folded letters; ss may stand there as ß
_NOT_PLAIN = re.compile(r"[^\x20-\x7e]+|ss")
_TICKET = re.compile(r"(?:ticket\s*)?(\d{1,9})\s*[-–/]\s*(\d{1,9})")
_NAMED = re.compile(r"(job|quote|trial|offcut|order)\s*(?:no\.?|number|#)?\s*(\d{1,9})")
_LOT = re.compile(r"lot\s+(\S+)")
_REQUEST = re.compile(r"(?:(?:deposit|balance|credit)?\s*request\s*|(?:deposit|balance|credit)\s+)?(?:no\.?\s*|#\s*)?"
                      r"(\S{0,12}?)(\d{1,9})")
_BARE = re.compile(r"#?\s*(\d{1,9})")
_SIZE_HINT = re.compile(r"\d.*(?:x|×|\*|\bby\b).*\d|[ø⌀]|\bdia|\bround\b|\d\s*(?:mm|cm|m|in|inch|inches|ft|\"|')$")


@dataclass(frozen=True, kw_only=True)
class WantedSize:
    """A size that was typed, in mm. round: one measure, of a circle."""

    width_mm: Decimal
    height_mm: Decimal
    is_round: bool

    def __str__(self) -> str:
        return show_size(Fraction(self.width_mm), Fraction(self.height_mm), round_=self.is_round)

    def holds(self, width_mm: Decimal, height_mm: Decimal, *, is_round: bool) -> bool:
        """Say whether a pane has it, either way round, within a millimetre."""
        if self.is_round and not is_round:
            return False
        wide, high = abs(width_mm - self.width_mm), abs(height_mm - self.height_mm)
        turned = abs(width_mm - self.height_mm), abs(height_mm - self.width_mm)
        return max(wide, high) <= NEAR_MM or max(turned) <= NEAR_MM


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What is looked for. words: case-folded; ticket: job and ticket number; number: of one thing, of `named` kind or
    of any; lot: as it is written on its label; request: the prefix and number of a request for money; money: a sum in
    the studio's currency; sizes: what a typed size may be, the likeliest first: one without a unit is looked for in
    millimetres, centimetres and inches.
    """

    text: str
    words: tuple[str, ...]
    sizes: tuple[WantedSize, ...] = ()
    ticket: tuple[int, int] | None = None
    number: int | None = None
    named: str = ""
    lot: str = ""
    request: tuple[str, int] | None = None
    money: Decimal | None = None

    def holds(self, *texts: str) -> bool:
        """Say whether every word occurs in one of the texts, as a part of a word."""
        folded = [text.casefold() for text in texts]
        return bool(self.words) and all(any(word in text for text in folded) for word in self.words)

    def is_size(self, width_mm: Decimal, height_mm: Decimal, *, is_round: bool) -> bool:
        """Say whether a pane has one of the sizes."""
        return any(size.holds(width_mm, height_mm, is_round=is_round) for size in self.sizes)

    @property
    def asked(self) -> tuple[str, ...]:
        """Return what a database can be asked of each word: its longest part in plain letters; none where it has none.
        """
        parts = [max(_NOT_PLAIN.split(word), key=len) for word in self.words]
        return tuple(part for part in parts if part)


def read_wanted(text: str, units: str = "metric", currency: str = "") -> Wanted:
    """Return what a typed text asks for.

    units: how the studio measures: what a bare size is in; currency: the code whose sign may stand beside a sum.
    """
    text = " ".join(text[:MOST_LETTERS].split())
    folded = text.casefold()
    ticket, named, lot = _TICKET.fullmatch(folded), _NAMED.fullmatch(folded), _LOT.fullmatch(folded)
    bare, request = _BARE.fullmatch(folded), _REQUEST.fullmatch(folded)
    kind = {"order": "job"}.get(named[1], named[1]) if named else ""
    return Wanted(
        text=text, words=tuple(folded.split()[:MOST_WORDS]), sizes=_sizes(text, units),
        ticket=(whole_number(ticket[1]), whole_number(ticket[2])) if ticket else None,
        number=whole_number(named[2]) if named else whole_number(bare[1]) if bare else None, named=kind,
        request=(request[1], whole_number(request[2])) if request else None,
        lot=lot[1] if lot else folded if text and " " not in text else "",
        money=_money(text, currency),
    )


def _money(text: str, currency: str) -> Decimal | None:
    """Return the sum that a text is, with or without its sign; None where it is none."""
    try:
        read = read_money(text, [currency])
    except (DaybookError, ArithmeticError, ValueError):
        return None
    return read if 0 < read < MOST_MONEY else None


def _sizes(text: str, units: str) -> tuple[WantedSize, ...]:
    """Return the sizes that a text may be, the likeliest first. A text that is only a number is none."""
    if not _SIZE_HINT.search(text.casefold()):
        return ()
    usual = size_unit(units)
    try:
        read = parse_size(text, usual)
        reads = [read, *(parse_size(text, unit) for unit in ("mm", "cm", "in") if unit != usual and read.bare)]
    except (DaybookError, ArithmeticError, ValueError):
        return ()
    return tuple(WantedSize(width_mm=_mm(one.width_mm), height_mm=_mm(one.height_mm), is_round=one.single)
                 for one in reads)


def _mm(length: Fraction) -> Decimal:
    return as_decimal(half_up(length, places(6)), 6)
