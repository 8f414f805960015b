"""An opening and the joint left in it: what finished size remains; sizes that cannot be, or are asked about. Pure."""

from __future__ import annotations

from fractions import Fraction

from studio.kit.errors import DaybookError
from studio.kit.units import Size, show_size

#: asked about: a side under or over this, in mm. Float glass is made in sheets of 6 m, EN 572-2 (from memory)
ASKED_UNDER_MM, ASKED_OVER_MM = 20, 6000
#: refused: nothing is silvered that is narrower, or longer than the longest sheets anybody makes
LEAST_MM, MOST_MM = 2, 20_000


class NothingLeft(DaybookError):
    """The joint takes the whole opening."""

    def __init__(self) -> None:
        super().__init__("The joint leaves nothing of the opening.", "joint_text")


class NoPane(DaybookError):
    """A size that no pane has."""


def finished_size(width_mm: Fraction, height_mm: Fraction, joint_mm: Fraction) -> tuple[Fraction, Fraction]:
    """Return width and height of a pane in an opening, in mm, less the joint at every edge. Raises NothingLeft."""
    if 2 * joint_mm >= min(width_mm, height_mm):
        raise NothingLeft
    return width_mm - 2 * joint_mm, height_mm - 2 * joint_mm


def question_of(size: Size) -> str:
    """Return what to ask of a size before it is taken, or "". Raises NoPane for one that cannot be."""
    shown = show_size(size.width_mm, size.height_mm, round_=size.single)
    least, most = min(size.width_mm, size.height_mm), max(size.width_mm, size.height_mm)
    if least < LEAST_MM or most > MOST_MM:
        limit = f"under {LEAST_MM} mm" if least < LEAST_MM else f"over {MOST_MM // 1000} m"
        raise NoPane(f"That is {shown}, and no pane is {limit}: write the unit on both sides.", "size_text")
    if size.doubt:
        return f"That would be {shown}. {size.doubt}"
    if least < ASKED_UNDER_MM:
        return f"That is {shown}, a side under {ASKED_UNDER_MM} mm: is the unit right?"
    if most > ASKED_OVER_MM:
        return f"That is {shown}, a side over {ASKED_OVER_MM // 1000} m: is the unit right?"
    return ""
