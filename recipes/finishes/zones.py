"""The part of a face that a step treats: all of it, a rim, or corners and masks. Pure.

A rim of width r is the shape less the shape shrunk by r on every side: rectangle w·h − (w − 2r)(h − 2r), circle and
ellipse π/4·(w·h − (w − 2r)(h − 2r)), by their axes. Where nothing is left inside, the rim is the whole face. Of another
shape no rim is known: it is that of its bounding rectangle, and no more than the pane.
Corners and masks are a share of the face: a recipe is written once, for panes of all sizes.
"""

from __future__ import annotations

from fractions import Fraction

from recipes.facts import StepFacts
from studio.kit.rounding import decimal_string
from studio.kit.units import show_length


def inside_rim_mm(step: StepFacts, width_mm: Fraction, height_mm: Fraction) -> tuple[Fraction, Fraction] | None:
    """Return width and height of what a rim leaves untreated; None where it leaves nothing, or there is no rim."""
    inside = width_mm - 2 * step.rim_width_mm, height_mm - 2 * step.rim_width_mm
    return inside if step.zone == "rim" and min(inside) > 0 else None


def zone_words(zone: str, rim_width_mm: Fraction, share: Fraction, preference: str = "metric") -> str:
    """Return “Only a rim, 30 mm wide.”, or "" for the whole face."""
    if zone == "rim":
        return f"Only a rim, {show_length(rim_width_mm, preference)} wide."
    return f"Only corners or a mask, {decimal_string(share * 100, 2)} % of the face." if zone == "part" else ""
