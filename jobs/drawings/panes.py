"""A pane with its holes, seen from the front, and mirrored as it lies to be worked on its back. Pure: no Django."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.basis import HoleFacts
from jobs.estimating.holes import from_behind
from studio.kit.rounding import decimal_string
from studio.kit.units import show_length, show_size


@dataclass(frozen=True, kw_only=True)
class DrawnHole:
    round: bool
    x: str
    y: str
    left: str
    top: str
    width: str
    height: str
    radius: str


@dataclass(frozen=True, kw_only=True)
class PaneDrawing:
    """One side of a pane. words: every hole as it is measured on this side."""

    title: str
    shape: str
    view: str
    width: str
    height: str
    half_width: str
    half_height: str
    stroke: str
    holes: list[DrawnHole]
    words: list[str]


def draw_front(
    shape: str, width_mm: Fraction, height_mm: Fraction, holes: Sequence[HoleFacts], preference: str = "metric"
) -> PaneDrawing:
    """Return the front."""
    return _side("Seen from the front", shape, width_mm, height_mm, holes, preference)


def draw_sides(
    shape: str, width_mm: Fraction, height_mm: Fraction, holes: Sequence[HoleFacts], preference: str = "metric"
) -> list[PaneDrawing]:
    """Return the front, and the back as it is worked."""
    behind = [from_behind(hole, width_mm) for hole in holes]
    return [
        draw_front(shape, width_mm, height_mm, holes, preference),
        _side("On its face, as it is worked: mirrored", shape, width_mm, height_mm, behind, preference),
    ]


def _side(
    title: str, shape: str, width: Fraction, height: Fraction, holes: Sequence[HoleFacts], preference: str
) -> PaneDrawing:
    plain = decimal_string
    rim = max(width, height) / 30
    drawn = []
    for hole in holes:
        y = height - hole.from_bottom_mm
        drawn.append(DrawnHole(
            round=hole.kind == "hole", x=plain(hole.from_left_mm, 2), y=plain(y, 2),
            left=plain(hole.from_left_mm - hole.width_mm / 2, 2), top=plain(y - hole.height_mm / 2, 2),
            width=plain(hole.width_mm, 2), height=plain(hole.height_mm, 2), radius=plain(hole.width_mm / 2, 2),
        ))
    return PaneDrawing(
        title=title, shape=shape, width=plain(width, 2), height=plain(height, 2), half_width=plain(width / 2, 2),
        half_height=plain(height / 2, 2), stroke=plain(rim / 8, 2),
        view=f"{plain(-rim, 2)} {plain(-rim, 2)} {plain(width + 2 * rim, 2)} {plain(height + 2 * rim, 2)}", holes=drawn,
        words=[
            f"{hole.kind} {show_size(hole.width_mm, hole.height_mm, preference, round_=hole.kind == 'hole')}: "
            f"{show_length(hole.from_left_mm, preference)} from the left, "
            f"{show_length(hole.from_bottom_mm, preference)} from below"
            for hole in holes
        ],
    )
