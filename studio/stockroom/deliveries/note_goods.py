"""Which good of the stockroom a line of a delivery note names: sure, or asked with what it may be. Pure: no Django."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.typed_numbers import is_whole, read_exact, whole_number

_WORD = re.compile(r"[^\W_]+")
_PERCENT = re.compile(r"(?<![\w.,])([0-9]{1,3}(?:[.,][0-9]{1,6})?)\s*(?:[-–]\s*([0-9]{1,3}(?:[.,][0-9]{1,6})?)\s*)?%")
_CAS = re.compile(r"\b(?:CAS\s*(?:no\.?|nr\.?)?\s*:?\s*)?([0-9]{2,7}-[0-9]{2}-[0-9])\b", re.IGNORECASE)
_SHEET = re.compile(r"([0-9]{3,4})\s*(?:mm)?\s*[x×*]\s*([0-9]{3,4})\s*(?:mm)?")

#: words that say how pure or in what it comes, and not that it is something else
_BENIGN = frozenset("""
    a acs amber analar and ar at bag bags bottle bottles box boxes bp can cans chemically coarse crystal
    crystalline crystallised crystals danger drum drums ea each eur extra fine flakes for glass grade granular
    granules hdpe high in item jar jars jerrycan jerrycans lab laboratory min minimum net new of p pa pack packs
    pane panes pearls pellets per ph plastic powder price pure puriss purity purum qty reagent reagents sheet
    sheets stock the tin tins total tub tubs ultra un usp x à
""".split())  # noqa: SIM905

#: words that many goods share: they tell nothing
_OFTEN = frozenset({"solution", "chloride", "acid", "nitrate", "hydroxide", "dihydrate", "water", "sodium", "salt"})


@dataclass(frozen=True, kw_only=True)
class Good:
    """A material of the stockroom as notes may name it. strength: by mass; sheet_mm: width and height of a sheet."""

    code: str
    name: str
    synonyms: tuple[str, ...] = ()
    cas: str = ""
    formula: str = ""
    strength: Fraction | None = None
    sheet_mm: tuple[int, int] | None = None


@dataclass(frozen=True, kw_only=True)
class Named:
    """What a text names. code: "" while it is asked; likely: codes it may be, best first; why: it is asked."""

    code: str = ""
    likely: tuple[str, ...] = ()
    why: str = ""


def _words(text: str) -> list[str]:
    return _WORD.findall(text.casefold().replace("sulph", "sulf"))


def _percents(text: str) -> list[tuple[Fraction, Fraction]]:
    """Return the shares that a text names, from and to."""
    found = []
    for low, high in _PERCENT.findall(text):
        start = read_exact(low.replace(",", ".")) / 100
        found.append((start, read_exact(high.replace(",", ".")) / 100 if high else start))
    return found


def name_of(text: str, goods: Sequence[Good]) -> Named:
    """Return which good a text names, what was cut out of it aside.

    Sure only where one good has all its words there, at its strength, and nothing is left over that could make it
    another.
    """
    numbers = _CAS.findall(text)
    rest = _CAS.sub(" ", text)
    strengths = _percents(rest)
    words = _words(_PERCENT.sub(" ", rest))
    found = [(len(used), good, left) for good in goods
             if (match := _match(good, words, numbers)) is not None for used, left in [match]]
    if not found:
        return Named(likely=_near(words, goods), why="Which material is it? Nothing in the stockroom is called so.")
    most = max(count for count, _, _ in found)
    best = [(good, left) for count, good, left in found if count == most]
    fitting = [(good, left) for good, left in best if _strength_fits(good, strengths)]
    likely = tuple(good.code for good, _ in (fitting or best))
    if len(fitting) != 1:
        return Named(likely=likely, why="Which of these is it?" if len(best) > 1 else
                     f"Is it {best[0][0].name}? Its strength is another, or not given.")
    good, left = fitting[0]
    strange = _strange(good, left, rest, strengths)
    if strange:
        return Named(likely=likely, why=f"Is it {good.name}? “{' '.join(strange)}” was not understood.")
    return Named(code=good.code, likely=likely)


def _near(words: list[str], goods: Sequence[Good]) -> tuple[str, ...]:
    """Return the goods that share a telling word with a line: to be offered first, never taken."""
    telling = {word for word in words if len(word) > 3 and not is_whole(word)} - _BENIGN - _OFTEN
    return tuple(good.code for good in goods if telling & set(_words(" ".join((good.name, *good.synonyms)))))


def _match(good: Good, words: list[str], numbers: list[str]) -> tuple[list[str], list[str]] | None:
    """Return the words of a good's longest name that a line has, and those it has besides; None where it has no name.

    A CAS number that is another substance's is never this good.
    """
    if numbers and good.cas and good.cas not in numbers:
        return None
    names = sorted((_words(_PERCENT.sub(" ", name)) for name in (good.name, *good.synonyms)), key=len, reverse=True)
    for name in names:
        if name and all(word in words for word in name):
            left = list(words)
            for word in name:
                left.remove(word) if word in left else None
            return name, left
    if good.cas and good.cas in numbers:
        return [good.cas], [word for word in words if word not in _words(" ".join((good.name, *good.synonyms)))]
    return None


def _strength_fits(good: Good, strengths: list[tuple[Fraction, Fraction]]) -> bool:
    """Say whether a line's strengths are a good's: none is named where the good has none, or only a purity."""
    named = _percents(good.name)
    if not named:
        return all(low >= Fraction(9, 10) for low, _ in strengths)
    low, high = named[0]
    near = Fraction(1, 200)
    return any(start <= high + near and end >= low - near for start, end in strengths)


def _strange(good: Good, left: list[str], rest: str, strengths: list[tuple[Fraction, Fraction]]) -> list[str]:
    """Return the words that a good's name leaves over, and that may make it another."""
    own = set(_words(" ".join((good.name, *good.synonyms, good.formula))))
    sheet = _SHEET.search(rest)
    if sheet is not None and good.sheet_mm is not None:
        if {whole_number(sheet[1]), whole_number(sheet[2])} != set(good.sheet_mm):
            return [sheet[0]]
        own |= {sheet[1], sheet[2], "x", "mm", f"{sheet[1]}mm", f"{sheet[2]}mm", f"{sheet[1]}x{sheet[2]}"}
    return [word for word in left if word not in own and word not in _BENIGN]
