"""The unit of a size: as written, as the letter says, or asked where it could be several. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from jobs.orders.reading.measures import MM, Measure
from jobs.orders.reading.sizes import Found
from studio.kit.errors import DaybookError
from studio.kit.pane_sizes import ASKED_OVER_MM, ASKED_UNDER_MM
from studio.kit.units import parse_size

_METRIC = ("mm", "cm", "m")


@dataclass(frozen=True)
class Surroundings:
    """What the rest of the letter says of a size.

    default_unit: the studio's, of a bare number. said_unit: of the letter's own sentence, "" without one.
    height_first: “sizes are H x W”. in_mm_all_along: other bare sizes of the letter can only be mm.
    """

    default_unit: str = "mm"
    said_unit: str = ""
    height_first: bool = False
    in_mm_all_along: bool = False


@dataclass(frozen=True)
class Settled:
    """A size as it may be meant: its text with units, its sides in mm."""

    text: str
    sides_mm: tuple[Fraction, ...]

    @property
    def plausible(self) -> bool:
        return all(ASKED_UNDER_MM <= side <= ASKED_OVER_MM for side in self.sides_mm)


def settle(found: Found, around: Surroundings) -> tuple[list[Settled], str]:
    """Return what a size may be, the likeliest first, and what is to be asked, "" where it is sure.

    Without a reading that a pane can have, the list is empty and the sentence says why.
    """
    sides = _width_first(found.sides, around)
    written = [side.unit for side in sides]
    if all(written):
        options, asked = _written(sides), ""
    elif any(written):
        options, asked = _from_the_other(sides)
    else:
        options, asked = _bare(sides, around)
    sane = [option for option in options if option.plausible]
    if not sane:
        return [], "No pane has that size in any unit: write the unit of both sides."
    if len(sane) > 1 and not asked:
        asked = "A comma can mean thousands or decimals: which size is it?"
    if len(sane) < len(options) and len(sane) == 1 and not asked and len(options) == 1:
        asked = "Is the unit right?"
    return sane, asked


def _width_first(sides: tuple[Measure, ...], around: Surroundings) -> tuple[Measure, ...]:
    labels = [side.label for side in sides]
    if labels in (["h", "w"], ["h", "l"], ["h", ""], ["", "w"]) and len(sides) == 2:
        return sides[1], sides[0]
    if len(sides) == 2 and around.height_first and not any(labels):
        return sides[1], sides[0]
    return sides


def settled(sides: tuple[Measure, ...], units: tuple[str, ...], values: tuple[Fraction | None, ...]) -> Settled | None:
    """Return a size with these units; None where the house's own reading of its text would be another size."""
    millimetres = tuple(side.in_mm(unit, value) for side, unit, value in zip(sides, units, values, strict=True))
    texts = [side.text(unit, value) for side, unit, value in zip(sides, units, values, strict=True)]
    same = len(sides) == 2 and all(len(side.parts) == 1 for side in sides)
    if same and (sides[0].unit or units[0]) == (sides[1].unit or units[1]):
        texts[0] = texts[0].rsplit(" ", 1)[0]
    text = " x ".join(texts)
    try:
        read = parse_size(text, units[0] or "mm")
    except DaybookError:
        return None
    expected = (millimetres[0], millimetres[-1])
    near = all(abs(one - other) < Fraction(1, 10**5) for one, other in
               zip((read.width_mm, read.height_mm), expected, strict=True))
    return Settled(text, millimetres) if near else None


def _all(sides: tuple[Measure, ...], units: tuple[str, ...]) -> Iterator[Settled]:
    """Give a size for each worth that its numbers may have: “1,250” is thousands in mm, decimals in m."""
    choices = [_worths(side, side.unit or unit) for side, unit in zip(sides, units, strict=True)]
    for first in choices[0]:
        for second in choices[1] if len(sides) == 2 else (None,):
            values = (first, second) if len(sides) == 2 else (first,)
            option = settled(sides, units, values)
            if option is not None:
                yield option


def _worths(side: Measure, unit: str) -> tuple[Fraction, ...]:
    values = side.number.values
    if len(values) == 1:
        text = side.number.text
        if unit == "mm" and _three_decimals(text) and values[0] < 10:
            return (values[0] * 1000,)  # “1.250 x 800”: with a point for thousands or in metres, it is 1250 mm
        return values
    return {"mm": values[:1], "m": values[1:], "ft": values[1:]}.get(unit, values)


def _three_decimals(text: str) -> bool:
    return text[1:2] in (".", ",") and len(text) == 5


def _written(sides: tuple[Measure, ...]) -> list[Settled]:
    return list(_all(sides, tuple(side.unit for side in sides)))


def _from_the_other(sides: tuple[Measure, ...]) -> tuple[list[Settled], str]:
    """Read “61 x 91 cm”: a unit on one side counts for both, as far as a pane goes."""
    known = next(side for side in sides if side.unit)
    bare = next(side for side in sides if not side.unit)
    figure = bare.number.values[0]
    unit, asked = known.last_unit, ""
    if known.unit == "m" and figure >= 100:
        unit = "mm"
    elif known.unit == "m" and figure > 6:
        unit, asked = "cm", f"One side is in metres: what is {bare.number.text} in?"
    elif known.unit == "ft" and len(known.parts) == 1 and figure > 12:
        unit, asked = "in", f"One side is in feet: what is {bare.number.text} in?"
    elif known.unit in _METRIC and bare.number.fraction:
        unit, asked = "in", "A fraction is mostly inches, and the unit that is written is metric: which is it?"
    options = list(_all(sides, tuple(side.unit or unit for side in sides)))
    if any(option.plausible for option in options) and not asked:
        return options, ""
    others = [other for other in ("mm", "cm", "in", "m") if other != unit]
    return options + [option for other in others for option in _all(sides, tuple(s.unit or other for s in sides))], (
        asked or f"One side has no unit: what is {bare.number.text} in?")


def _bare(sides: tuple[Measure, ...], around: Surroundings) -> tuple[list[Settled], str]:
    """Read a size without any unit: by the letter's own words, as inches with a fraction, by the studio's unit."""
    unit = around.said_unit
    if not unit and any(side.number.fraction for side in sides):
        unit = "in"
    if unit:
        options = list(_all(sides, (unit,) * len(sides)))
        if any(option.plausible for option in options):
            return options, ""
        return options + _guesses(sides, unit), f"In {unit} that would be no pane: what is it in?"
    sure = list(_all(sides, (around.default_unit,) * len(sides)))
    if len(sure) == 1 and _sure(sides, sure[0], around):
        return sure, ""
    guesses = _guesses(sides, "")
    if around.default_unit == "in":
        guesses = [*sure, *(guess for guess in guesses if guess not in sure)]
    return guesses, f"No unit is written: what is it in?{_grouped_as(sides, guesses)}"


def _grouped_as(sides: tuple[Measure, ...], guesses: list[Settled]) -> str:
    """Say that the comma of “1,500” is read as grouping thousands, where each reading takes it so."""
    read = [(side.number.text, str(side.number.values[0])) for side in sides if len(side.number.values) > 1]
    taken = [f" “{written}” is read as {whole}: the comma groups thousands." for written, whole in read
             if guesses and all(whole in guess.text.split() for guess in guesses if guess.plausible)]
    return "".join(taken)


def _sure(sides: tuple[Measure, ...], option: Settled, around: Surroundings) -> bool:
    """Say whether bare numbers can only be in the studio's own unit."""
    figures = [side_mm / MM[around.default_unit] for side_mm in option.sides_mm]
    if around.default_unit == "mm":
        least, most = (20, 100) if around.in_mm_all_along else (100, 250)
        return min(figures) >= least and max(figures) >= most and max(figures) <= ASKED_OVER_MM
    return min(figures) >= 3 and 12 <= max(figures) <= 144


def _guesses(sides: tuple[Measure, ...], but: str) -> list[Settled]:
    most = max(side.number.values[0] for side in sides)
    order = ("ft", "in", "m", "cm", "mm") if most <= 12 else ("cm", "in", "mm", "ft", "m")
    alike = [option for unit in order if unit != but for option in _all(sides, (unit,) * len(sides))]
    return [*_mixed(sides), *alike]


def _mixed(sides: tuple[Measure, ...]) -> Iterator[Settled]:
    """Give “1.20 by 80” as metres by centimetres, “1.2 x 800” as metres by millimetres."""
    metres = ["." in side.number.text or "," in side.number.text for side in sides]
    if len(sides) != 2 or sum(metres) != 1 or sides[metres.index(True)].number.values[0] >= 10:
        return
    other = sides[metres.index(False)].number.values[0]
    small = "mm" if other >= 250 else "cm"
    if other >= 20:
        yield from _all(sides, tuple("m" if one else small for one in metres))
