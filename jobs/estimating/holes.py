"""Holes and sockets: where they lie, whether that is inside the pane, and which are close to cracking.

Seen from the front, measured in mm from the left and the lower edge to the middle. On the back, where the work is
done, left is right: x becomes W − x. Limits: 2·thickness to an edge, and no hole smaller than the thickness
(EN 12150-1, for toughened glass; a caution for all).
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from jobs.estimating.basis import Basis, HoleFacts, LineFacts
from jobs.estimating.refusals import EstimateError, EstimateWarning, WarningKind, warn
from studio.kit.rounding import decimal_string


def from_behind(hole: HoleFacts, width_mm: Fraction) -> HoleFacts:
    """Return a hole as it is measured on the back."""
    return HoleFacts(
        kind=hole.kind, width_mm=hole.width_mm, height_mm=hole.height_mm,
        from_left_mm=width_mm - hole.from_left_mm, from_bottom_mm=hole.from_bottom_mm,
    )


def bare_edge_mm(hole: HoleFacts, line: LineFacts) -> Fraction:
    """Return the least glass left between a hole and the bounding rectangle; below zero it lies outside."""
    return min(
        hole.from_left_mm - hole.width_mm / 2, line.width_mm - hole.from_left_mm - hole.width_mm / 2,
        hole.from_bottom_mm - hole.height_mm / 2, line.height_mm - hole.from_bottom_mm - hole.height_mm / 2,
    )


def check_holes(line: LineFacts) -> None:
    """Refuse a hole that does not lie wholly inside its pane, or that meets another. Raises EstimateError."""
    for at, hole in enumerate(line.holes):
        if bare_edge_mm(hole, line) <= 0:
            raise EstimateError("hole outside the pane", line.name, line.number, hole=_hole_in_words(hole))
        for other in line.holes[at + 1:]:
            apart_x = abs(hole.from_left_mm - other.from_left_mm) - (hole.width_mm + other.width_mm) / 2
            apart_y = abs(hole.from_bottom_mm - other.from_bottom_mm) - (hole.height_mm + other.height_mm) / 2
            if max(apart_x, apart_y) <= 0:
                raise EstimateError("holes meet", line.name, line.number)


def _hole_in_words(hole: HoleFacts) -> str:
    at = f"{decimal_string(hole.from_left_mm, 1)} × {decimal_string(hole.from_bottom_mm, 1)} mm"
    return f"{hole.kind} at {at}"


def hole_warnings(basis: Basis) -> Iterator[EstimateWarning]:
    """Yield a caution for each hole nearer to an edge than twice the thickness, or smaller than the thickness."""
    for line in basis.lines:
        thickness = basis.glasses[line.glass].thickness_mm
        for hole in line.holes:
            kinds: list[WarningKind] = []
            if bare_edge_mm(hole, line) < 2 * thickness:
                kinds.append("hole near an edge")
            if min(hole.width_mm, hole.height_mm) < thickness:
                kinds.append("hole smaller than thick")
            for kind in kinds:
                yield warn(kind, line.name, line=line.number, field="holes_text", hole=_hole_in_words(hole))
