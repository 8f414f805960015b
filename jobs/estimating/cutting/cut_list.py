"""A cutting plan as it is cut: sheets with their pieces, cuts in order and what is left. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from jobs.estimating.cutting.plans import SheetPlan


@dataclass(frozen=True, kw_only=True)
class TicketPiece:
    pane: str
    width_mm: Fraction
    height_mm: Fraction
    left_mm: Fraction
    bottom_mm: Fraction
    turned: bool


@dataclass(frozen=True, kw_only=True)
class TicketOffcut:
    width_mm: Fraction
    height_mm: Fraction
    left_mm: Fraction
    bottom_mm: Fraction


@dataclass(frozen=True, kw_only=True)
class TicketCut:
    """One cut in its order: upright or level, so far from the left or lower edge of the piece in hand."""

    number: int
    upright: bool
    measured_mm: Fraction
    from_left_mm: Fraction
    from_bottom_mm: Fraction
    length_mm: Fraction


@dataclass(frozen=True, kw_only=True)
class TicketSheet:
    """One sheet, or one kept offcut, to cut; tickets printed before cuts were planned hold pieces alone."""

    number: int
    pieces: list[TicketPiece]
    width_mm: Fraction | None = None
    height_mm: Fraction | None = None
    kept_offcut: int | None = None
    trim_mm: Fraction = Fraction(0)
    cuts: list[TicketCut] = field(default_factory=list)
    offcuts: list[TicketOffcut] = field(default_factory=list)


def sheet_to_cut(sheet: SheetPlan) -> TicketSheet:
    """Return a planned sheet as a ticket holds it."""
    return TicketSheet(
        number=sheet.number, width_mm=sheet.width_mm, height_mm=sheet.height_mm, kept_offcut=sheet.kept_offcut,
        trim_mm=sheet.trim_mm,
        pieces=[
            TicketPiece(
                pane=piece.pane.label, width_mm=piece.width_mm, height_mm=piece.height_mm, left_mm=piece.left_mm,
                bottom_mm=piece.bottom_mm, turned=piece.turned,
            )
            for piece in sheet.pieces
        ],
        cuts=[
            TicketCut(
                number=cut.number, upright=cut.upright, measured_mm=cut.measured_mm,
                from_left_mm=cut.piece_left_mm + (cut.measured_mm if cut.upright else Fraction(0)),
                from_bottom_mm=cut.piece_bottom_mm + (Fraction(0) if cut.upright else cut.measured_mm),
                length_mm=cut.piece_height_mm if cut.upright else cut.piece_width_mm,
            )
            for cut in sheet.cuts
        ],
        offcuts=[
            TicketOffcut(
                left_mm=offcut.left_mm, bottom_mm=offcut.bottom_mm, width_mm=offcut.width_mm,
                height_mm=offcut.height_mm,
            )
            for offcut in sheet.offcuts
        ],
    )
