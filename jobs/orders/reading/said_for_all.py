"""What a letter says of all its sizes: the unit, and which side comes first. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

from jobs.orders.reading.tokens import UNITS, plain

_UNIT = r"(mm|mms|cms?|millimet(?:re|er)s?|centimet(?:re|er)s?|inch(?:es)?|ins|feet|foot|met(?:re|er)s)"
_OF_ALL = re.compile(
    rf"\b(?:all|sizes?|dims?|dimensions?|measurements?|measures|everything|figures|units?|lengths|they|these|numbers)\b"
    rf"[^.\n\d;]{{0,50}}?(?<!not )(?<!not in )\b{_UNIT}\b"
)
_ALONE = re.compile(rf"^\W*(?:(?:all|everything)\s)?(?:in\s)?{_UNIT}\W*(?:please|pls|thanks)?\W*$")
_ASIDE = re.compile(rf"[-(,]\s*(?:all\s)?(?:in\s)?{_UNIT}\s(?:of course|obviously|throughout|all|everywhere|only)\b")
_TRAILING = re.compile(rf"(?<!\d )(?<!not )(?<!\d)\bin\s{_UNIT}\b\.?(?:\s(?:please|pls|thanks))?\s*(?:$|[.,;:)!])")
_IN_BRACKETS = re.compile(rf"[(\[]\s*(?:all\s)?(?:in\s)?{_UNIT}\s*[)\]]")
_HEIGHT = r"h(?:eight|igh|t)?"
_WIDTH = r"w(?:idth|ide)?"
_HEIGHT_FIRST = re.compile(
    rf"(?<![\w\"'])(?<!\d ){_HEIGHT}\s*(?:x|by|/|then|and then|before)\s*{_WIDTH}\b|\bheights?\b[\w\s]{{0,20}}\bfirst\b"
    rf"|\b(?:height|high)\s(?:x|by|then|before)\s(?:the\s)?(?:width|wide)\b"
)
_WIDTH_FIRST = re.compile(
    rf"(?<![\w\"'])(?<!\d ){_WIDTH}\s*(?:x|by|/|then|and then|before)\s*{_HEIGHT}\b|\bwidths?\b[\w\s]{{0,20}}\bfirst\b"
)


def unit_said(row: str) -> str:
    """Return the unit that a row says for all sizes, or ""."""
    written = plain(row)
    for pattern in (_OF_ALL, _ALONE, _ASIDE, _TRAILING, _IN_BRACKETS):
        found = pattern.search(written)
        if found:
            units = {UNITS[match] for match in re.findall(rf"\b{_UNIT}\b", found.group()) if match in UNITS}
            return units.pop() if len(units) == 1 else ""
    return ""


def height_said_first(row: str) -> bool | None:
    """Return whether a row says that heights come first; None where it says nothing of it."""
    written = plain(row)
    if _HEIGHT_FIRST.search(written):
        return True
    return False if _WIDTH_FIRST.search(written) else None


def units_by_row(rows: Sequence[str]) -> list[str]:
    """Return the unit that counts for each row: the last said so far, or the only one said at all."""
    said = [unit_said(row) for row in rows]
    only = {unit for unit in said if unit}
    now, counting = next(iter(only)) if len(only) == 1 else "", []
    for unit in said:
        now = unit or now
        counting.append(now)
    return counting


def heights_first_by_row(rows: Sequence[str]) -> list[bool]:
    said = [height_said_first(row) for row in rows]
    only = {which for which in said if which is not None}
    now, counting = only == {True}, []
    for which in said:
        now = now if which is None else which
        counting.append(now)
    return counting
