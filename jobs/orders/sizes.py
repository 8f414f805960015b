"""An opening and the joint left in it: what finished size remains. Pure."""

from __future__ import annotations

from fractions import Fraction

from studio.kit.errors import DaybookError


class NothingLeft(DaybookError):
    """The joint takes the whole opening."""

    def __init__(self) -> None:
        super().__init__("The joint leaves nothing of the opening.", "joint_text")


def finished_size(width_mm: Fraction, height_mm: Fraction, joint_mm: Fraction) -> tuple[Fraction, Fraction]:
    """Return width and height of a pane in an opening, in mm, less the joint at every edge. Raises NothingLeft."""
    if 2 * joint_mm >= min(width_mm, height_mm):
        raise NothingLeft
    return width_mm - 2 * joint_mm, height_mm - 2 * joint_mm
