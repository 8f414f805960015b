"""A letter's rows: what its writer says, what is quoted of earlier letters, headers and signature apart. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from jobs.orders.reading.vocabulary import CHOOSING
from studio.kit.typed_numbers import is_whole

Voice = Literal["own", "quoted", "header", "signature", "blank"]

_SENT_BY = r"(?:from|sent|to|cc|bcc|subject|date|reply-to|importance|attachments)"
_HEADER = re.compile(rf"{_SENT_BY}:\s", re.IGNORECASE)
_QUOTES_FROM_HERE = re.compile(
    r"-{2,}\s*original message|_{10,}$|on\b.{5,120}\bwrote:\s*$|-{2,}\s*forwarded|begin forwarded message",
    re.IGNORECASE,
)
_CLOSING = re.compile(
    r"(?:-- ?|—|(?:with\s)?(?:(?:kind|best|warm|warmest|kindest|many|very best)\s)*"
    r"(?:regards|wishes|thanks|thank you|cheers|sincerely|yours(?: \w+)?|all the best|best|thx|ta|greetings|rgds|br)"
    r"(?:\s(?:again|so much|very much|in advance|all|for your help|from \w+|and best wishes|& regards))*"
    r"(?:,?\s[A-Z]\w+)?)[\s,.!]*",
    re.IGNORECASE,
)
_QUOTE_MARK = re.compile(r"\s*(?:>\s?)+")
_SIZE_LIKE = re.compile(r"\d\s*(?:mm|cm|m|in|ft|\"|')?\s*[x×*]\s*\d|\b(?:wide|high|diameter|dia)\b|ø", re.IGNORECASE)
_GOES_ON = re.compile(r"(?:[x×]|\bby|\bof|\band|\bthe|\ba|\b(?:in|at|is|are|for|to|with))\s*$", re.IGNORECASE)
#: a row as long as this was probably broken by the mail program
_WRAPPED_FROM = 60


@dataclass(frozen=True)
class Row:
    """One row: its words as they stand in the letter, and whose they are.

    answered: of an earlier letter that stands for the writer's own words, under an answer that chooses from it.
    """

    text: str
    voice: Voice
    answered: bool = False


def rows_of(text: str) -> list[Row]:
    """Return a letter's rows. What is quoted counts as the writer's own where nothing of his own holds a size."""
    rows = list(_voiced(text))
    said = [row.text for row in rows if row.voice == "own"]
    if not any(map(_SIZE_LIKE.search, said)) and not any(re.search(r"\d", row) for row in said):
        chosen = bool(CHOOSING & set(re.findall(r"[\w']+", " ".join(said).lower())))
        rows = [Row(row.text, "own", chosen) if row.voice == "quoted" else row for row in rows]
    return list(_forms(list(_unwrapped(rows))))


def _voiced(text: str) -> Iterator[Row]:
    quoting, own_before, closing = False, False, False
    lines = text.splitlines()
    for at, line in enumerate(lines):
        bare = line.strip()
        marked = _QUOTE_MARK.match(line)
        if marked and line.lstrip().startswith(">"):
            rest = line[marked.end():].rstrip()
            yield Row(rest, "quoted" if rest.strip() else "blank")
        elif not bare:
            yield Row("", "blank")
        elif _quotes_from_here(lines, at):
            quoting, closing = quoting or own_before or bool(re.search("wrote", bare)), False
            yield Row(bare, "header")
        elif _in_headers(lines, at):
            quoting = quoting or own_before
            yield Row(bare, "header")
        elif quoting:
            yield Row(line.rstrip(), "quoted")
        elif _CLOSING.fullmatch(bare):
            closing = own_before
            yield Row(bare, "signature")
        elif closing and not _SIZE_LIKE.search(bare) and not bare.lower().startswith(("p.s", "ps")):
            yield Row(bare, "signature")
        else:
            own_before, closing = own_before or not _is_greeting(bare), False
            yield Row(line.rstrip(), "own")


def _is_greeting(row: str) -> bool:
    words = r"(?:hi|hello|hey|dear|good (?:morning|afternoon|day)|morning|fyi|see below)\b[^\d:]{0,30}"
    return bool(re.fullmatch(words, row, re.IGNORECASE))


def _quotes_from_here(lines: list[str], at: int) -> bool:
    if _QUOTES_FROM_HERE.match(lines[at].strip()):
        return True
    both = f"{lines[at].strip()} {lines[at + 1].strip() if at + 1 < len(lines) else ''}"
    return bool(re.match(r"on\b.{5,140}\bwrote:\s*$", both, re.IGNORECASE))


def _in_headers(lines: list[str], at: int) -> bool:
    """Say whether a row is one of a mail's headers: two of them stand together."""
    if not _HEADER.match(lines[at].strip()):
        return False
    beside = [lines[near].strip() for near in (at - 1, at + 1) if 0 <= near < len(lines)]
    return any(_HEADER.match(row) for row in beside)


def _unwrapped(rows: list[Row]) -> Iterator[Row]:
    """Join what a mail program broke: a long row that goes on in small letters, a row that ends in “x” or “of”."""
    held: Row | None = None
    for row in rows:
        if held is not None and row.voice == held.voice and _goes_on(held.text, row.text):
            held = replace(held, text=f"{held.text}\n{row.text.strip()}")
            continue
        if held is not None:
            yield held
        held = row
    if held is not None:
        yield held


_FIELD = re.compile(
    r"\s*[-*•]?\s*(?:overall\s)?(w|width|h|height|ht|qty|quantity|no\.?|number|diameter|dia|how many|pieces|pcs)\b"
    r"\.?\s*(?:\((?:mm|cm|in|inches|m)\)\s*)?[:=-]?\s*"
    r"(?:[\dø]|(?:one|two|three|four|five|six|seven|eight|nine|ten|twelve)\b).{0,24}", re.IGNORECASE)


def _forms(rows: list[Row]) -> Iterator[Row]:
    """Join fields under one another, “Width: 640 mm”, “Height: 1220 mm”, “Quantity: 3”, as one row."""
    held: Row | None = None
    names: set[str] = set()
    for row in rows:
        found = _FIELD.fullmatch(row.text) if row.voice == "own" else None
        name = found[1].lower()[:1] if found else ""
        if held is not None and found and name not in names:
            held = replace(held, text=f"{held.text}\n{row.text.strip()}")
            names.add(name)
            continue
        if held is not None:
            yield held
        held, names = (row, {name}) if found else (None, set())
        if held is None:
            yield row
    if held is not None:
        yield held


def _goes_on(row: str, following: str) -> bool:
    last, begins = row.rsplit("\n", 1)[-1].rstrip(), following.lstrip()[:1]
    if not last or not begins or last.endswith((":", ";", ".", "!", "?")) or "\t" in row + following:
        return False
    if _GOES_ON.search(last) and len(last) >= 12:
        return begins.islower() or is_whole(begins)
    return len(last) >= _WRAPPED_FROM and begins.islower()
