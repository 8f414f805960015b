"""A book's text as a document, nothing in it deeper or longer than a book can be. Refusals name the path inside it.

What is refused here never becomes a number or a level of the program's own: an endless figure costs as much as it says,
and a thousand levels more than any program has.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from studio.whole.book.reading import BookError, Path_, refused

MOST_BYTES = 500_000_000
#: a frozen plan stands some dozen levels deep
MOST_LEVELS = 60
#: digits of a figure, as a number or inside a text, and of its exponent
MOST_FIGURES = 40
_MOST_IN_A_ROW, _MOST_EXPONENT = 300, 2
_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[\[\]{},:]', re.DOTALL)
#: a sum or a key may begin like one: it is one to its end, whatever unit stands behind it
_ENDLESS = re.compile(rf"\d{{{_MOST_IN_A_ROW},}}"
                      rf"|^\s*[-+]?[\d.,]+[eE][-+]?\d{{{_MOST_EXPONENT + 1},}}\s*[^\d\s-]{{0,10}}\s*$")


class _Endless:
    """Stands in a document where a number is that is none, or too long to be one."""

    def __init__(self, text: str) -> None:
        self.text = text


def read_document(path: Path) -> Any:
    """Return the document of a file. Raises BookError."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise BookError(f"{path.name} is larger than any book.")
        text = path.read_text(encoding="utf-8")
        _check_levels(text)
        document = json.loads(text, parse_int=_whole, parse_float=_broken, parse_constant=_Endless)
    except (OSError, ValueError) as unreadable:
        raise BookError(f"{path.name} cannot be read: {unreadable}") from unreadable
    for place, value in _values(document):
        if isinstance(value, _Endless) or (isinstance(value, str) and _ENDLESS.search(value)):
            shown = value.text if isinstance(value, _Endless) else value
            raise refused(place, f"“{shown[:20]}…” is no figure: it has more digits than anything has.")
        if isinstance(value, str) and "\0" in value:
            raise refused(place, "a text holds a character that no text has.")
    return document


def _whole(text: str) -> Any:
    return int(text) if len(text) <= MOST_FIGURES else _Endless(text)


def _broken(text: str) -> Any:
    exponent = text.lower().partition("e")[2].lstrip("+-")
    return float(text) if len(text) <= MOST_FIGURES and len(exponent) <= _MOST_EXPONENT else _Endless(text)


def _check_levels(text: str) -> None:
    """Refuse a text whose lists and entries stand deeper than a book's, before anything goes down into it."""
    place: list[str | int] = []
    name = ""
    for token in _TOKEN.finditer(text):
        sign = token[0]
        if sign[0] == '"':
            name = sign[1:-1][:40]
        elif sign == ":":
            if place:
                place[-1] = name
        elif sign == ",":
            if place and isinstance(place[-1], int):
                place[-1] += 1
        elif sign in "[{":
            place.append(0 if sign == "[" else "")
            if len(place) > MOST_LEVELS:
                raise refused(tuple(place[:8]), f"is deeper than {MOST_LEVELS} levels.")
        elif place:
            place.pop()


def _values(document: Any) -> Iterator[tuple[Path_, Any]]:
    """Yield every value and every name with its path."""
    waiting: list[tuple[Path_, Any]] = [((), document)]
    while waiting:
        place, value = waiting.pop()
        if isinstance(value, dict):
            for name, inner in value.items():
                yield (*place, name[:40]), name
                waiting.append(((*place, name), inner))
        elif isinstance(value, list):
            waiting += [((*place, at), inner) for at, inner in enumerate(value)]
        else:
            yield place, value
