"""Hazard and precautionary statements, pictograms, signal words, and what of them a label shows.

The statements stand in `statements.json` beside this, each with its source. Which pictogram and signal word follow from
a statement is the published table (CLP, Regulation (EC) 1272/2008, Annex I); which stand aside for a graver
one is CLP Articles 26 (pictograms) and 27 (statements); how many precautions a label carries is Article 28.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

#: UN GHS pictograms by code.
PICTOGRAMS: dict[str, str] = {
    "GHS01": "exploding bomb", "GHS02": "flame", "GHS03": "flame over circle", "GHS04": "gas cylinder",
    "GHS05": "corrosion", "GHS06": "skull and crossbones", "GHS07": "exclamation mark", "GHS08": "health hazard",
    "GHS09": "environment",
}

_DATA: dict[str, Any] = json.loads(Path(__file__).with_name("statements.json").read_text(encoding="utf-8"))
_HAZARDS: dict[str, dict[str, Any]] = {row["code"]: row for row in (*_DATA["H"], *_DATA["EUH"])}

#: words of every H and EUH statement, combined ones (“H301+H311”) as well
HAZARD_STATEMENTS: dict[str, str] = {code: row["text"] for code, row in _HAZARDS.items()}

#: words of every P statement, those of the UN that CLP has not taken up and withdrawn ones as well
PRECAUTIONS: dict[str, str] = {row["code"]: row["text"] for row in _DATA["P"]}

#: statements that do not decide alone: code → category → the pictograms and signal word of that category
CATEGORIES: dict[str, dict[str, dict[str, Any]]] = {
    code: row["categories"] for code, row in _HAZARDS.items() if "categories" in row
}

#: signal words, the graver first
SIGNAL_WORDS = ("Danger", "Warning")


#: statements that leave room for what a sheet names: the organs or the route (CLP Annex III), the substance (EUH208)
NAMING = frozenset({"H340", "H341", "H350", "H351", "H360", "H361", "H370", "H371", "H372", "H373", "EUH208"})
MOST_LETTERS_NAMED = 80


def statement_in_words(code: str, named: str = "") -> str:
    """Return a statement's words, with what the sheet names: “May cause damage to organs … exposure (kidneys)”."""
    words = HAZARD_STATEMENTS[code]
    if not named or code not in NAMING:
        return words
    if code == "EUH208":
        return words.replace("<name of sensitising substance>", named)
    return f"{words} ({named})"


@dataclass(frozen=True, kw_only=True)
class Classification:
    """What is entered of one material: statements, the category of those that need one, and what the owner raised.

    categories: of H207, H221, H228, H242, H261 and H272; of those in NAMING what the sheet names. pictograms,
    signal_word: more than follows from statements.
    """

    statements: tuple[str, ...] = ()
    categories: Mapping[str, str] = field(default_factory=dict)
    pictograms: tuple[str, ...] = ()
    signal_word: str = ""
    precautions: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Follows:
    """Pictograms and signal word that follow from statements, before any stands aside for a graver one.

    undecided: statements whose category is not given; the graver is taken for them.
    """

    pictograms: tuple[str, ...] = ()
    signal_word: str = ""
    undecided: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class LabelElements:
    """The hazards on a label: pictograms by code, the signal word, statements by code and in words, precautions."""

    pictograms: tuple[str, ...] = ()
    signal_word: str = ""
    codes: tuple[str, ...] = ()
    statements: tuple[str, ...] = ()
    precautions: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.pictograms or self.signal_word or self.codes)


def graver_word(words: Iterable[str]) -> str:
    """Return Danger where any of some signal words is, else Warning, else none (CLP Article 20)."""
    given = set(words)
    return next((word for word in SIGNAL_WORDS if word in given), "")


def _row(code: str, categories: Mapping[str, str]) -> dict[str, Any]:
    """Return the pictograms and signal word of a statement; without its category, those of the gravest one."""
    if code in CATEGORIES:
        of_each = CATEGORIES[code]
        return of_each.get(categories.get(code, "")) or next(iter(of_each.values()))
    return _HAZARDS[code]


def follows_from(statements: Iterable[str], categories: Mapping[str, str] | None = None) -> Follows:
    """Return the pictograms and signal word that follow from statements by the published table.

    categories: by statement, for the six that do not decide alone. The table of `statements.json` was compared with
    all 4,331 rows of CLP Annex VI, Table 3.
    """
    codes, given = list(statements), categories or {}
    rows = [_row(code, given) for code in codes]
    return Follows(
        pictograms=tuple(sorted({sign for row in rows for sign in row["pictograms"]})),
        signal_word=graver_word(row["signal_word"] for row in rows),
        undecided=tuple(code for code in codes if code in CATEGORIES and given.get(code) not in CATEGORIES[code]),
    )


#: what a graver statement makes superfluous: Article 27 leaves out plain repeats and nothing else
#: (H314 over H318, H410 over H400 as published; EUH071 over H335 and the graver of one route from memory)
_COVERED: dict[str, frozenset[str]] = {code: frozenset(lesser.split()) for code, lesser in {
    "H300": "H301 H302 H303", "H301": "H302 H303", "H302": "H303",
    "H310": "H311 H312 H313", "H311": "H312 H313", "H312": "H313",
    "H330": "H331 H332 H333", "H331": "H332 H333", "H332": "H333",
    "H314": "H315 H316 H318 H319 H320", "H315": "H316", "H318": "H319 H320", "H319": "H320", "EUH071": "H335",
    "H224": "H225 H226 H227", "H225": "H226 H227", "H226": "H227", "H271": "H272",
    "H340": "H341", "H350": "H350i H351", "H350i": "H351", "H370": "H371", "H372": "H373", "H304": "H305",
    "H360FD": "H360 H360F H360D H360Fd H360Df H361 H361f H361d H361fd",
    "H360Fd": "H360 H360F H361 H361f H361d H361fd", "H360Df": "H360 H360D H361 H361f H361d H361fd",
    "H360F": "H360 H361 H361f", "H360D": "H360 H361 H361d", "H360": "H361",
    "H361fd": "H361 H361f H361d", "H361f": "H361", "H361d": "H361",
    "H410": "H400 H401 H402 H411 H412 H413", "H400": "H401 H402", "H401": "H402", "H411": "H401 H412 H413",
    "H412": "H402 H413",
}.items()}


def _parts(code: str) -> list[str]:
    """Return what a combined code is made of; a part in brackets may stand or not."""
    return [part.strip("[]") for part in code.split("+")]


def standing(statements: Iterable[str]) -> tuple[str, ...]:
    """Return the statements that a label shows: plain repeats of a graver one are left out (CLP Article 27).

    A combined statement stands together while all of its parts stand, else the part that is left stands alone.
    """
    entered = set(statements)
    parts = {part for code in entered for part in _parts(code)}
    left = parts - {lesser for code in parts for lesser in _COVERED.get(code, ())}
    shown: list[str] = []
    for code in sorted(entered, key=lambda code: (-len(_parts(code)), code)):
        mine = set(_parts(code))
        if len(mine) > 1 and mine <= left:
            shown.append(code)
            left -= mine
    return tuple(sorted([*shown, *left], key=lambda code: (code.startswith("EUH"), code)))


_IRRITATION = frozenset({"H315", "H316", "H319", "H320"})


def _exclamation_stands(signs: set[str], parts: set[str]) -> bool:
    """Say whether the exclamation mark stays beside the graver pictograms (CLP Article 26 (1) (b) to (d))."""
    if "GHS06" in signs:
        return False
    corrosive, sensitises_lungs = bool(parts & {"H314", "H318"}), "H334" in parts
    if not (corrosive or sensitises_lungs):
        return True
    said_otherwise = _IRRITATION | (frozenset({"H317"}) if sensitises_lungs else frozenset())
    return any("GHS07" in _HAZARDS[code]["pictograms"] for code in parts - said_otherwise)


def label_elements(contents: Iterable[Classification]) -> LabelElements:
    """Return the hazards of everything in a vessel together; a graver one leaves out the lesser that it covers.

    They are those of what is in it, not of the mix: diluted, it may need less. Safety data sheets come first. What was
    raised counts before precedence, which may take it away again. Pictograms that the law lets one leave out (flame
    beside the bomb, cylinder beside flame or skull) stay; where corrosion stands for metals alone (H290), so does the
    exclamation mark.
    """
    things = list(contents)
    followed = [follows_from(thing.statements, thing.categories) for thing in things]
    entered = {code for thing in things for code in thing.statements}
    signs = {sign for thing in things for sign in thing.pictograms}
    signs |= {sign for follows in followed for sign in follows.pictograms}
    if not _exclamation_stands(signs, {part for code in entered for part in _parts(code)}):
        signs.discard("GHS07")
    codes = standing(entered)
    precautions = on_the_label({code for thing in things for code in thing.precautions}, codes)
    return LabelElements(
        pictograms=tuple(sorted(signs)),
        signal_word=graver_word([*(thing.signal_word for thing in things), *(one.signal_word for one in followed)]),
        codes=codes, statements=tuple(statement_in_words(code, _named_together(code, things)) for code in codes),
        precautions=tuple(as_printed(precaution_in_words(code)) for code in precautions),
    )


def _named_together(code: str, things: Iterable[Classification]) -> str:
    """Return what the sheets of several materials name beside one statement."""
    return ", ".join(dict.fromkeys(
        thing.categories[code] for thing in things if code in thing.statements and thing.categories.get(code)
    )) if code in NAMING else ""


#: most precautions on a label, unless the hazard needs more (CLP Article 28 (3))
MOST_PRECAUTIONS = 6

#: hazards whose first aid is never left out, however many precautions that makes
_GRAVE = frozenset({"H300", "H301", "H304", "H310", "H311", "H314", "H318", "H330", "H331", "H334"})

#: precautions that matter most at a bench, in this order, after first aid
_FIRST = ("P280", "P260", "P284", "P210", "P220", "P201", "P203", "P273", "P264", "P261")


def on_the_label(precautions: Iterable[str], statements: Iterable[str]) -> tuple[str, ...]:
    """Return the precautions that a label shows: superfluous ones out, at most six unless the hazard needs more.

    First aid comes first, then protection and what must be kept away, then disposal, then storage. First aid for what
    burns, poisons or takes the breath stands in any case.
    """
    given = set(precautions)
    needed = [code for code in given if not any(set(_parts(code)) < set(_parts(other)) for other in given)]

    def rank(code: str) -> tuple[int, int, str]:
        first = _parts(code)[0]
        group = 0 if "P300" <= first < "P370" else 1 if code in _FIRST else 2 if first.startswith("P2") else 3
        if group == 3:
            group = 3 if first.startswith("P5") else 4
        return group, _FIRST.index(code) if code in _FIRST else 0, code

    ordered = sorted(needed, key=rank)
    first_aid = sum(rank(code)[0] == 0 for code in needed)
    grave = _GRAVE & {part for code in statements for part in _parts(code)}
    most = max(MOST_PRECAUTIONS, first_aid) if grave else MOST_PRECAUTIONS
    return tuple(sorted(ordered[:most]))


def is_precaution(code: str) -> bool:
    """Say whether a code is a P statement, or a combination whose every part is one."""
    return all(part in PRECAUTIONS for part in _parts(code))


def precaution_in_words(code: str) -> str:
    """Return the words of a P statement; of a combination without words of its own, those of its parts."""
    if code in PRECAUTIONS:
        return PRECAUTIONS[code]
    words = ""
    for part in _parts(code):
        words += ("" if not words else " " if words.endswith(":") else ". ") + PRECAUTIONS[part]
    return words


def as_printed(words: str) -> str:
    """Return the words of a precaution as a label prints them: without brackets, and without room for further choices.

    What must be filled in (“Keep wetted with …”) stays to be written by hand.
    """
    words = _BETWEEN.sub(".", words).replace(" [and …]", "").replace("Wash … thoroughly", "Wash thoroughly")
    return _CHOICE.sub("", words).translate({ord("["): None, ord("]"): None})


_BETWEEN, _CHOICE = re.compile(r"/…(?= [A-Z])"), re.compile(r"/…(?! °| lbs)")
