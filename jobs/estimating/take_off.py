"""Take-off: areas, perimeters, masses and wetted areas of what was ordered, in mm, m² and kg.

Formula: rectangle A = W·H; circle: A = π d²/4. Ellipse: A = π w h / 4, perimeter by Ramanujan's second
approximation (Modular equations and approximations to π, 1914).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.basis import EdgeFacts, GlassFacts, LineFacts
from jobs.estimating.refusals import EstimateError
from recipes.facts import SPRAYED, StepFacts
from recipes.finishes.zones import inside_rim_mm
from studio.kit.rounding import PI, square_root

MM2_PER_M2 = 1_000_000
#: Soda-lime float glass weighs 2.5 kg per m² and mm of thickness (EN 572-1, density 2,500 kg/m³).
GLASS_KG_PER_M2_MM = Fraction(5, 2)


@dataclass(frozen=True, kw_only=True)
class TakeOff:
    """What one finished pane of a line measures."""

    line: LineFacts
    area_m2: Fraction
    perimeter_m: Fraction
    bounding_m2: Fraction
    cut_width_mm: Fraction
    cut_height_mm: Fraction
    pane_kg: Fraction

    @property
    def opening_width_mm(self) -> Fraction:
        return self.line.width_mm + 2 * self.line.joint_mm

    @property
    def opening_height_mm(self) -> Fraction:
        return self.line.height_mm + 2 * self.line.joint_mm


def ellipse_perimeter_mm(width_mm: Fraction, height_mm: Fraction) -> Fraction:
    """Return the perimeter of an ellipse by Ramanujan's second approximation (1914)."""
    a, b = width_mm / 2, height_mm / 2
    spread = ((a - b) / (a + b)) ** 2
    return PI * (a + b) * (1 + 3 * spread / (10 + square_root(4 - 3 * spread)))


def shape_area_mm2(shape: str, width_mm: Fraction, height_mm: Fraction) -> Fraction:
    """Return the area of a rectangle, or of the circle or ellipse inside it."""
    return width_mm * height_mm if shape in ("rectangle", "other") else PI * width_mm * height_mm / 4


def area_mm2(line: LineFacts) -> Fraction:
    if line.shape == "other":
        if line.area_m2 is None:
            raise EstimateError("no area", line.name, line.number)
        return line.area_m2 * MM2_PER_M2
    return shape_area_mm2(line.shape, line.width_mm, line.height_mm)


def perimeter_mm(line: LineFacts) -> Fraction:
    if line.perimeter_mm is not None and line.shape == "other":
        return line.perimeter_mm
    if line.shape == "circle":
        return PI * line.width_mm
    if line.shape == "ellipse":
        return ellipse_perimeter_mm(line.width_mm, line.height_mm)
    return 2 * (line.width_mm + line.height_mm)


def take_off(line: LineFacts, edge: EdgeFacts, glass: GlassFacts) -> TakeOff:
    """Measure one pane of a line. Raises EstimateError where a size is missing or impossible."""
    if line.width_mm <= 0 or line.height_mm <= 0:
        raise EstimateError("no size", line.name, line.number)
    if line.quantity < 1:
        raise EstimateError("no panes", line.name, line.number)
    area = area_mm2(line)
    if not 0 < area <= line.width_mm * line.height_mm:
        raise EstimateError("area out of range", line.name, line.number)
    return TakeOff(
        line=line,
        area_m2=area / MM2_PER_M2,
        perimeter_m=perimeter_mm(line) / 1000,
        bounding_m2=line.width_mm * line.height_mm / MM2_PER_M2,
        cut_width_mm=line.width_mm + 2 * edge.grinds_off_mm,
        cut_height_mm=line.height_mm + 2 * edge.grinds_off_mm,
        pane_kg=area / MM2_PER_M2 * glass.thickness_mm * GLASS_KG_PER_M2_MM,
    )


def wetted_area_m2(size: TakeOff, step: StepFacts) -> Fraction:
    """Return the area that a step wets of its zone on one pane: sprayed or misted, with the overspray beyond its edge.

    W of a whole face; a rim is W less what lies inside it, so that the overspray counts at the outer edge alone (the
    inner one is masked); corners and masks are their share of W.
    """
    line, overspray = size.line, step.overspray_mm if step.how in SPRAYED else Fraction(0)
    if line.shape == "other" and step.how not in SPRAYED:
        return treated_area_m2(size, step)
    whole = shape_area_mm2(line.shape, line.width_mm + 2 * overspray, line.height_mm + 2 * overspray)
    return _of_zone_mm2(line, step, whole) / MM2_PER_M2


def treated_area_m2(size: TakeOff, step: StepFacts) -> Fraction:
    """Return the area of a pane that a step treats: all of it, or its zone; without overspray."""
    rectangle = shape_area_mm2(size.line.shape, size.line.width_mm, size.line.height_mm)
    if step.zone == "rim" and size.line.shape == "other":
        return min(size.area_m2, _of_zone_mm2(size.line, step, rectangle) / MM2_PER_M2)
    return _of_zone_mm2(size.line, step, size.area_m2 * MM2_PER_M2) / MM2_PER_M2


def _of_zone_mm2(line: LineFacts, step: StepFacts, whole_mm2: Fraction) -> Fraction:
    """Return what a step's zone is of the whole: its share, or all but what lies inside its rim."""
    if step.zone == "part":
        return whole_mm2 * step.zone_share
    inside = inside_rim_mm(step, line.width_mm, line.height_mm)
    return whole_mm2 - shape_area_mm2(line.shape, *inside) if inside else whole_mm2
