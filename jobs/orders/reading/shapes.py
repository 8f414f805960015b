"""The shape that the words beside a size name, and what a round or square one measures. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from jobs.orders.reading.measures import MM, Measure, at
from jobs.orders.reading.passages import is_round
from jobs.orders.reading.settling import Settled, Surroundings, settle
from jobs.orders.reading.sizes import Found
from jobs.orders.reading.tokens import Token
from jobs.orders.reading.vocabulary import ASKED_SHAPES, HALF_MOON, OVAL, ROUND, SQUARE, TWO_WORD_SHAPES
from studio.kit.rounding import decimal_string
from studio.kit.units import show_length

#: π, far beyond what a diameter is read to
_PI = Fraction("3.14159265358979323846264338327950288419716939937510")


@dataclass(frozen=True)
class Shape:
    """A shape: rectangle, circle or ellipse, or the name of one that is asked about. used: the places of its words."""

    name: str
    asked: bool = False
    used: frozenset[int] = frozenset()


def shape_of(tokens: list[Token], found: Found) -> Shape:
    """Return the shape that a passage names."""
    outside = [place for place in range(len(tokens)) if not found.start <= place < found.end]
    for place in outside:
        pair = at(tokens, place), at(tokens, place + 1)
        if pair in TWO_WORD_SHAPES and not (found.label == "diameter" and TWO_WORD_SHAPES[pair] == "arch"):
            return Shape(TWO_WORD_SHAPES[pair], asked=True, used=frozenset((place, place + 1)))
        word = at(tokens, place)
        if word in ASKED_SHAPES and not (word == "curved" and pair[1] in ("edge", "edges", "corner", "corners")):
            return Shape(ASKED_SHAPES[word], asked=True, used=frozenset((place,)))
    if any(at(tokens, place) in OVAL for place in outside):
        return Shape("ellipse", used=frozenset(place for place in outside if at(tokens, place) in OVAL))
    if found.label in ("diameter", "radius", "circumference") or is_round(tokens):
        return Shape("circle", used=frozenset(place for place in outside if at(tokens, place) in ROUND))
    return Shape("rectangle", used=frozenset(place for place in outside if at(tokens, place) in SQUARE))


@dataclass(frozen=True)
class Measured:
    """What a size is in its shape: the ways it may be meant, what to ask, and what was worked out, as a sentence."""

    options: list[Settled]
    asked: str = ""
    worked_out: str = ""


def measured(found: Found, shape: Shape, around: Surroundings) -> Measured:
    """Return a size as its shape takes it: a radius doubled, a square's one side twice."""
    if found.label == "square":
        side = replace(found.sides[0], label="")
        options, asked = settle(replace(found, sides=(side, side)), around)
        return Measured(options, asked)
    options, asked = settle(found, around)
    if shape.name == HALF_MOON and not found.pair:
        return _half_of(found, options, asked)
    if found.label == "radius" and not shape.asked:
        doubled = [_scaled(option, Fraction(2)) for option in options]
        return Measured(doubled, asked, _said("A radius", found.sides[0], options, doubled))
    if found.label == "circumference":
        across = [_scaled(option, 1 / _PI) for option in options]
        across = [replace(option, text=f"{decimal_string(option.sides_mm[0], 1)} mm") for option in across]
        return Measured(across, asked or "A circumference: is the pane this wide?",
                        _said("A circumference", found.sides[0], options, across))
    if shape.name == "circle" and found.pair and not shape.asked:
        return _across(options, asked)
    if shape.name in ("ellipse", "rectangle") and not found.pair:
        return Measured([], "Only one measure is given: write width × height.")
    return Measured(options, asked)


def _half_of(found: Found, options: list[Settled], asked: str) -> Measured:
    """Return a half-moon of one measure as the rectangle around it: as wide as its straight edge, half as high."""
    doubled = [_scaled(option, Fraction(2)) for option in options]
    wide, high = (doubled, options) if found.label == "radius" else (
        options, [_scaled(option, Fraction(1, 2)) for option in options])
    both = [Settled(f"{one.text} x {other.text}", (*one.sides_mm, *other.sides_mm))
            for one, other in zip(wide, high, strict=True)]
    if not both:
        return Measured([], asked)
    across, height = (show_length(side) for side in both[0].sides_mm)
    return Measured(both, asked, f"Half of {across} across is {height} high.")


def _across(options: list[Settled], asked: str) -> Measured:
    """Read “round 600 x 600 mm” as its diameter; two that differ are no circle."""
    alike = [Settled(_one_side(option), option.sides_mm[:1]) for option in options
             if option.sides_mm[0] == option.sides_mm[1]]
    if len(alike) < len(options):
        return Measured(options, "A round pane has one diameter: is this an oval?")
    return Measured(alike, asked)


def _one_side(option: Settled) -> str:
    return option.text.split(" x ")[-1]


def _scaled(option: Settled, by: Fraction) -> Settled:
    millimetres = option.sides_mm[0] * by
    unit = option.text.rsplit(" ", 1)[-1]
    if by == 2 and unit in ("mm", "cm", "in", "m"):
        worth = millimetres / MM[unit]
        whole, part = divmod(worth, 1)
        decimal = not part or unit != "in"
        text = decimal_string(worth, 6) if decimal else f"{whole} {part}" if whole else str(part)
        return Settled(f"{text} {unit}", (millimetres,))
    return Settled(f"{decimal_string(millimetres, 3)} mm", (millimetres,))


def _said(what: str, measure: Measure, options: list[Settled], worked_out: list[Settled]) -> str:
    if not options:
        return ""
    return f"{what} of {show_length(options[0].sides_mm[0])}: {show_length(worked_out[0].sides_mm[0])} across."
