"""Fitting words and pictograms on a label: how large each is set, or that the label is too small. Pure.

Words are measured in the paper's own typefaces and broken at spaces, so that what is said to fit does.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import ceil, sqrt
from pathlib import Path

from PIL import ImageFont

from studio.kit.errors import DaybookError
from studio.stockroom.labels.packages import PackageRule, package_rule
from studio.stockroom.labels.sizes import LabelSize

EXPLOSIVE = "Explosive if it stands or dries: make leftovers safe in this shift."
SEE_SUPPLIER = "See supplier's label."
#: ends what a label says in words: as the pages of caution do
COMES_FIRST = "The supplier's safety data sheets, local codes and licensed practice come first."

_FONTS = Path(__file__).resolve().parents[3] / "static" / "fonts"
_FILES = {"sans": "sans/SourceSansPro-Regular.ttf", "bold": "sans/SourceSansPro-Semibold.ttf",
          "serif": "serif/SourceSerifPro-Semibold.ttf"}
_MEASURED_AT = 1000
#: height of an “x” in the paper's sans serif, of its size
X_HEIGHT = 0.486
MM_PER_POINT = 25.4 / 72
#: smallest letters where no hazard is stated in words: on harmless things, and beside the supplier's own label
_SMALL_PRINT = 6.0
#: of letters' own heights, from line to line; the law asks for 120 %
LINE, NAME_LINE = 1.2, 1.15
#: of the words' letters: those of the signal word, and of the sentence that leads
SIGNAL, FIRST = 1.3, 1.15
GAP, BESIDE = 0.8, 1.5
#: what the paper's engine rounds up, line by line, in mm
SLACK = 0.3
#: narrowest column of statements, in mm
_NARROWEST = 24.0


class LabelTooSmall(DaybookError):
    """A label cannot hold what it must say."""


@dataclass(frozen=True, kw_only=True)
class Wording:
    """What a label says. lines: what it is, each with whether it is set bold; foot: in small print, at the end.

    see_supplier: the supplier's own label stays on, so that statements and precautions are read there. unknown: what of
    it nobody has classed; that is a hazard like another, and no label size leaves it out.
    """

    name: str
    lines: tuple[tuple[str, bool], ...] = ()
    explosive: bool = False
    pictograms: tuple[str, ...] = ()
    signal_word: str = ""
    statements: str = ""
    precautions: str = ""
    unknown: tuple[str, ...] = ()
    see_supplier: bool = False
    foot: str = ""

    @property
    def is_hazardous(self) -> bool:
        return bool(self.pictograms or self.signal_word or self.statements or self.explosive or self.unknown)

    @property
    def first(self) -> str:
        """Return the sentence that leads the label, if one does."""
        return EXPLOSIVE if self.explosive else ""

    @property
    def paragraphs(self) -> tuple[str, ...]:
        """Return what is said of its hazards, below the signal word."""
        if not self.is_hazardous:
            return ()
        if self.see_supplier:
            return tuple(filter(None, (self.unknown_in_words, SEE_SUPPLIER)))
        return tuple(filter(None, (self.unknown_in_words, self.statements, self.precautions, COMES_FIRST)))

    @property
    def unknown_in_words(self) -> str:
        if not self.unknown:
            return ""
        return f"Unknown how it reacts: {', '.join(self.unknown)}. Keep it apart until its data sheet is read."


@dataclass(frozen=True, kw_only=True)
class Setting:
    """How large a label is set: letters in points, the rest in mm.

    pictogram: the side of its red frame, which stands on a point, so that it is drawn across_corners wide. columns: of
    pictograms beside the words; 0 where the words stand below them.
    """

    letters: float
    name_letters: float
    pictogram: float
    columns: int
    words_width: float
    qr: float

    @property
    def across_corners(self) -> float:
        return across_corners(self.pictogram)

    @property
    def letters_mm(self) -> float:
        return self.letters * MM_PER_POINT

    @property
    def name_letters_mm(self) -> float:
        return self.name_letters * MM_PER_POINT

    @property
    def pictograms_width(self) -> float:
        """Return how wide the pictograms beside the words are together, in mm; a hair more."""
        return self.columns * self.across_corners + 0.02


def across_corners(side: float) -> float:
    """Return how wide a square set on a point is, in mm rounded up to a hundredth."""
    return ceil(side * sqrt(2) * 100) / 100


@lru_cache(maxsize=len(_FILES))
def _font(face: str) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(_FONTS / _FILES[face]), _MEASURED_AT)


@lru_cache(maxsize=4096)
def _width(text: str, face: str) -> float:
    """Return how wide some words are, of the letters' size; a little more than measured."""
    return float(_font(face).getlength(text)) / _MEASURED_AT * 1.02


def height_of(text: str, face: str, points: float, width: float, line: float = LINE) -> float:
    """Return the height in mm of words broken at spaces to a width in mm."""
    letters = points * MM_PER_POINT
    space, lines, at = _width(" ", face) * letters, 0, width + 1
    for word in text.split():
        wide = _width(word, face) * letters
        if at + space + wide <= width:
            at += space + wide
        else:
            lines += max(1, ceil(wide / width))
            at = wide if wide <= width else width
    return lines * letters * line


def _heights(wording: Wording, points: float, width: float) -> float:
    """Return the height of the signal word and what is said below it."""
    signal = height_of(wording.signal_word.upper(), "bold", points * SIGNAL, width)
    return signal + sum(height_of(words, "sans", points, width) for words in wording.paragraphs)


def _narrowest(wording: Wording, points: float) -> float:
    """Return the narrowest column that words beside pictograms may stand in: a few words of theirs, or each alone."""
    if not wording.see_supplier or wording.unknown:
        return _NARROWEST
    letters = points * MM_PER_POINT
    widest = max(_width(word, "sans") for word in SEE_SUPPLIER.split())
    return max(widest, _width(wording.signal_word.upper(), "bold") * SIGNAL) * letters


def _hazards(wording: Wording, points: float, pictogram: float, width: float) -> tuple[float, int, float]:
    """Return the least height of pictograms and words, the columns of pictograms, and the width of the words."""
    across, count = across_corners(pictogram), len(wording.pictograms)
    if not count:
        return _heights(wording, points, width), 0, width
    ways = []
    if across <= width:
        below = ceil(count / int(width // across)) * across + _heights(wording, points, width)
        ways.append((below, 0, width))
    for columns in range(1, count + 1):
        left = width - columns * across - BESIDE
        if left >= _narrowest(wording, points):
            ways.append((max(ceil(count / columns) * across, _heights(wording, points, left)), columns, left))
    return min(ways, default=(float("inf"), 0, width))


def _set(wording: Wording, size: LabelSize, points: float, pictogram: float) -> tuple[float, Setting]:
    """Return the height of everything set in some letters and pictograms, and how it is set."""
    width, height = size.width - 2 * size.padding, size.height - 2 * size.padding
    qr = 13.0 if height < 45 else 16.0 if height < 65 else 24.0
    name_letters = points * (1.5 if height < 45 else 1.8)
    left = width - qr - BESIDE
    first = height_of(wording.first, "bold", points * FIRST, width)
    head = max(qr, height_of(wording.name, "serif", name_letters, left, NAME_LINE) + sum(
        height_of(words, "bold" if bold else "sans", points, left) for words, bold in wording.lines
    ))
    hazards, columns, words_width = _hazards(wording, points, pictogram, width)
    foot = height_of(wording.foot, "sans", points, width)
    return first + head + hazards + foot + 3 * GAP + SLACK, Setting(
        letters=points, name_letters=name_letters, pictogram=pictogram, columns=columns, words_width=words_width, qr=qr,
    )


def _pictogram_sides(rule: PackageRule, wording: Wording) -> list[float]:
    if not wording.pictograms:
        return [rule.pictogram]
    if wording.see_supplier:
        return [12, 10]
    sides = [rule.pictogram, 14, 12, rule.least_pictogram]
    return list(dict.fromkeys(side for side in sides if side >= rule.least_pictogram))


def fits(wording: Wording, size: LabelSize, capacity_ml: Fraction) -> Setting | None:
    """Return how a label is set: the largest pictograms first, then the largest letters; None where it is too small."""
    rule = package_rule(capacity_ml)
    in_words = wording.is_hazardous and not wording.see_supplier
    if in_words and not rule.holds(size.width, size.height):
        return None
    least = rule.x_height / X_HEIGHT / MM_PER_POINT if in_words else _SMALL_PRINT
    room = size.height - 2 * size.padding
    for pictogram in _pictogram_sides(rule, wording):
        best = None
        for larger in range(25):
            height, setting = _set(wording, size, least + larger / 4, pictogram)
            if height > room:
                break
            best = setting
        if best is not None:
            return best
    return None


def sizes_for(labels: Iterable[tuple[Wording, Fraction]], sizes: Iterable[LabelSize]) -> list[LabelSize]:
    """Return the sizes that hold every one of some labels, each with its package's mL: the smallest first."""
    wanted = list(labels)
    return sorted((size for size in sizes if all(fits(wording, size, ml) for wording, ml in wanted)),
                  key=lambda size: size.width * size.height)


#: how many larger sizes a refusal names, beside a tie-on tag
_NAMED = 3


def why_too_small(names: Sequence[str], size: LabelSize, larger: Sequence[LabelSize]) -> str:
    """Return the sentence that refuses labels: what does not fit, and which sizes would do."""
    said = " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
    sentence = f"{size.name}, is too small for {said} with all that the label must say. "
    if not larger:
        return sentence + "No size here is large enough for all of them: print fewer at once, or write labels by hand."
    sheets, tags = [one for one in larger if not one.is_tag], [one for one in larger if one.is_tag]
    return sentence + f"Large enough are {'; '.join(one.name for one in [*sheets[:_NAMED], *tags[:1]])}."


def smallest(wording: Wording, sizes: Iterable[LabelSize], capacity_ml: Fraction) -> tuple[LabelSize, Setting]:
    """Return the first of some sizes that fits, and how it is set. Raises LabelTooSmall."""
    tried = list(sizes)
    for size in tried:
        if setting := fits(wording, size, capacity_ml):
            return size, setting
    raise LabelTooSmall(why_too_small([wording.name], tried[-1], ()))
