"""A row split into passages of one size each: what holds none belongs to the size before it. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from jobs.orders.reading.measures import COUNTED, LABELS, TIMES, at, is_number
from jobs.orders.reading.sizes import Found, counted_rounds, sizes_of
from jobs.orders.reading.tokens import Token, tokens_of
from jobs.orders.reading.vocabulary import (
    ASKED_SHAPES,
    CANCEL,
    CHANGE,
    HALF_MOON,
    MAYBE,
    NOT,
    PIECES,
    ROUND,
    TWO_WORD_SHAPES,
)

_JOINERS = {",", ";", "and", "&", "plus", "+", "-", ".", "then", "also", "|", "/", ">", "et", "und"}
_WEAK = {",", "and", "&", "plus", "+", "-", "et", "und"}
_SHORT = frozenset("""no nr approx dia diam in ft mm cm m pcs pc qty ref e.g i.e incl max min w h ca c st mr mrs ms ltd
    rect rects thk bev pol temp std tough lam vert hor dr ea ins qnty quant no's etc vs stk stck st""".split())  # noqa: SIM905 - a list of words reads as words
#: between two sizes: the one is made of the other
_MADE_OF = {"give", "gives", "giving", "yield", "yields", "into", "makes", "making", "from", "become", "becomes", "fit",
            "fits"}
_SWAPS = {"swap", "swapping", "exchange", "substitute", "replace", "change"}
_COUNT_WORDS = {"dozen", "pair", "pairs", "couple", "both"}


@dataclass(frozen=True)
class Passage:
    """Words that belong together, with one size or none.

    text: as they stand in the letter. tokens: theirs, with places in the row. found: the size, its places in tokens.
    clause: where the part of the sentence begins and ends that the size stands in. doubt: whose count a figure is.
    """

    text: str
    tokens: list[Token]
    found: Found | None = None
    clause: tuple[int, int] = (0, 0)
    doubt: str = ""


def is_round(tokens: list[Token]) -> bool:
    """Say whether words name a circle; “all round” is no shape."""
    not_behind = ("all", "turned", "year", "the", "half", "way")  # “the wrong way round”
    return any(at(tokens, place) in ROUND and at(tokens, place - 1) not in not_behind
               and at(tokens, place + 1) not in ("corner", "corners", "edge", "edges", "top", "the")
               for place in range(len(tokens)))


def asked_shape(tokens: list[Token]) -> str:
    """Return the name of a shape that words name and that is asked about; "" where they name none."""
    for place in range(len(tokens)):
        pair = at(tokens, place), at(tokens, place + 1)
        if pair in TWO_WORD_SHAPES or pair[0] in ASKED_SHAPES:
            return TWO_WORD_SHAPES.get(pair) or ASKED_SHAPES[pair[0]]
    return ""


def passages_of(text: str) -> list[Passage]:
    """Split a row into passages, in order; joined, their words are the row's."""
    tokens = tokens_of(text)
    passages: list[Passage] = []
    for start, end in _sentences(tokens, text):
        passages += _grouped(text, tokens[start:end])
    return passages


def _sentences(tokens: list[Token], text: str) -> Iterator[tuple[int, int]]:
    start = 0
    for place, token in enumerate(tokens):
        adds = token.text in (",", "and") and "add" in (at(tokens, place + 1), at(tokens, place + 2)) and place > start
        if adds or _ends(tokens, place, text) or (token.text in (";", "|") and token.kind == "sign"):
            yield start, place + 1
            start = place + 1
    if start < len(tokens):
        yield start, len(tokens)


def _ends(tokens: list[Token], place: int, text: str) -> bool:
    """Say whether a sentence ends with a token: a stop after a word, with a space and no small letter behind."""
    token = tokens[place]
    if not token.text.endswith((".", "!", "?")) or token.kind == "aside" or (
            token.kind == "number" and not token.spelled):
        return False
    behind = text[token.end:token.end + 2]
    if not behind.strip():
        return True
    if not behind[0].isspace():
        return False
    if token.text in ("!", "?"):
        return True
    if token.kind == "sign":
        return not is_number(tokens, place + 1) or is_number(tokens, place - 1) or tokens[place + 1].spelled
    if _without_capitals(text) and token.bare not in _SHORT - {"mm", "cm", "m", "in", "ft"}:
        following = at(tokens, place + 1)
        return len(token.bare) > 1 and following.isalpha() and not (
            token.unit and following in TIMES | COUNTED | set(LABELS) | _AFTER_A_UNIT)
    capital = behind[1:2].isupper() or (is_number(tokens, place + 1) and token.bare not in _SHORT)
    return capital and (token.bare not in _SHORT - {"mm", "cm", "m", "in", "ft", "ea"} or
                        (behind[1:2].isupper() and token.bare in ("etc", "pcs")))


_AFTER_A_UNIT = {"and", "or", "with", "thick", "to", "on", "at", "of", "for", "in", "from", "bevel", "bevels", "plus",
                 "n", "glass", "mirror", "round", "oval", "antique", "deep", "total", "overall"}


def _without_capitals(text: str) -> bool:
    """Say whether a row is written in small letters throughout, as on a phone: its sentences begin with them too."""
    return text.islower() and text.lstrip()[:1].isalpha()


def _grouped(text: str, tokens: list[Token]) -> Iterator[Passage]:
    sizes = sizes_of(tokens)
    if not sizes and (is_round(tokens) or asked_shape(tokens) == HALF_MOON):
        sizes = sizes_of(tokens, round_=True)
    pieces = list(_pieces(tokens, sizes))
    if any(size.pair for size in sizes) and not is_round(tokens):
        sizes = [size for size in sizes if size.label != "radius"]  # of an arch, of corners
    if is_round(tokens):
        sizes = [counted_rounds(size) for size in sizes]
    if sizes:
        sizes = sorted([*sizes, *_rounds(tokens, sizes, pieces)], key=lambda size: size.start)
    groups = _groups(tokens, sizes, pieces)
    for start, end, size, clause, doubt in groups:
        yield _passage(text, tokens, start, end, size, clause, doubt)


def _pieces(tokens: list[Token], sizes: list[Found]) -> Iterator[tuple[int, int]]:
    """Give the parts between commas and joiners, none of them within a size."""
    inside = {place for size in sizes for place in range(size.start + 1, size.end)}
    start = 0
    for place in range(len(tokens)):
        if place in inside or place == start or tokens[place].text not in _WEAK or tokens[place].kind == "number":
            continue
        if tokens[place].text == "-" and tokens[place].start == tokens[place - 1].end:
            continue
        yield start, place
        start = place
    if start < len(tokens):
        yield start, len(tokens)


def _rounds(tokens: list[Token], sizes: list[Found], pieces: list[tuple[int, int]]) -> Iterator[Found]:
    """Give the diameters of parts that hold no other size and speak of something round."""
    for start, end in pieces:
        part = tokens[start:end]
        if not any(start <= size.start < end for size in sizes) and (is_round(part) or asked_shape(part) == HALF_MOON):
            for size in sizes_of(part, round_=True):
                yield replace(size, start=size.start + start, end=size.end + start)


_Group = tuple[int, int, Found | None, tuple[int, int], str]


def _groups(tokens: list[Token], sizes: list[Found], pieces: list[tuple[int, int]]) -> list[_Group]:
    """Put the parts together: a list of start, end, size, its clause, doubt."""
    if not sizes:
        return [(0, len(tokens), None, (0, len(tokens)), "")] if tokens else []
    in_front = any(_counts(tokens, place) for place in range(sizes[0].start)) or sizes[0].count > 0
    behind_last = any(_counts(tokens, place) for place in range(sizes[-1].end, len(tokens)))
    parts = list(_with_one_size(tokens, sizes, pieces, in_front))
    groups: list[list[int]] = []
    waiting = 0
    doubtful: set[int] = set()
    holder: list[Found | None] = []
    for number, (start, end, size) in enumerate(parts):
        counts = any(_counts(tokens, place) for place in range(start, end))
        if size is not None:
            groups.append([waiting, end, start, end])
            holder.append(size)
            waiting = end
        elif holder and (_changes(tokens, start, end) or _another_piece(tokens, start, end)):
            rest = [part for part in parts[number:] if part[2] is not None]
            if not rest:
                groups.append([waiting, len(tokens), start, end])
                holder.append(None)
                waiting = len(tokens)
                break
        elif holder and not (counts and in_front and _size_follows(parts, number)):
            if counts and not in_front and _size_follows(parts, number) and not behind_last:
                doubtful |= {len(groups) - 1, len(groups)}
            if waiting == start:
                groups[-1][1] = waiting = end
    if waiting < len(tokens):
        groups[-1][1] = len(tokens)
    either = {sizes[number].start for number in _alternatives(tokens, sizes)}
    doubts = ["It may be how many of this, or of the next." if number in doubtful else
              "It gives two sizes: which is ordered?" if size is not None and size.start in either else ""
              for number, size in enumerate(holder)]
    return [(start, end, size, (first, last), doubt)
            for (start, end, first, last), size, doubt in zip(groups, holder, doubts, strict=True)]


def _with_one_size(
    tokens: list[Token], sizes: list[Found], pieces: list[tuple[int, int]], in_front: bool
) -> Iterator[tuple[int, int, Found | None]]:
    """Give the parts, those with several sizes split between them."""
    for start, end in pieces:
        held = [size for size in sizes if start <= size.start < end]
        if len(held) < 2:
            yield start, end, held[0] if held else None
            continue
        for size, following in zip(held, [*held[1:], None], strict=True):
            cut = end if following is None else _cut(tokens, size, following, in_front)
            yield start, cut, size
            start = cut


_TURNS = NOT | MAYBE | CHANGE | CANCEL | {"rather", "but", "to", "than", "now", "→"}


def _cut(tokens: list[Token], size: Found, following: Found, in_front: bool) -> int:
    """Return where words between two sizes begin to belong to the second: “instead of”, “not”, “or”."""
    for place in range(size.end, following.start):
        opens = at(tokens, place) == "(" and all(at(tokens, near) != ")" for near in range(place, following.start))
        named = place in _reference(tokens, size, following)
        made = at(tokens, place) in ("as", "into") and is_number(tokens, place + 1)
        if opens or named or made or at(tokens, place) in _TURNS:
            return place
    return size.end if in_front else following.start


def _reference(tokens: list[Token], size: Found, following: Found) -> range:
    """Return the places of a name that stands straight before a size: “600 x 900 Hall: 700 x 900”, “B 700 x 900”."""
    last = following.start - 1
    if last >= size.end and at(tokens, last) in (":", ")"):
        names = range(max(size.end, last - 3), last)
        if names and all(tokens[place].kind == "word" or tokens[place].said == "place" for place in names):
            return range(names.start, last)
        return range(last - 1, last) if len(names) and tokens[last - 1].kind in ("word", "aside") else range(0)
    single = last >= size.end and len(at(tokens, last)) == 1 and at(tokens, last).isalpha()
    labelled = single and at(tokens, last) not in ("a", "w", "h", "l", "d", "x", "m")
    return range(last, last + 1) if labelled or (last >= size.end and tokens[last].said == "place") else range(0)


def _alternatives(tokens: list[Token], sizes: list[Found]) -> set[int]:
    """Return the numbers of sizes that stand for one another: “a or b”, “a compared with b”, “a → b”."""
    found: set[int] = set()
    for number, (size, following) in enumerate(pairwise(sizes)):
        between = {at(tokens, place) for place in range(size.end, following.start)
                   if not _in_brackets(tokens, size.end, place)}
        swapped = bool(_SWAPS & {at(tokens, place) for place in range(size.start)}) and between & {"for", "with", "by"}
        made = between & _MADE_OF or any(at(tokens, place) == "as" and is_number(tokens, place + 1)
                                         for place in range(size.end, following.start))
        changed = {"-", ">"} <= between or (
            "to" in between and any(at(tokens, place) == "from" for place in range(size.start)))
        if swapped or made or changed or between & (MAYBE | {"→", "->", "/", "than", "compared", "versus"}):
            found |= {number, number + 1}
    return found


def _in_brackets(tokens: list[Token], start: int, place: int) -> bool:
    """Say whether a place stands between brackets that open and close behind a size: “(£84 each I think)”."""
    opened = [near for near in range(start, place) if at(tokens, near) == "("]
    shut = [near for near in range(start, place) if at(tokens, near) == ")"]
    closes = any(at(tokens, near) == ")" for near in range(place, len(tokens)))
    return len(opened) > len(shut) and closes


def _size_follows(parts: list[tuple[int, int, Found | None]], number: int) -> bool:
    return any(size is not None for _, _, size in parts[number + 1:])


def _counts(tokens: list[Token], place: int) -> bool:
    """Say whether a token may say how many."""
    if at(tokens, place) in _COUNT_WORDS:
        return True
    if not is_number(tokens, place) or not 1 <= tokens[place].whole <= 500:
        return False
    return not (place + 1 < len(tokens) and tokens[place + 1].unit)


def _changes(tokens: list[Token], start: int, end: int) -> bool:
    words = {at(tokens, place) for place in range(start, end)}
    return bool(words & (CHANGE | CANCEL)) or ("make" in words and bool(words & {"that", "it"}))


def _first_size(tokens: list[Token]) -> int:
    return next((size.start for size in sizes_of(tokens)), 0)


def _another_piece(tokens: list[Token], start: int, end: int) -> bool:
    """Say whether words order a piece of another shape without its size: “and a shaped one for the pediment”."""
    place = start
    while at(tokens, place) in _WEAK:
        place += 1
    label = tokens[place].text.split()[0] if place < end and tokens[place].said == "place" else ""
    ahead = tokens[:_first_size(tokens)]
    if label and any(token.said == "place" and token.text.split()[0] == label for token in ahead):
        return True  # “type 1, 600 x 900, 2 no.; type 2, cut on site”
    if place == start or not (at(tokens, place) in ("a", "an", "another") or is_number(tokens, place)):
        return False
    named = next((near for near in range(place + 1, min(place + 3, end)) if asked_shape(tokens[near:near + 1])), -1)
    return named > 0 and (at(tokens, named + 1) in PIECES or tokens[min(named + 1, len(tokens) - 1)].text == "one")


def _passage(
    text: str, tokens: list[Token], start: int, end: int, size: Found | None, clause: tuple[int, int], doubt: str
) -> Passage:
    while start < end and tokens[start].text in _JOINERS and not (
        tokens[start].text in ("plus", "+") and size is None
    ) and (size is None or start < size.start):
        start += 1
    while end - 1 > start and tokens[end - 1].text in _JOINERS and (size is None or end > size.end):
        end -= 1
    if start >= end:
        return Passage("", [])
    shifted = None if size is None else replace(size, start=size.start - start, end=size.end - start)
    written = text[tokens[start].start:tokens[end - 1].end]
    return Passage(re.sub(r"\s+", " ", written) if "\n" in written else written, tokens[start:end], shifted,
                   (max(clause[0] - start, 0), clause[1] - start), doubt)


