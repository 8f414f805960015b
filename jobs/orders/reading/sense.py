"""What kind of sentence a size stands in: ordered, of an opening or a wall, once upon a time, or taken back. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from jobs.orders.reading.manner import is_manner
from jobs.orders.reading.measures import Measure, at
from jobs.orders.reading.passages import Passage
from jobs.orders.reading.sizes import Found, beside
from jobs.orders.reading.tokens import Token
from jobs.orders.reading.vocabulary import (
    CANCEL,
    CHANGE,
    FRAMES,
    HOLES,
    LIKE,
    MAYBE,
    NOT,
    OPENINGS,
    PAST,
    PIECES,
    THINGS,
)

_LINKS = {"is", "are", "of", "measures", "measuring", "measure", "measured", "size", "sizes", "sized", ":", "-", "=",
          "at", "dimensions", "(", "outside", "inside", "internal", "external", "internally", "externally", "which",
          "it", "comes", "the", "about", "approx", "approximately", "roughly", "exactly", "to", "out", "be", "itself",
          "we", "have", "will", "in", "and", "overall", "structural", "finished", "clear", "around", "tight", ",",
          "there", "can", "could", "may", "should", "must", "says", "say", "said", "reads"}
_IS = {"is", "are", "of", "measures", "measuring", "measure", "measured", "comes", "size", "dimensions", "be", "sized",
       "says", "say", "said", "reads"}
_STRICT_THINGS = {"wall", "walls", "room", "rooms", "ceiling", "floor", "window", "windows", "crate", "box", "doorway"}
#: things that no pane is hung in, so that a size straight behind them is theirs
_NOT_HUNG = {"tv", "television", "fireplace", "radiator", "bed", "sofa", "sideboard", "mantelpiece", "chimneybreast",
             "picture", "painting", "headboard", "desk"}
_BESIDE = {"for", "above", "beside", "behind", "over", "near", "flanking", "between", "under", "opposite", "either",
           "of"}
_WHERE = _BESIDE - {"of", "either"} | {"in", "at", "on"}
_FIT = {"fit", "fits", "into", "inside", "within", "fill", "fills"}


@dataclass
class Sense:
    """What is said about the size of a passage.

    negated: “not 600 x 900”; cancelled: “scrap the 600 x 900”; changed: “sorry, I meant …”.
    of: "" a pane, "opening", "frame", "thing" or "hole". doubts: why it may not be ordered, each a sentence.
    points: words ahead take one of several sizes back, by its place in the list.
    """

    negated: bool = False
    cancelled: bool = False
    changed: bool = False
    points: bool = False
    of: str = ""
    noun: str = ""
    doubts: list[str] = field(default_factory=list)


def sense_of(passage: Passage) -> Sense:
    """Return what a passage with a size says about it."""
    tokens, found = passage.tokens, passage.found
    assert found is not None
    sense = Sense()
    _of_what(tokens, found, sense)
    start, end = passage.clause
    words = {at(tokens, place) for place in range(max(start, 0), min(end, len(tokens))) if not is_manner(tokens, place)}
    before = [at(tokens, place) for place in range(max(0, found.start - 4), found.start)]
    ahead = {at(tokens, place) for place in range(found.start)}
    sense.negated = _negated(before)
    sense.cancelled = (not sense.negated and bool((CANCEL - {"leave", "skip", "drop", "void"}) & words)) or (
        bool({"leave", "skip", "drop"} & ahead))
    sense.cancelled |= bool({"don't", "dont", "no"} & ahead and {"need", "want", "require"} & ahead and
                            not {"no"} <= ahead) or ("longer" in ahead and "no" in ahead)
    sense.changed = bool(CHANGE & (words | ahead)) or ("make" in ahead and bool({"that", "it"} & ahead))
    sense.changed |= any(at(tokens, place) in CANCEL and at(tokens, place + 1) in ("that", "this", "it")
                         for place in range(min(start, found.start)))
    if sense.cancelled and words_pointing(ahead):  # “Ignore the second: 600 x 900, 700 x 900”
        sense.cancelled, sense.points = False, True
    _doubt(sense, words, ahead)
    return sense


def words_pointing(ahead: set[str]) -> bool:
    """Say whether words with a colon behind them point at one of several sizes."""
    return ":" in ahead and bool(ahead & {"second", "third", "fourth", "last", "other", "former", "latter", "first"})


def _negated(before: list[str]) -> bool:
    """Say whether the last words before a size turn it away: “not”, “instead of”, “rather than”."""
    joined = " ".join(word for word in before if word)
    if any(phrase in joined for phrase in ("instead of", "rather than", "in place of", "replacing")):
        return True
    return bool(set(before[-3:]) & (NOT - {"except", "without", "excluding"})) and not joined.endswith(("not only",))


def _doubt(sense: Sense, words: set[str], ahead: set[str]) -> None:
    if (PAST & words and not _harmless_past(words)) or {"it", "measured"} <= words | ahead:
        sense.doubts.append("It may speak of earlier glass")
    if MAYBE & words:
        sense.doubts.append("It may not be settled yet")
    if LIKE & words and not sense.of:
        sense.doubts.append("It may be a comparison or a limit")


def _harmless_past(words: set[str]) -> bool:
    """Say whether words of the past say how a pane is to look: “antiqued as last time”."""
    return not (words & PAST - {"last", "before", "previous", "previously", "existing"}) and (
        "as" in words or ("match" in words or "matching" in words))


def _of_what(tokens: list[Token], found: Found, sense: Sense) -> None:
    noun = _noun_before(tokens, found) or _noun_behind(tokens, found) or _fitted(tokens, found)
    if not noun:
        return
    sense.noun = noun
    sense.of = ("opening" if noun in OPENINGS else "frame" if noun in FRAMES else "hole" if noun in HOLES else "thing")


def _noun_before(tokens: list[Token], found: Found) -> str:
    """Return the thing that a size is said to be of: “the opening is …”, “a wall of …”, “recess …”."""
    place, linked = found.start - 1, set[str]()
    while place >= 0 and (at(tokens, place) in _LINKS or tokens[place].said == "place"):
        if tokens[place].kind == "aside":
            noun = tokens[place].text.split()[0].strip("-:.")
            return noun if noun in OPENINGS | FRAMES | _STRICT_THINGS else ""
        linked.add(at(tokens, place))
        place -= 1
    noun = at(tokens, place)
    first_in_row = tokens[0].start == 0
    if noun in _NOT_HUNG and place + 1 == found.start and (place == 0 or not first_in_row):
        return noun  # “a TV 1200 x 700”; “over the fireplace 600 x 900” at the head of a row says where it goes
    if noun in THINGS and {at(tokens, near) for near in range(max(0, place - 3), place)} & _WHERE:
        return ""  # “for the powder room: …” says where it goes
    if noun in OPENINGS | FRAMES | HOLES:
        return "" if noun in FRAMES and at(tokens, place - 1) in ("with", "no", "without") else noun
    if noun in ("floor", "room") and place > 0 and ":" in linked and not linked & _IS and found.count:
        return ""  # “Ground floor: 2 x 900 x 2100”
    if noun in THINGS and (linked & _IS or (":" in linked and noun in _STRICT_THINGS)):
        return noun
    return ""


def _noun_behind(tokens: list[Token], found: Found) -> str:
    """Return the thing named straight after a size: “600 x 900 mm opening”, but not “wall mirror”."""
    place = found.end
    while at(tokens, place) in ("(", "is", "the", "-", "clear", "structural", ":", "being", "my", "our", "outside",
                                "overall", "internal", "a", "for", "an", "wide", "high"):
        if at(tokens, place) in ("for",):
            return ""
        place += 1
    noun, following = at(tokens, place), at(tokens, place + 1)
    if noun in OPENINGS | FRAMES | HOLES | THINGS and following not in PIECES - {"size", "sizes", "unit", "units"}:
        return noun
    return ""


def _fitted(tokens: list[Token], found: Found) -> str:
    """Return an opening or a frame that the pane is to fit, wherever it is said: the size may be of either."""
    for place in range(len(tokens)):
        word = at(tokens, place)
        if word not in OPENINGS | FRAMES or at(tokens, place + 1) in PIECES - {"size"}:
            continue
        lead = {at(tokens, near) for near in range(max(0, place - 4), place)}
        if word in FRAMES and not lead & _FIT and not any(at(tokens, near) == "fit" for near in range(found.start)):
            continue
        if word in OPENINGS and place > found.end and lead & _BESIDE and not lead & _FIT:
            continue
        if word in ("gap", "gaps", "slot", "slots") and not lead & _FIT:
            continue
        return word
    return ""


@dataclass(frozen=True)
class Deduction:
    """What is to be taken off an opening: the length and whether at every edge ("edge"), in all ("all") or unsaid."""

    measure: Measure | None
    where: str


OFF = {"deduct", "deducting", "minus", "less", "subtract", "subtracting", "clearance", "clearances", "allow",
        "allowing", "allowance", "reduce", "knock", "tolerance", "smaller", "joint", "joints"}
_EDGE = ("all round", "all around", "all-round", "each side", "every side", "per side", "each edge", "every edge",
         "per edge", "either side", "both sides", "all sides", "all four sides", "all edges", "round the edge",
         "a side", "all the way round", "all four edges", "around the perimeter", "perimeter",
         "at the edges")
_ALL_OF_IT = ("in all", "in total", "overall", "altogether", "total", "off each dimension", "off both dimensions",
              "each dimension", "both dimensions", "each measurement", "both measurements",
              "off the width and height", "off width and height", "both ways", "each way", "from each dimension",
              "off each measurement", "from width and height", "off both", "each direction", "off each")


_WHERE_OFF = "|".join(_EDGE + _ALL_OF_IT).replace(" ", r"\s")
#: the words of a note that say what is taken off, for a figure and where
DEDUCTED = re.compile(
    r"(?:\b(?:please|pls|and|but|so|then|you|can|should|must|to|be|we|i|with|an?|the)\s)*"
    rf"\b(?:{'|'.join(sorted(OFF, key=len, reverse=True))}|take|taken|leave|leaving)\b[^,;.]*?"
    r"\d+(?:[.,]\d+)?(?:\s\d/\d+)?\s?(?:mms?|cms?|m|ins?|inch(?:es)?|\")?"
    r"(?:\s(?:off|for|clearance|joint|gap|tolerance|smaller|less|please|pls|thanks))*"
    rf"(?:[\s,]*(?:{_WHERE_OFF}))?(?:\s(?:for|please|pls)(?:\s(?:fitting|clearance|it|that|this))?)*", re.IGNORECASE)


def deduction_of(tokens: list[Token], found: Found | None) -> Deduction | None:
    """Return what a passage says is to be taken off, None where it says nothing of the kind."""
    words = ["" if at(tokens, place) == "reduce" and at(tokens, place + 1) == "to" else at(tokens, place)
             for place in range(len(tokens))]  # “reduce to four” counts
    said = " ".join(word for word in words if word)
    left = bool(set(words) & {"leave", "leaving"}) and any(way in said for way in _EDGE)
    if not (set(words) & OFF or left or "take off" in said or "taken off" in said
            or ("take" in words and "off" in words)):
        return None
    taken = [found] if found else []
    measures = [measure for measure in beside(tokens, taken) if measure.in_mm("mm") <= 60]
    if not measures:
        return Deduction(None, "")
    where = "edge" if any(way in said for way in _EDGE) else "all" if any(way in said for way in _ALL_OF_IT) else ""
    return Deduction(measures[0], where)
