"""Panes on stock sheets by edge-to-edge cuts.

A sheet is cut into strips right across, each strip into pieces, and a piece
lower than its strip is cut to height last: every cut runs edge to edge of the
piece in hand. First fit, tallest first, tried both ways round; the plan with
the fewest sheets wins, then the one that leaves the largest single offcut.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from jobs.estimating.basis import EstimateError, GlassFacts, House
from jobs.estimating.loads import Pane
from studio.rounding import decimal_string


@dataclass(frozen=True, kw_only=True)
class Piece:
    """A pane to cut: where its lower left corner lies on the sheet, in mm, and how large it is cut."""

    pane: Pane
    left_mm: Fraction
    bottom_mm: Fraction
    width_mm: Fraction
    height_mm: Fraction
    turned: bool


@dataclass(frozen=True, kw_only=True)
class Offcut:
    left_mm: Fraction
    bottom_mm: Fraction
    width_mm: Fraction
    height_mm: Fraction

    @property
    def area_m2(self) -> Fraction:
        return self.width_mm * self.height_mm / 1_000_000


@dataclass(frozen=True, kw_only=True)
class SheetPlan:
    """One stock sheet with its pieces, strip by strip, and the offcuts worth keeping."""

    number: int
    pieces: tuple[Piece, ...]
    offcuts: tuple[Offcut, ...]


@dataclass(frozen=True, kw_only=True)
class CuttingPlan:
    glass: GlassFacts
    sheets: tuple[SheetPlan, ...]

    @property
    def used_share(self) -> Fraction:
        """Return the share of the sheets' area that becomes panes."""
        if not self.sheets or self.glass.sheet_width_mm is None or self.glass.sheet_height_mm is None:
            return Fraction(0)
        cut = sum((p.width_mm * p.height_mm for s in self.sheets for p in s.pieces), Fraction(0))
        return cut / (len(self.sheets) * self.glass.sheet_width_mm * self.glass.sheet_height_mm)

    @property
    def offcut_area_m2(self) -> Fraction:
        return sum((offcut.area_m2 for sheet in self.sheets for offcut in sheet.offcuts), Fraction(0))


class SheetTooSmall(EstimateError):
    def __init__(self, pane: Pane, glass: GlassFacts) -> None:
        line = pane.size.line
        super().__init__(
            f"{line.name} cannot be cut from a sheet of {glass.name}, "
            f"{decimal_string(glass.sheet_width_mm or Fraction(0), 1)} × "
            f"{decimal_string(glass.sheet_height_mm or Fraction(0), 1)} mm: choose another glass or buy it cut.",
            "glass", line.number,
        )


@dataclass
class _Strip:
    """A strip right across the sheet: `start` along the stacking way, filled up to `filled` along its length."""

    start: Fraction
    height: Fraction
    filled: Fraction
    pieces: list[tuple[Pane, Fraction, Fraction, Fraction, bool]]


def plan_cutting(
    panes: Sequence[Pane], glass: GlassFacts, house: House, directed: frozenset[int] = frozenset()
) -> CuttingPlan:
    """Nest panes on whole sheets of one glass.

    directed: line numbers whose panes may not turn, because their finish has a direction.
    Raises SheetTooSmall, naming the line, and EstimateError when the sheet's size is not known.
    """
    if glass.sheet_width_mm is None or glass.sheet_height_mm is None:
        raise EstimateError(f"{glass.name} has no sheet size: buy it cut, or give its sheet a size.", "glass")
    plans: list[tuple[int, Fraction, int, CuttingPlan]] = []
    for lying, along_width in product((True, False, None), (True, False)):
        plan = _nest(panes, glass, house, directed, lying, along_width)
        if plan is not None:
            largest = max((o.area_m2 for sheet in plan.sheets for o in sheet.offcuts), default=Fraction(0))
            plans.append((len(plan.sheets), -largest, len(plans), plan))
    if not plans:
        raise SheetTooSmall(_worst(panes, glass, house, directed), glass)
    return min(plans)[-1]


def _usable(glass: GlassFacts, house: House) -> tuple[Fraction, Fraction]:
    width, height = glass.sheet_width_mm or Fraction(0), glass.sheet_height_mm or Fraction(0)
    return width - 2 * house.trim_mm, height - 2 * house.trim_mm


def _worst(panes: Sequence[Pane], glass: GlassFacts, house: House, directed: frozenset[int]) -> Pane:
    width, height = _usable(glass, house)
    for pane in panes:
        size = (pane.size.cut_width_mm, pane.size.cut_height_mm)
        ways = [size] if pane.line_number in directed else [size, size[::-1]]
        if not any(w <= width and h <= height for w, h in ways):
            return pane
    return panes[0]


def _oriented(
    panes: Sequence[Pane], directed: frozenset[int], lying: bool | None, along_width: bool, length: Fraction
) -> Iterator[tuple[Pane, Fraction, Fraction, bool]]:
    """Yield pane, size along the strip, size across it, and whether it was turned."""
    for pane in panes:
        along, across = pane.size.cut_width_mm, pane.size.cut_height_mm
        if not along_width:
            along, across = across, along
        turned = False
        if pane.line_number not in directed and lying is not None and (along > across) != lying:
            along, across, turned = across, along, True
        if pane.line_number not in directed and along > length:
            along, across, turned = across, along, not turned
        yield pane, along, across, turned


def _nest(
    panes: Sequence[Pane], glass: GlassFacts, house: House, directed: frozenset[int], lying: bool | None,
    along_width: bool,
) -> CuttingPlan | None:
    length, depth = _usable(glass, house) if along_width else _usable(glass, house)[::-1]
    sheets: list[list[_Strip]] = []
    ordered = sorted(
        _oriented(panes, directed, lying, along_width, length), key=lambda o: (-o[2], -o[1], o[0].line_number)
    )
    for pane, along, across, turned in ordered:
        if along > length or across > depth:
            return None
        strip = _room_for(sheets, along, across, length, depth, house.clearance_mm)
        left = strip.filled + (house.clearance_mm if strip.pieces else 0)
        strip.pieces.append((pane, left, along, across, turned))
        strip.filled = left + along
    return CuttingPlan(glass=glass, sheets=tuple(
        _sheet(number, strips, length, depth, along_width, house) for number, strips in enumerate(sheets, start=1)
    ))


def _room_for(
    sheets: list[list[_Strip]], along: Fraction, across: Fraction, length: Fraction, depth: Fraction, gap: Fraction
) -> _Strip:
    for strips in sheets:
        for strip in strips:
            if across <= strip.height and strip.filled + gap + along <= length:
                return strip
        start = strips[-1].start + strips[-1].height + gap
        if start + across <= depth:
            strips.append(_Strip(start, across, Fraction(0), []))
            return strips[-1]
    sheets.append([_Strip(Fraction(0), across, Fraction(0), [])])
    return sheets[-1][-1]


def _sheet(
    number: int, strips: list[_Strip], length: Fraction, depth: Fraction, along_width: bool, house: House
) -> SheetPlan:
    gap, trim = house.clearance_mm, house.trim_mm
    pieces: list[Piece] = []
    spare: list[tuple[Fraction, Fraction, Fraction, Fraction]] = []
    for strip in strips:
        for pane, left, along, across, turned in strip.pieces:
            x, y, w, h = _place(left, strip.start, along, across, along_width)
            pieces.append(Piece(
                pane=pane, left_mm=x + trim, bottom_mm=y + trim, width_mm=w, height_mm=h, turned=turned
            ))
            spare.append((left, strip.start + across + gap, along, strip.height - across - gap))
        spare.append((strip.filled + gap, strip.start, length - strip.filled - gap, strip.height))
    top = strips[-1].start + strips[-1].height + gap
    spare.append((Fraction(0), top, length, depth - top))
    keep = max(house.keep_size_mm, Fraction(1))
    offcuts = []
    for left, bottom, along, across in spare:
        if along >= keep and across >= keep:
            x, y, w, h = _place(left, bottom, along, across, along_width)
            offcuts.append(Offcut(left_mm=x + trim, bottom_mm=y + trim, width_mm=w, height_mm=h))
    return SheetPlan(number=number, pieces=tuple(pieces), offcuts=tuple(offcuts))


def _place(
    left: Fraction, bottom: Fraction, along: Fraction, across: Fraction, along_width: bool
) -> tuple[Fraction, Fraction, Fraction, Fraction]:
    return (left, bottom, along, across) if along_width else (bottom, left, across, along)
