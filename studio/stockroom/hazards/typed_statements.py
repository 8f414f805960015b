"""Reading statements as people type them or paste them from a safety data sheet."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from studio.kit.errors import DaybookError
from studio.stockroom.hazards.statements import (
    CATEGORIES,
    HAZARD_STATEMENTS,
    MOST_LETTERS_NAMED,
    NAMING,
    PRECAUTIONS,
)


class StatementRefused(DaybookError):
    """Something typed is no statement; the sentence names it."""


@dataclass(frozen=True, kw_only=True)
class TypedStatements:
    """Codes as they were read, each once in the order typed, and what is given with them: category, or what is named.
    """

    codes: tuple[str, ...] = ()
    categories: Mapping[str, str] = field(default_factory=dict)


_CODE = r"\d{3}(?:[A-Za-z]{1,2})?(?![\w])"
_HAZARD = re.compile(rf"(?<![\w+])(?:EUH|H)\s?{_CODE}(?:\s*\+\s*H\s?{_CODE})*", re.IGNORECASE)
_PRECAUTION = re.compile(rf"(?<![\w+])P\s?{_CODE}(?:\s*\+\s*\[?P\s?{_CODE}\]?)*", re.IGNORECASE)
#: a category written after its statement: “H272 (3)”, “H272, category 3”, “H272 cat. 3”
_AFTER = re.compile(r"\s*[,(]?\s*(?:cat(?:egory|\.)?\s*)?(\d[AB]?|[C-F])\b\)?", re.IGNORECASE)
#: the same after its words: “H272 - May intensify fire; oxidiser (category 3)”
_NAMED = re.compile(r"cat(?:egory|\.)?\s*(\d[AB]?|[C-F])\b", re.IGNORECASE)
#: a category as a sheet writes it before its statement: “Ox. Liq. 3, H272”
_BEFORE = re.compile(r"[A-Za-z]\.?\s+(\d[AB]?|[C-F])\s*[,;:–-]?\s*$")
#: what a sheet names beside a statement, in brackets after its code or its words: “H373 (kidneys)”
_BRACKETS = re.compile(r"\(([^()\n]{2,200})\)")
#: figures that stand in the words of statements or as a category: no codes somebody mistyped
_OTHER_FIGURES = re.compile(r"\d+\s?°\s?[CF]|(?<![\w+])\(?\d[A-F]?\)?(?![\w+])")
#: figures in another code: a statement's own number, with letters before it that belong to none
_LEFT_OVER = re.compile(r"[^\s,;()]*\d[^\s,;()]*")


def _spelt(code: str, known: Iterable[str]) -> str:
    """Return a code as it is spelt: “h314” is H314, “H350I” is H350i. Refuse one that is none, or could be two."""
    near = [name for name in known if name.upper() == code.upper()]
    if code in near:
        return code
    if len(near) > 1:
        raise StatementRefused(f"{code} could be {' or '.join(near)}: write it as the sheet does.", subject=code)
    if not near:
        raise StatementRefused(f"{code} is no statement of the GHS or CLP: look at the sheet again.", subject=code)
    return near[0]


def _read(text: str, pattern: re.Pattern[str], letter: str) -> list[tuple[str, str, str]]:
    """Return each code found, with the text before it since the last and after it to the next; refuse other figures."""
    found, left, end = list(pattern.finditer(text)), "", 0
    for match in found:
        left, end = left + text[end:match.start()] + " ", match.end()
    left += text[end:]
    other = _LEFT_OVER.search(_OTHER_FIGURES.sub(" ", left))
    if other:
        raise StatementRefused(f"{other.group()} is no {letter} statement: look at the sheet again.",
                               subject=other.group())
    if text.strip() and not found:
        raise StatementRefused(f"“{text.strip()[:60]}” holds no {letter} statement: write its code.", subject=text)
    ends = [0, *(match.end() for match in found)]
    starts = [*(match.start() for match in found), len(text)]
    return [(re.sub(r"\s", "", match.group()), text[ends[at]:match.start()], text[match.end():starts[at + 1]])
            for at, match in enumerate(found)]


def _category(code: str, before: str, after: str) -> str:
    """Return the category written beside a statement that needs one, or ""."""
    for match in (_AFTER.match(after), _NAMED.search(after.split("\n")[0]), _BEFORE.search(before)):
        if match and match.group(1).upper() in CATEGORIES[code]:
            return match.group(1).upper()
    return ""


def _named(code: str, after: str) -> str:
    """Return what is named in brackets on a statement's own line, or ""; “or state all …” names nothing."""
    found = _BRACKETS.search(after.split("\n")[0])
    words = " ".join(found.group(1).split()) if found else ""
    if len(words) > MOST_LETTERS_NAMED:
        raise StatementRefused(f"What {code} names is longer than {MOST_LETTERS_NAMED} letters: shorten it.",
                               subject=code)
    return "" if words.lower().startswith(("or state", "state")) else words


def read_hazard_statements(text: str) -> TypedStatements:
    """Read H and EUH statements: codes between commas or spaces, or lines pasted from a sheet.

    A combination that has no words of its own is read as its parts. Raises StatementRefused.
    """
    codes: list[str] = []
    categories: dict[str, str] = {}
    for typed, before, after in _read(text, _HAZARD, "H or EUH"):
        upper = {name.upper(): name for name in HAZARD_STATEMENTS}
        named = upper.get("+".join(sorted(typed.upper().split("+")))) if "+" in typed else None
        for code in [named] if named else [_spelt(part, HAZARD_STATEMENTS) for part in typed.split("+")]:
            codes.append(code)
            if code in CATEGORIES and (category := _category(code, before, after)):
                categories[code] = category
            elif code in NAMING and (words := _named(code, after)):
                categories[code] = words
    return TypedStatements(codes=tuple(dict.fromkeys(codes)), categories=categories)


def read_precautions(text: str) -> TypedStatements:
    """Read P statements: codes between commas or spaces, or lines pasted from a sheet. Raises StatementRefused."""
    single = [code for code in PRECAUTIONS if "+" not in code]
    codes = []
    for typed, _, _ in _read(text, _PRECAUTION, "P"):
        plain = typed.upper()
        codes.append(plain if plain in PRECAUTIONS
                     else "+".join(_spelt(part.strip("[]"), single) for part in plain.split("+")))
    return TypedStatements(codes=tuple(dict.fromkeys(codes)))


def as_typed(codes: Iterable[str], categories: Mapping[str, str] | None = None) -> str:
    """Write statements as they are typed: “H272 (3), H314”."""
    given = categories or {}
    return ", ".join(f"{code} ({given[code]})" if code in given else code for code in codes)
