"""A sheet drawn to scale: places of its pieces, its cuts in order, and what is left. Pure: no Django."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.cutting.cut_list import TicketCut, TicketSheet
from studio.kit.rounding import decimal_string
from studio.kit.units import show_length, show_size


@dataclass(frozen=True, kw_only=True)
class Box:
    """A rectangle in the drawing's own units (mm), from its upper left corner, with its words."""

    x: str
    y: str
    width: str
    height: str
    middle_x: str
    middle_y: str
    name: str
    size: str
    upright: bool

    @property
    def turn(self) -> str:
        """Return how words are turned to stand upright in it."""
        return f"rotate(-90 {self.middle_x} {self.middle_y})"


@dataclass(frozen=True, kw_only=True)
class Line:
    x1: str
    y1: str
    x2: str
    y2: str
    number: int
    number_x: str
    number_y: str


@dataclass(frozen=True, kw_only=True)
class SheetDrawing:
    """Everything that is drawn. letters_mm: height of the words, so that they can be read at the drawing's scale."""

    number: int
    title: str
    view: str
    width: str
    height: str
    letters_mm: str
    small_letters_mm: str
    pieces: list[Box]
    left_over: list[Box]
    cuts: list[Line]
    steps: list[str]

    @property
    def in_words(self) -> str:
        """Return the drawing in words, for those who do not see it."""
        pieces, cuts = len(self.pieces), len(self.cuts)
        return f"{self.title}: {pieces} piece{'s' * (pieces != 1)}, {cuts} cut{'s' * (cuts != 1)}"


def _plain(value: Fraction) -> str:
    return decimal_string(value, 2)


def draw_sheet(
    sheet: TicketSheet, width_mm: Fraction, height_mm: Fraction, preference: str = "metric"
) -> SheetDrawing:
    """Draw a sheet as it lies on the table, lower left corner at the lower left.

    width_mm, height_mm: of the stock size, for tickets that were printed before sheets had a size of their own.
    """
    width, height = sheet.width_mm or width_mm, sheet.height_mm or height_mm
    letters = max(width, height) / 20

    def box(left: Fraction, bottom: Fraction, wide: Fraction, high: Fraction, name: str) -> Box:
        top = height - bottom - high
        return Box(
            x=_plain(left), y=_plain(top), width=_plain(wide), height=_plain(high), middle_x=_plain(left + wide / 2),
            middle_y=_plain(top + high / 2), name=name, size=show_size(wide, high, preference), upright=high > wide,
        )

    what = f"Kept offcut {sheet.kept_offcut}" if sheet.kept_offcut else f"Sheet {sheet.number}"
    return SheetDrawing(
        number=sheet.number, title=f"{what}, {show_size(width, height, preference)}",
        view=f"{_plain(-letters)} {_plain(-letters)} {_plain(width + 2 * letters)} {_plain(height + 2 * letters)}",
        width=_plain(width), height=_plain(height), letters_mm=_plain(letters),
        small_letters_mm=_plain(letters * 7 / 10),
        pieces=[box(p.left_mm, p.bottom_mm, p.width_mm, p.height_mm, p.pane) for p in sheet.pieces],
        left_over=[box(o.left_mm, o.bottom_mm, o.width_mm, o.height_mm, "keep") for o in sheet.offcuts],
        cuts=[_line(cut, height) for cut in sheet.cuts],
        steps=[*_trim(sheet, preference), *(_words(cut, preference) for cut in sheet.cuts)],
    )


def _line(cut: TicketCut, height: Fraction) -> Line:
    left, bottom = cut.from_left_mm, cut.from_bottom_mm
    right = left if cut.upright else left + cut.length_mm
    top = bottom + cut.length_mm if cut.upright else bottom
    return Line(
        x1=_plain(left), y1=_plain(height - bottom), x2=_plain(right), y2=_plain(height - top), number=cut.number,
        number_x=_plain(left if cut.upright else left + cut.length_mm / 8),
        number_y=_plain(height - bottom - (cut.length_mm / 8 if cut.upright else 0)),
    )


def _trim(sheet: TicketSheet, preference: str) -> list[str]:
    return [f"Trim {show_length(sheet.trim_mm, preference)} off each edge."] if sheet.trim_mm else []


def _words(cut: TicketCut, preference: str) -> str:
    way, edge = ("upright", "left") if cut.upright else ("level", "lower")
    return f"{cut.number}: {way}, {show_length(cut.measured_mm, preference)} from the {edge} edge of the piece in hand."
