"""Sizes that no pane has, and those that are asked about once, wherever a size is typed. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from studio.kit.errors import DaybookError
from studio.kit.units import Size, show_length, show_size

#: asked about: a side under or over this, in mm. Float glass is made in sheets of 6 m, EN 572-2 (from memory)
ASKED_UNDER_MM, ASKED_OVER_MM = 20, 6000
#: refused: nothing is silvered that is narrower, or longer than the longest sheets anybody makes
LEAST_MM, MOST_MM = 2, 20_000


#: the units that a size is asked to be in, where none was typed
UNITS_ASKED = ("mm", "cm", "in")
#: without a unit a side is asked about under this as millimetres, where centimetres or inches are as likely meant
BARE_UNDER_MM = 100


class NoPane(DaybookError):
    """A size that no pane has."""


def size_question(size: Size) -> str:
    """Return what to ask of a size before it is taken, or "". Raises NoPane for one that cannot be."""
    shown = show_size(size.width_mm, size.height_mm, round_=size.single)
    question = _ask_of_sides(shown, (size.width_mm, size.height_mm), "write the unit on both sides")
    return f"That would be {shown}. {size.doubt}" if size.doubt else question


def unit_question(size: Size, default_unit: str) -> str:
    """Return what to ask of a size that was typed without a unit, or "". Answered by one of UNITS_ASKED.

    default_unit: mm or in, as which it was read.
    """
    if not size.bare:
        return ""
    sides = (size.width_mm, size.height_mm)
    asked = min(sides) < BARE_UNDER_MM if default_unit == "mm" else max(sides) > ASKED_OVER_MM
    return "No unit was typed: which is meant?" if asked else ""


def length_question(length_mm: Fraction) -> str:
    """Return what to ask of one side of a pane, or "". Raises NoPane for one that cannot be."""
    return _ask_of_sides(show_length(length_mm), (length_mm,), "write its unit")


#: columns of what has the size of a pane: of a trial, a line, an offcut, an opening
_SIDES = re.compile(r"(width|height|diagonal)(_\w+)?_mm")


def questions_of_row(row: Any) -> Iterator[str]:
    """Give what to ask of the sides of a row, and how it was typed. Raises NoPane for one that cannot be."""
    for column in row._meta.concrete_fields:
        value = getattr(row, column.name)
        if _SIDES.fullmatch(column.name) and value is not None:
            question = length_question(Fraction(value))
            if question:
                yield question


def refuse_no_pane(row: Any, entry: object = None) -> None:
    """Refuse a row with a size that no pane has, where a book is read. Raises NoPane."""
    list(questions_of_row(row))


def _ask_of_sides(shown: str, sides_mm: tuple[Fraction, ...], remedy: str) -> str:
    least, most = min(sides_mm), max(sides_mm)
    if least < LEAST_MM or most > MOST_MM:
        limit = f"under {LEAST_MM} mm" if least < LEAST_MM else f"over {MOST_MM // 1000} m"
        raise NoPane(f"That is {shown}, and no pane is {limit}: {remedy}.", "size_text")
    if least < ASKED_UNDER_MM:
        return f"That is {shown}, a side under {ASKED_UNDER_MM} mm: is the unit right?"
    if most > ASKED_OVER_MM:
        return f"That is {shown}, a side over {ASKED_OVER_MM // 1000} m: is the unit right?"
    return ""
