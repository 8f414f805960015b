"""Words and figures of a delivery note, found and cut out of its line: expiry, lot, amount, money. Pure: no Django."""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from studio.kit.typed_money import NoMoney, read_money
from studio.kit.typed_numbers import read_decimal, whole_number

#: what was cut out leaves this, so that what stood left and right of it is not read as one
CUT = " \x00 "

_MONTHS = {name.casefold(): at for at, name in enumerate(calendar.month_abbr) if name} | {
    name.casefold(): at for at, name in enumerate(calendar.month_name) if name} | {"sept": 9}
_MONTH = r"(?P<month_word>[A-Za-z]{3,9})\.?"
_DATES = tuple(re.compile(pattern) for pattern in (
    r"(?P<year>[0-9]{4})-(?P<month>[0-9]{1,2})(?:-(?P<day>[0-9]{1,2}))?(?![0-9])",
    r"(?P<one>[0-9]{1,2})(?P<mark>[/.])(?P<two>[0-9]{1,2})(?P=mark)(?P<year>[0-9]{4}|[0-9]{2})(?![0-9])",
    r"(?P<month>[0-9]{1,2})\s?/\s?(?P<year>[0-9]{4}|[0-9]{2})(?![0-9/])",
    r"(?P<month>[0-9]{1,2})\.(?P<year>[0-9]{4})(?![0-9.])",
    rf"(?P<day>[0-9]{{1,2}})[ -]{_MONTH}[ -](?P<year>[0-9]{{4}}|[0-9]{{2}})(?![0-9])",
    rf"{_MONTH}[ -](?P<year>[0-9]{{4}})(?![0-9])",
))
_EXPIRY = re.compile(
    r"\b(?:exp(?:ir(?:es|y))?\.?(?:\s*(?:date|on))?|use[- ]by|use[- ]before|best[- ]before(?:\s*end)?|bbe?|"
    r"shelf[- ]life(?:\s*(?:to|until))?)\s*[:.]?\s*(?=[0-9A-Za-z])", re.IGNORECASE)
_LOT = re.compile(r"\b(?:lot|batch)\b\s*(?:no\b\.?|number\b|nr\b\.?|#)?\s*[:#.]?\s*"
                  r"(?P<lot>(?=[A-Za-z/.-]*[0-9])[A-Za-z0-9][A-Za-z0-9/.-]{0,28}[A-Za-z0-9]|[0-9])", re.IGNORECASE)

#: units as notes write them → as the stockroom reads them; "" for what is counted
_UNITS = {
    "kg": "kg", "kilo": "kg", "kilos": "kg", "g": "g", "gr": "g", "gram": "g", "grams": "g", "mg": "mg", "ml": "mL",
    "l": "L", "lt": "L", "ltr": "L", "ltrs": "L", "litre": "L", "litres": "L", "liter": "L", "liters": "L",
    "sheet": "", "sheets": "", "pc": "", "pcs": "", "piece": "", "pieces": "", "pair": "", "pairs": "", "ea": "",
    "each": "",
}
_NUMBER = r"[0-9]{1,3}(?:,[0-9]{3}){1,3}|[0-9]{1,12}(?:[.,][0-9]{1,12})?"
_MEASURED = "|".join(sorted((unit for unit, read in _UNITS.items() if read), key=len, reverse=True))
_COUNTED = "|".join(sorted((unit for unit, read in _UNITS.items() if not read), key=len, reverse=True))
_NOT_INSIDE = r"(?<![\w.,/])"
#: pieces are whole: “23.00 each” is a price
_SIZE = (rf"(?:(?P<number>{_NUMBER})\s?(?P<unit>{_MEASURED})|(?P<pieces>[0-9]{{1,5}})\s?(?P<piece>{_COUNTED}))"
         r"\b(?!\s?/\s?[A-Za-z])")
_VESSEL = r"(?:bottles?|packs?|tins?|drums?|jars?|tubs?|cans?|jerrycans?|bags?|boxes|box)"
_TIMES = rf"(?:\s?[x×*]\s?|\s(?:off|no\.?)\s|\s{_VESSEL}\s(?:of|à)?\s?)"
_PACKS_BEFORE = re.compile(rf"{_NOT_INSIDE}(?P<packs>[0-9]{{1,4}}){_TIMES}{_SIZE}", re.IGNORECASE)
_PACKS_AFTER = re.compile(
    rf"{_NOT_INSIDE}{_SIZE}(?:\s?[x×*]\s?(?P<packs>[0-9]{{1,4}})\b|\s?\(\s?[x×]\s?(?P<packs2>[0-9]{{1,4}})\s?\))",
    re.IGNORECASE)
_ONE = re.compile(_NOT_INSIDE + _SIZE, re.IGNORECASE)
_QUANTITY = re.compile(r"\b(?:qty|quantity)\b\s*[:.]?\s*(?P<packs>[0-9]{1,4})\b", re.IGNORECASE)

#: how a line begins that is about the note as a whole
CARRIAGE = re.compile(r"^\W*(?:carriage|delivery(?! note)|shipping|postage|p\s?&\s?p|freight|courier)\b",
                       re.IGNORECASE)
SUM = re.compile(r"^\W*(?:sub-?\s?total|total|net total|goods total|grand total|amount due|balance|net|gross)\b",
                  re.IGNORECASE)
TAX = re.compile(r"^\W*(?:vat|tax|gst|iva|mwst|sales tax)\b", re.IGNORECASE)

#: signs and codes of money that a note may carry
SIGNS = {"£": "GBP", "€": "EUR", "$": "USD", "¥": "JPY"}
_CODE = r"[£€$¥]|\b(?:GBP|EUR|USD|CHF|JPY|SEK|NOK|DKK|AUD|CAD|NZD|PLN|CZK)\b"
_FIGURE = r"[0-9]{1,3}(?:[., ][0-9]{3})+(?:[.,][0-9]{2})|[0-9]+[.,][0-9]{2}"
_MONEY = re.compile(
    rf"(?:(?P<before>{_CODE})\s?(?P<signed>[0-9]{{1,3}}(?: [0-9]{{3}})+[.,][0-9]{{2}}|[0-9][0-9.,]*[0-9]|[0-9])|"
    rf"(?<![\w.,/])(?P<bare>{_FIGURE})(?!\s?%)(?![\w/]|[.,][0-9]))"
    rf"(?!\s?(?:{_MEASURED})\b)(?:\s?(?P<after>{_CODE}))?", re.IGNORECASE)
_COMMA = re.compile(r"(?<![\w.,])(?:[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?|"
                    r"(?:[0-9]{1,3}(?:\.[0-9]{3})+|[0-9]+),[0-9]{1,2})"
                    r"(?![\w,]|\.[0-9])|,(?=\S)")
_BELOW = re.compile(
    rf"(?<![\w.,/)])[-−–](?:{_CODE})\s?[0-9][0-9.,]*|(?<![\w.,/)])[-−–][0-9][0-9.,]*|(?:{_CODE})\s?[-−–]\s?[0-9][0-9.,]*|"
    rf"(?<![\w.,])(?:{_FIGURE})(?:[-−–](?!\w)|\s?CR\b)|\(\s?(?:{_CODE})?\s?(?:{_FIGURE})\s?(?:{_CODE})?\s?\)|"
    rf"\bCR\s?(?:{_CODE})?\s?(?:{_FIGURE})|\b(?:credit(?:ed)?|refund(?:ed)?)\b", re.IGNORECASE)


class Day(NamedTuple):
    """A date as read: sure, or the days that it may be."""

    sure: date | None
    maybe: tuple[date, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Amount:
    """An amount as read: packs of a size in a unit that the stockroom reads; unit "" for what is counted."""

    packs: int
    number: str
    unit: str
    #: whether “1,000” was in it: a thousand, or one with three decimals
    thousands: bool = False

    @property
    def size(self) -> str:
        return f"{self.number} {self.unit}".strip()

    @property
    def count(self) -> int:
        """Return how many there are: the packs, or the pieces where they are counted."""
        return self.packs if self.unit else int(read_decimal(self.number) * self.packs)

    @property
    def written(self) -> str:
        """Return it as the stockroom reads it: “500 g”, “2 x 500 g”."""
        if not self.unit:
            return str(read_decimal(self.number) * self.packs)
        return self.size if self.packs == 1 else f"{self.packs} x {self.size}"


@dataclass(frozen=True, kw_only=True)
class Money:
    """A sum as read; code "" where no sign stands beside it."""

    amount: Decimal
    code: str = ""


def read_day(text: str) -> Day | None:
    """Return the day that a text begins with, a month's last where it names no day; None where it begins with none."""
    for pattern in _DATES:
        found = pattern.match(text.strip())
        if found:
            day = _day(found.groupdict())
            if day is not None:
                return day
    return None


def _day(parts: dict[str, str | None]) -> Day | None:
    year = whole_number(parts["year"] or "")
    year += 2000 if year < 100 else 0
    if parts.get("one"):
        return _day_and_month(whole_number(parts["one"] or ""), whole_number(parts["two"] or ""), year)
    word = parts.get("month_word")
    month = _MONTHS.get(word.casefold(), 0) if word else whole_number(parts.get("month") or "")
    if not 1 <= month <= 12:
        return None
    last = calendar.monthrange(year, month)[1]
    day = whole_number(parts.get("day") or "", last)
    return Day(date(year, month, day)) if 1 <= day <= last else None


def _day_and_month(one: int, two: int, year: int) -> Day | None:
    """Return a day of two figures; both ways where either may be the month."""
    days = []
    for day, month in dict.fromkeys([(one, two), (two, one)]):
        if 1 <= month <= 12 and 1 <= day <= calendar.monthrange(year, month)[1]:
            days.append(date(year, month, day))
    if not days:
        return None
    return Day(days[0]) if len(days) == 1 else Day(None, tuple(days))


def cut_expiry(text: str) -> tuple[str, Day | None, str]:
    """Return the text without its expiry, the day, and what stood after the word where that was no day."""
    found = _EXPIRY.search(text)
    if found is None:
        return text, None, ""
    after = text[found.end():]
    for pattern in _DATES:
        date_there = pattern.match(after)
        day = _day(date_there.groupdict()) if date_there else None
        if date_there and day is not None:
            return text[:found.start()] + CUT + after[date_there.end():], day, ""
    return text, None, after.split(",")[0].strip()


def cut_lot(text: str) -> tuple[str, str]:
    """Return the text without its lot number, and the number; "" where no word tells of one."""
    found = _LOT.search(text)
    if found is None:
        return text, ""
    return text[:found.start()] + CUT + text[found.end():], found["lot"]


def _amount(found: re.Match[str], packs: str | None) -> Amount:
    number, unit = found["number"] or found["pieces"], _UNITS[(found["unit"] or found["piece"]).casefold()]
    thousands = bool(re.fullmatch(r"[0-9]{1,3}(?:,[0-9]{3})+", number))
    number = number.replace(",", "") if thousands else number.replace(",", ".")
    return Amount(packs=whole_number(packs or "", 1), number=number, unit=unit, thousands=thousands)


def cut_amounts(text: str) -> tuple[str, list[Amount]]:
    """Return the text without its amounts, and the amounts in the order in which they stand."""
    found: list[tuple[int, Amount]] = []
    for pattern in (_PACKS_BEFORE, _PACKS_AFTER, _ONE):
        while (match := pattern.search(text)) is not None:
            groups = match.groupdict()
            found.append((match.start(), _amount(match, groups.get("packs") or groups.get("packs2"))))
            gap = " " * max(match.end() - match.start() - len(CUT), 0)  # so that what follows stands where it stood
            text = text[:match.start()] + CUT + gap + text[match.end():]
    return text, [amount for _, amount in sorted(found, key=lambda entry: entry[0])]


def cut_quantity(text: str) -> tuple[str, int]:
    """Return the text without “qty 2”, and the number; 0 where there is none."""
    found = _QUANTITY.search(text)
    if found is None:
        return text, 0
    return text[:found.start()] + CUT + text[found.end():], whole_number(found["packs"])


def _figure(text: str) -> Decimal | None:
    """Return a sum without its sign: “1,176.00”, “1.176,00”, “86,50”, “86”; None for what is none, or may be two."""
    try:
        return read_money(text, ())
    except NoMoney:
        return None


def parted(text: str) -> str:
    """Return a text with a gap behind each comma that parts cells: “Carriage,,,6.90” holds a figure, “,6.90” none.

    Commas of thousands and decimals, “1,176.00” and “86,50”, stay as they are, and all where something else parts.
    """
    if re.search(r"[\t;|]", text):
        return text
    return _COMMA.sub(lambda found: found[0] if len(found[0]) > 1 else ", ", text)


def below_nothing(text: str) -> str:
    """Return what of a text says that it is less than nothing, a credit or a return: “-86.00”, “(86.00)”, “credit”."""
    found = _BELOW.search(text)
    return found[0].strip() if found else ""


def cut_money(text: str) -> tuple[str, list[Money]]:
    """Return the text without its sums, and the sums in the order in which they stand."""
    sums = []
    while (found := _MONEY.search(text)) is not None:
        amount = _figure(found["signed"] or found["bare"])
        code = (found["before"] or found["after"] or "").upper()
        if amount is not None:
            sums.append(Money(amount=amount, code=SIGNS.get(code, code)))
        text = text[:found.start()] + CUT + text[found.end():]
    return text, sums
