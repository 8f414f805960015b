"""Holes, sockets and cut-outs that a letter speaks of: found before any size is, so that none is read as a pane. Pure.

One whose size and place are certain is drawn in its pane; every other is a mark that stays until somebody acted on it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from jobs.orders.reading.tokens import plain

_UNIT = r"(?:mms?|cms?|m|in|ins|inch|inches|\"|'')"
_FIGURE = r"\d+(?:[.,]\d+)?(?:\s\d/\d{1,2})?"
_LENGTH = rf"{_FIGURE}\s?{_UNIT}?(?![\w])"
_PAIR = rf"{_FIGURE}\s?{_UNIT}?\s?(?:w|h|wide|high)?\s?(?:x|by)\s?{_FIGURE}\s?{_UNIT}?\s?(?:w|h|wide|high)?(?![\w])"
_WORD = re.compile(r"\b(?:(?:drill|screw|fixing)\s)?(?:holes?|notch(?:es)?(?=\W+(?:of\W+)?\d)|cut[\s-]?outs?|"
                   r"corners?\s(?:is\s|are\s|to\sbe\s)?(?:cut|taken|clipped|missing|notched)"
                   r"(?:\s(?:off|out|away))?(?=\W+(?:of\W+|by\W+)?\d)|(?:light|plug|wall|power)?\s?sockets?|"
                   r"light\sswitch(?:es)?)\b(?!-)")
_NONE = re.compile(r"(?:\bno|\bwithout|\bwithout any|\bnot|\bzero|n't|\bany|\bneed for)(?:\s\w+){0,2}\s*$")
_ELSEWHERE = re.compile(r"\bhole\b.{0,12}\bin\s(?:the|our|my|a)\s(?:wall|plaster|floor|tile|ceiling)"
                        r"|\b(?:cover|hide|fill)s?\b.{0,20}\bholes?\b|\bholes?\sare\s(?:already|there)")
#: where the part of a sentence that speaks of a hole may begin
_BEGINS = re.compile(rf"{_PAIR}|[,;(:]|\s[-–]\s|\b(?:with|and|plus|needs?|needing|has|have|having|including|incl|both|"
                     r"each|there(?:'s|\sis|\sare)|in\s(?:it|them))\b")
_JOINS = r"\b(?:and|plus|of|in|on|through)\b"
_OTHER_SIZE = re.compile(rf"(?:[,;&)]|{_JOINS})(?:(?!{_JOINS})[^,;&)]){{0,25}}?(?={_PAIR})")
_SENTENCE = re.compile(r"(?<=[^\d\s][.!?])(?<!\bno\.)(?<!\bnr\.)(?<!\bdia\.)(?<!approx\.)\s+"
                       r"|(?<=\d[.!?])\s+(?=[^\W\d_])|\s*;\s*")
#: how words about a hole go on behind a comma or an “and”; and what is a count of panes instead
_GOES_ON = re.compile(r"\b(?:from|left|right|top|bottom|upper|lower|cent(?:re|er|red|ered)|middle|corners?|"
                      r"dia\w*|apart|up|down|above|below|drawing|sketch|position\w*|place[ds]?|towards?|holes?|cut[\s-]?outs?|"
                      r"sockets?|drill\w*|in\seach)\b|^\W*(?:(?:about|around|approx\w*|roughly)\W+)?\d+(?:[.,]\d+)?\s?(?:mm|cm|in|\")")
_COUNTS = re.compile(r"\b(?:qty|quantity|off|pcs|spares?|identical|of\s(?:them|these|each))\b|@|\bx\s?\d{1,3}\W*$")
_LEAD = re.compile(r"^[\W]*(?:(?:it|they|this|that|one|also|and|please|can|could|you|we|i|the|a|an|will|would|there|is|"
                   r"are|be|to|drill|cut|make|put|needs?|has|have|with|'s|s|for|mirror|pane|glass|panel|also)\W+)*$")

_CENTRE = re.compile(r"\b(?:dead\s)?(?:cent(?:re|er|ral|red|ered)|middle|centrally)\b")
_NOT_CENTRE = re.compile(r"\bcent(?:re|er)s\b|\bto\s(?:the\s)?cent(?:re|er)\b|\b(?:top|bottom|left|right|edge|above|"
                         r"below|line|up|down|along|side|from|hole\scent(?:re|er)s)\b")
_FROM_LEFT = re.compile(rf"({_FIGURE})\s?({_UNIT})?\s(?:in\s)?(?:from|off)\s(?:the\s)?left\b")
_FROM_BELOW = re.compile(rf"({_FIGURE})\s?({_UNIT})?\s(?:up\s)?(?:from|off|above)\s(?:the\s)?"
                         r"(?:bottom|base|lower\sedge|foot)\b")
_ROUND = re.compile(rf"(?:ø\s?)?({_FIGURE})\s?({_UNIT})?\s?(?:ø|dia\w*\.?|diameter)?\s?(?:round\s)?hole\b"
                    rf"|\bhole,?\s(?:of\s|is\s)?(?:ø\s?)?({_FIGURE})\s?({_UNIT})?(?:\s(?:dia\w*|diameter|across|wide))?")
_ABOUT = re.compile(r"\b(?:about|around|approx\w*|roughly|circa|or so|ish)\b|~")
_SEVERAL = re.compile(r"\b(?:holes|two|three|four|five|six|both|each|all|every|per|nos?|off|pair)\b"
                      r"|\b\d+\s?(?:x|no|off)\b")


@dataclass(frozen=True)
class HoleSaid:
    """Words of a row that speak of holes, from start up to end of it.

    drawn: the same as the line's own field for holes reads it, "" where size or place leave anything open.
    """

    start: int
    end: int
    text: str
    drawn: str = ""


def holes_in(row: str) -> Iterator[HoleSaid]:
    """Give the parts of a row that speak of holes, in order and none over another."""
    written = plain(row)
    start = 0
    ends = [(found.start(), found.end()) for found in _SENTENCE.finditer(written)]
    for stop, following in [*ends, (len(written), len(written))]:
        yield from _in_sentence(row, written, start, stop)
        start = following


def without_holes(row: str) -> tuple[str, list[HoleSaid]]:
    """Return a row without what it says of holes, and that."""
    said = list(holes_in(row))
    rest = row
    for hole in reversed(said):
        rest = f"{rest[:hole.start].rstrip(' ')} {rest[hole.end:].lstrip(' ')}".strip(" ")
    if said:
        rest = re.sub(r"\(\s*\)", "", re.sub(r"(,\s*)+,", ",", rest)).strip(" ,")
    return rest, said


_OUTLINE = re.compile(r"\b(?:notch|corner)")


def cuts_the_outline(said: str) -> bool:
    """Say whether words are of a notch or a cut corner, which make the pane another shape."""
    return bool(_OUTLINE.search(plain(said))) and not re.search(r"\b(?:holes?|sockets?)\b", plain(said))


def _in_sentence(row: str, written: str, start: int, stop: int) -> Iterator[HoleSaid]:
    found = _WORD.search(written, start, stop)
    if found is None or _NONE.search(written[start:found.start()]) or _ELSEWHERE.search(written[start:stop]):
        return
    begins = _begin(written, start, found.start())
    end = _end(written, begins, found, stop)
    text = row[begins:end].strip(" ,;:-–(")
    if text:
        drawn = drawn_from(plain(text))
        yield HoleSaid(begins, end, text, drawn)
    if end < stop:
        yield from _in_sentence(row, written, end, stop)


def _end(written: str, begins: int, word: re.Match[str], stop: int) -> int:
    """Return where the words about a hole end: before another pane's size, a count, or words of something else."""
    if written[begins - 1:begins] == "(" and ")" in written[word.end():stop]:
        stop = written.index(")", word.end())
    own = bool(re.search(r"\d", written[begins:word.start()])) or "hole" in word.group()
    for other in _OTHER_SIZE.finditer(written, word.end(), stop):
        if not own and not re.search(_PAIR, written[word.end():other.start()]):
            own = True  # “a socket, 146 x 86 mm”
            continue
        stop = other.start()
        break
    parts = [found.start() for found in re.finditer(r",\s|\band\b", written[word.end():stop])]
    for number, at in enumerate(parts):
        place = word.end() + at
        behind = written[place:word.end() + parts[number + 1] if number + 1 < len(parts) else stop]
        behind = behind.removeprefix(",").removeprefix("and").strip()
        size = not re.search(r"\d", written[begins:place]) and re.match(_PAIR, behind)
        if _COUNTS.search(behind) or not (size or _GOES_ON.search(behind)):
            return place
    return stop


def _begin(written: str, start: int, word: int) -> int:
    """Return where the words about a hole begin: behind the pane's own size, at the joining word before its figure."""
    if _LEAD.fullmatch(written[start:word]):
        return start
    begins = start
    for found in _BEGINS.finditer(written, start, word):
        is_size = bool(re.search(r"\d", found.group()))
        if is_size and re.fullmatch(r"\W*", written[found.end():word]) and begins > start:
            continue  # “with a 146 x 86 mm cut-out”: the size of the cut-out itself
        begins = found.end() if is_size or found.group() in ",;:(" else found.start()
    if _LEAD.fullmatch(written[start:begins]):
        return start
    lead = re.search(r"(?:\b(?:and|it|they|which|that|also|each)\W+)+$", written[start:begins])
    return begins if lead is None else start + lead.start()


def drawn_from(written: str) -> str:
    """Return words about one round hole as the line's field reads them; "" where its size or place is open."""
    size = _ROUND.search(written)
    if size is None or len(_WORD.findall(written)) != 1:
        return ""
    rest = written[:size.start()] + " " + written[size.end():]
    if _SEVERAL.search(written) or _ABOUT.search(written):
        return ""
    across = f"{size[1] or size[3]} {_unit(size[2] or size[4] or 'mm')}"
    if _CENTRE.search(rest) and not _NOT_CENTRE.search(rest) and not re.search(r"\d", rest):
        return f"hole {across} at centre"
    left, below = _FROM_LEFT.search(rest), _FROM_BELOW.search(rest)
    others = re.sub(rf"{_FROM_LEFT.pattern}|{_FROM_BELOW.pattern}", " ", rest)
    if left and below and not re.search(r"\d", others):
        unit = _unit(left[2] or below[2] or size[2] or size[4] or "mm")
        return f"hole {across} at {left[1]} {_unit(left[2] or unit)} x {below[1]} {_unit(below[2] or unit)}"
    return ""


def _unit(written: str) -> str:
    return {"mms": "mm", "cms": "cm", "ins": "in", "inch": "in", "inches": "in", '"': "in", "''": "in"}.get(
        written, written)
