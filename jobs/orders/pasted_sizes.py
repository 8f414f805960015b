"""Sizes from a customer's e-mail: what is read becomes lines to confirm, what is not is marked, nothing is guessed.

A line of text is split into passages, a passage into tokens; a passage holds one size at most.
Pure: no Django.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from studio.kit.errors import DaybookError
from studio.kit.pane_sizes import size_question
from studio.kit.units import SPELLINGS, Size, parse_size, plain_text

MOST_CHARACTERS = 20_000
#: A longer passage is prose, or a table that lost its columns: asked back.
LONGEST_PASSAGE = 240
MOST_PANES = 500
#: A pane smaller than this both ways was probably written in another unit.
SMALLEST_SIDE_MM = 50

_TOKEN = re.compile(r"\d+[ -]\d+/\d+|\d+/\d+|\d+[.,]\d+|\d+|[a-zø⌀]+\.?|\S")
_BREAK = re.compile(r"\s*(?:;|,(?=\s)|,$|\band\b|&|\bplus\b|\t)\s*")
_LIST_MARK = re.compile(r"(?:[>\s]*)(?:(?:\d{1,2}[.)]|[-*•·])\s+)?")
_MARKS = {'"', "'"}
_TIMES = {"x", "by", "*"}
_ROUND = {"round", "rounds", "circle", "circles", "circular", "dia", "diam", "diameter", "ø", "⌀"}
_OVAL = {"oval", "ovals", "ellipse", "ellipses", "elliptical"}
_SHAPED = {"arch", "arched", "shaped", "hexagon", "hexagonal", "octagon", "octagonal", "triangle", "triangular",
           "trapezium"}
_WIDE, _HIGH = {"w", "wide", "width"}, {"h", "high", "tall", "height"}
_EACH = {"@", "no", "nos", "off", "pc", "pcs", "pce", "piece", "pieces", "pane", "panes", "mirror", "mirrors", "ea",
         "each", "of"}
_HOW_MANY = {"qty", "quantity", "number"}
_NUMBER_WORDS = {word: number for number, word in enumerate(
    ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"], start=1
)} | {"pair": 2}
_ALL = {"all", "sizes", "measurements", "dimensions", "everything"}


@dataclass(frozen=True, kw_only=True)
class PastedLine:
    """One size as read: how many, the size as written, its shape, and the words that stood beside it."""

    written: str
    quantity: int
    size_text: str
    shape: str
    note: str


@dataclass(frozen=True, kw_only=True)
class Marked:
    """A passage that holds figures and was not understood, and why."""

    written: str
    why: str


@dataclass(frozen=True, kw_only=True)
class Pasted:
    """What was read out of a text; passed_over holds words without any figure."""

    lines: tuple[PastedLine, ...]
    marked: tuple[Marked, ...]
    passed_over: tuple[str, ...]


class _Doubt(Exception):
    """A passage could mean more than one thing, or nothing."""


def read_pasted(text: str, default_unit: str = "mm") -> Pasted:
    """Read a customer's sizes. default_unit: of a bare number, unless the text itself says “all sizes in cm”.

    Never raises for what is written: each passage with a figure in it is a line or is marked.
    """
    lines: list[PastedLine] = []
    marked: list[Marked] = []
    passed_over: list[str] = []
    rows = [_LIST_MARK.sub("", row, count=1).strip() for row in text[:MOST_CHARACTERS].splitlines()]
    unit = next(filter(None, map(_unit_of_all, rows)), default_unit)
    for row in filter(None, rows):
        if _unit_of_all(row):
            passed_over.append(row)
            continue
        for written in _passages(row):
            if not _has_figure(written):
                passed_over.append(written)
                continue
            try:
                lines.append(_read(written, unit))
            except (_Doubt, DaybookError) as doubt:
                marked.append(Marked(written=written, why=str(doubt)))
    if len(text) > MOST_CHARACTERS:
        beyond = text[MOST_CHARACTERS:MOST_CHARACTERS + 60]
        marked.append(Marked(written=f"{beyond}…", why="The rest is too long to read."))
    return Pasted(lines=tuple(lines), marked=tuple(marked), passed_over=tuple(passed_over))


def _words(text: str) -> list[str]:
    return _TOKEN.findall(plain_text(text).replace("ø", " ø "))


def _unit_of_all(row: str) -> str:
    """Return the unit of a sentence such as “all sizes in inches”, or ""."""
    words = [word.rstrip(".") for word in _words(row[:LONGEST_PASSAGE])]
    if not _ALL & set(words) or any(word[0].isdigit() for word in words):
        return ""
    units = [word for word in words if word in SPELLINGS["length"] and word not in ("in", "m")]
    if not units and words[-1:] == ["in"]:
        units = ["in"]
    return units[0] if len(set(units)) == 1 else ""


def _has_figure(text: str) -> bool:
    return any(word[0].isdigit() for word in _words(text))


def _passages(row: str) -> Iterator[str]:
    """Split a row into passages of one size: what holds no size of its own belongs to what came before it."""
    held = ""
    for piece in _with_breaks(row):
        bare = piece.strip(" ,;&\t")
        if held and bare and _sizes(_tokens(bare)) and _sizes(_tokens(held)):
            yield held.strip(" ,;&\t")
            held = _without_joiner(piece)
        else:
            held += piece
    if held.strip(" ,;&\t"):
        yield held.strip(" ,;&\t")


def _with_breaks(row: str) -> Iterator[str]:
    """Yield pieces with the break in front of each, so that nothing that was written is lost."""
    start = 0
    for found in _BREAK.finditer(row):
        if found.start() > start:
            yield row[start:found.start()]
            start = found.start()
    yield row[start:]


def _without_joiner(piece: str) -> str:
    return re.sub(r"^\s*(?:and|plus)\b", "", piece.strip(" ,;&\t")).strip()


@dataclass
class _Tokens:
    words: list[str]
    used: set[int] = field(default_factory=set)

    def at(self, place: int) -> str:
        return self.words[place].rstrip(".") if 0 <= place < len(self.words) else ""

    def number(self, place: int) -> bool:
        return self.at(place)[:1].isdigit()

    def whole(self, place: int) -> int:
        return int(self.at(place)) if self.at(place).isdecimal() and len(self.at(place)) < 6 else 0


def _tokens(text: str) -> _Tokens:
    spaced = re.sub(r"(?<=[\"'a-z])x(?=\d)", " x ", plain_text(text))
    words: list[str] = []
    for word in _TOKEN.findall(spaced.replace("ø", " ø ")):
        # “600mmx 900” and “600mm x900” are written too
        words += [word[:-1], "x"] if len(word) > 1 and word[-1] == "x" and word[:-1] in SPELLINGS["length"] else [word]
    return _Tokens(words)


@dataclass(frozen=True)
class _Measure:
    start: int
    end: int
    unit: str
    text: str
    label: str


@dataclass(frozen=True)
class _Found:
    """One size among the tokens: its measures, and the count written as “2 x” in front of it."""

    start: int
    end: int
    sides: tuple[_Measure, ...]
    count: int = 0


def _measure(tokens: _Tokens, place: int) -> _Measure | None:
    """Read a number with its unit, “2' 0 3/8"” included, and a w or h that says which way it goes."""
    if not tokens.number(place):
        return None
    end, written, unit = place + 1, tokens.at(place), ""
    spellings = SPELLINGS["length"]
    if tokens.at(end) in spellings:
        unit = tokens.at(end)
        written += unit if unit in _MARKS else f" {unit}"
        end += 1
        if spellings[unit] == "foot" and tokens.number(end):
            inches = tokens.at(end + 1) if spellings.get(tokens.at(end + 1)) == "inch" else "in"
            written += f" {tokens.at(end)}" + (inches if inches in _MARKS else f" {inches}")
            end += 2 if spellings.get(tokens.at(end + 1)) == "inch" else 1
    bracket = tokens.at(end) == "(" and tokens.at(end + 2) == ")"
    label = tokens.at(end + 1) if bracket else tokens.at(end)
    if label in _WIDE | _HIGH:
        return _Measure(place, end + (3 if bracket else 1), unit, written, "w" if label in _WIDE else "h")
    return _Measure(place, end, unit, written, "")


def _pair(tokens: _Tokens, place: int) -> _Found | None:
    first = _measure(tokens, place)
    if first is None or tokens.at(first.end) not in _TIMES:
        return None
    second = _measure(tokens, first.end + 1)
    return None if second is None else _Found(place, second.end, (first, second))


def _sizes(tokens: _Tokens) -> list[_Found]:
    """Return every width × height, and every single measure beside a word for round."""
    found: list[_Found] = []
    place = 0
    round_ = any(tokens.at(at) in _ROUND for at in range(len(tokens.words)))
    while place < len(tokens.words):
        counted = _pair(tokens, place + 2) if tokens.whole(place) and tokens.at(place + 1) in ("x", "*") else None
        size = _pair(tokens, place)
        if counted is not None and all(tokens.whole(place) < (tokens.whole(side.start) or 10**6)
                                       for side in counted.sides):
            # “2 x 600 x 900”; in “600 x 900 x 6” the six is no side, and what it is stays open
            size = _Found(place, counted.end, counted.sides, tokens.whole(place))
        elif size is None and round_:
            size = _single(tokens, place)
        if size is None:
            place += 1
            continue
        found.append(size)
        place = size.end
    return found


def _single(tokens: _Tokens, place: int) -> _Found | None:
    """Read a circle's diameter: a measure with a unit, a fraction, or beside its word for round."""
    measure = _measure(tokens, place)
    if measure is None or (tokens.whole(place) and tokens.at(measure.end) in _EACH and not measure.unit):
        return None
    next_to = {tokens.at(place - 1), tokens.at(measure.end)} & (_ROUND - {"round", "rounds", "circle", "circles"})
    if not (measure.unit or "/" in measure.text or next_to or tokens.whole(place) > 24):
        return None
    return _Found(place, measure.end, (measure,))


def _read(written: str, default_unit: str) -> PastedLine:
    """Read one passage. Raises _Doubt or NotUnderstood with the sentence to show."""
    if len(written) > LONGEST_PASSAGE:
        raise _Doubt("This passage is too long: put each size on a line of its own.")
    tokens = _tokens(written)
    sizes = _sizes(tokens)
    if not sizes:
        raise _Doubt("No width × height, and no diameter of a round pane, was found in it.")
    if len(sizes) > 1:
        raise _Doubt("It holds more than one size: put each on a line of its own.")
    found = sizes[0]
    if tokens.at(found.end) in _TIMES and tokens.number(found.end + 1):
        raise _Doubt("A third figure could be a count or a thickness: write “2 @ 600 x 900 mm”, and choose the glass "
                     "by its thickness.")
    tokens.used.update(range(found.start, found.end))
    quantity = _quantity(tokens, found)
    shape = _shape(tokens, found)
    note = _note(tokens, written)
    size_text = _size_text(found)
    size = parse_size(size_text, default_unit)
    _check(size, shape, found, default_unit)
    return PastedLine(
        written=written, quantity=quantity, size_text=_spelt_out(size_text, default_unit), shape=shape, note=note
    )


def _size_text(found: _Found) -> str:
    sides = list(found.sides)
    if [side.label for side in sides] == ["h", "w"]:
        sides.reverse()
    return " x ".join(side.text for side in sides)


def _spelt_out(size_text: str, default_unit: str) -> str:
    """Return the size with the unit it was read in, so that the studio's unit setting never changes it."""
    has_unit = any(word in SPELLINGS["length"] for word in _TOKEN.findall(size_text))
    return size_text if has_unit or "/" in size_text else f"{size_text} {default_unit}"


def _check(size: Size, shape: str, found: _Found, default_unit: str) -> None:
    if shape == "circle" and size.width_mm != size.height_mm:
        raise _Doubt("A round pane has one diameter: write one measure, or “oval”.")
    bare = not any(side.unit or "/" in side.text for side in found.sides)
    if bare and max(size.width_mm, size.height_mm) < SMALLEST_SIDE_MM:
        raise _Doubt(f"Without a unit this would be in {default_unit}, which is very small: write the unit.")
    if bare and default_unit in ("in", '"') and max(size.width_mm, size.height_mm) > Fraction(254, 10) * 200:
        raise _Doubt("Without a unit this would be in inches, which is very large: write the unit.")
    question = size_question(size)
    if question:
        raise _Doubt(question)


def _quantity(tokens: _Tokens, found: _Found) -> int:
    """Return how many: one place says it, or none does and it is one."""
    counts = [found.count] if found.count else []
    at = 0
    while at < len(tokens.words):
        if at in tokens.used:
            at += 1
            continue
        number = tokens.whole(at) or _NUMBER_WORDS.get(tokens.at(at), 0)
        taken = _count_span(tokens, at, found) if number else ()
        if taken:
            counts.append(number)
            tokens.used.update(taken)
            at = max(taken)
        at += 1
    if len(counts) > 1:
        raise _Doubt("It gives the quantity more than once.")
    if counts and not 1 <= counts[0] <= MOST_PANES:
        raise _Doubt(f"The quantity must be between 1 and {MOST_PANES}.")
    return counts[0] if counts else 1


def _count_span(tokens: _Tokens, at: int, found: _Found) -> tuple[int, ...]:
    """Return the tokens that say a count, or nothing when this number is no count."""
    before, after = tokens.at(at - 1), tokens.at(at + 1)
    if before == "(" and after == ")":
        return (at - 1, at, at + 1)
    if before == "(" and after in _EACH and tokens.at(at + 2) == ")":
        return (at - 1, at, at + 1, at + 2)
    if before in _HOW_MANY:
        return (at - 1, at)
    if before in (":", "=") and tokens.at(at - 2) in _HOW_MANY:
        return (at - 2, at - 1, at)
    if after in _EACH:
        return (at, at + 1)
    if tokens.at(at) in _NUMBER_WORDS and at < found.start:
        return (at,)
    shapes = _ROUND | _OVAL
    if at < found.start and (at + 1 == found.start or after in shapes or after in _TIMES):
        # “3 round 30in”, “3 x ø 600”; a bare “3 600 x 900” is no way to say it
        return (at, at + 1) if after in _TIMES else (at,) if after in shapes else ()
    return ()


def _shape(tokens: _Tokens, found: _Found) -> str:
    words = [tokens.at(at) for at in range(len(tokens.words))]
    tokens.used.update(at for at, word in enumerate(words) if word in _ROUND | _OVAL)
    if _SHAPED & set(words):
        raise _Doubt("A shaped pane needs its area: enter it as a line of its own, shape “other”.")
    if _ROUND & set(words):
        return "circle"
    return "ellipse" if _OVAL & set(words) else "rectangle"


def _note(tokens: _Tokens, written: str) -> str:
    """Return the words beside the size; a figure among them means that something was not understood."""
    rest = [word for at, word in enumerate(tokens.words) if at not in tokens.used]
    figures = [word for word in rest if word[0].isdigit()]
    if figures:
        raise _Doubt(f"What is “{figures[0]}” in it?")
    words = [word for word in rest if word.strip(".")[:1].isalpha() and word.rstrip(".") not in _EACH | _TIMES]
    return " ".join(_as_written(words, written))[:200] if any(len(word) > 2 for word in words) else ""


def _as_written(words: Sequence[str], written: str) -> Iterator[str]:
    """Yield words with the capitals that they were written with."""
    low = written.lower()
    for word in words:
        at = low.find(word)
        yield written[at:at + len(word)] if at >= 0 else word
