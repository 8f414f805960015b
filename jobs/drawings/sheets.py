"""A sheet drawn to scale: places of its pieces, its cuts in order, and what is left. Pure: no Django."""

from __future__ import annotations

from collections.abc import Sequence
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
    letters: str
    small_letters: str

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
    """Everything that is drawn. spot: radius of the discs that number the cuts."""

    number: int
    title: str
    view: str
    width: str
    height: str
    spot: str
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

    def box(left: Fraction, bottom: Fraction, wide: Fraction, high: Fraction, name: str = "") -> Box:
        top, upright, size = height - bottom - high, high > wide, show_size(wide, high, preference)
        size = size if name else f"keep {size}"
        along, across = (high, wide) if upright else (wide, high)
        big = min(letters, along / (max(len(name), 1) * LETTER_WIDTH), across / 2)
        small = min(letters * 7 / 10, along / (len(size) * LETTER_WIDTH), across / 4)
        return Box(
            x=_plain(left), y=_plain(top), width=_plain(wide), height=_plain(high), middle_x=_plain(left + wide / 2),
            middle_y=_plain(top + high / 2), name=name, size=size if small >= letters / 2 else "", upright=upright,
            letters=_plain(big), small_letters=_plain(small),
        )

    pieces = [box(p.left_mm, p.bottom_mm, p.width_mm, p.height_mm, p.pane) for p in sheet.pieces]
    left_over = [box(o.left_mm, o.bottom_mm, o.width_mm, o.height_mm) for o in sheet.offcuts]
    narrowest = min((min(p.width_mm, p.height_mm) for p in sheet.pieces), default=letters)
    spot = min(letters / 2, max(narrowest / 4, letters / 4))
    what = f"Kept offcut {sheet.kept_offcut}" if sheet.kept_offcut else f"Sheet {sheet.number}"
    return SheetDrawing(
        number=sheet.number, title=f"{what}, {show_size(width, height, preference)}",
        view=f"{_plain(-letters)} {_plain(-letters)} {_plain(width + 2 * letters)} {_plain(height + 2 * letters)}",
        width=_plain(width), height=_plain(height), spot=_plain(spot), pieces=pieces, left_over=left_over,
        cuts=_lines(sheet.cuts, height, spot, [_words_of(box) for box in (*pieces, *left_over)]),
        steps=[*_trim(sheet, preference), *(_words(cut, preference) for cut in sheet.cuts)],
    )


#: width of a letter to its height, for the widest words that are drawn; measured on the paper's own face
LETTER_WIDTH = Fraction(6, 10)
#: a rectangle that words stand in: left, top, right, bottom
Taken = tuple[Fraction, Fraction, Fraction, Fraction]


def _words_of(box: Box) -> Taken:
    """Return the rectangle in which a box has its words."""
    x, y = Fraction(box.middle_x), Fraction(box.middle_y)
    along = max(len(box.name) * Fraction(box.letters), len(box.size) * Fraction(box.small_letters)) * LETTER_WIDTH / 2
    above, below = Fraction(box.letters) / 2, Fraction(box.letters) / 2 + 2 * Fraction(box.small_letters)
    if box.upright:  # turned to the left: what was above is at the left
        return x - above, y - along, x + below, y + along
    return x - along, y - above, x + along, y + below


def _lines(cuts: Sequence[TicketCut], height: Fraction, spot: Fraction, taken: Sequence[Taken]) -> list[Line]:
    """Return the cuts with their numbers, each where it hides no words and no other number, as far as there is room."""
    lines: list[Line] = []
    spots: list[Taken] = []
    for cut in cuts:
        places = [_along(cut, height, Fraction(at, 16)) for at in (2, *range(1, 16))]
        here = [(x - spot, y - spot, x + spot, y + spot) for x, y in places]
        free = next((
            at for at, mine in enumerate(here)
            if not any(_overlap(mine, other) for other in (*taken, *spots))
        ), next((at for at, mine in enumerate(here) if not any(_overlap(mine, other) for other in spots)), 0))
        spots.append(here[free])
        (x1, y1), (x2, y2), (x, y) = _along(cut, height, Fraction(0)), _along(cut, height, Fraction(1)), places[free]
        lines.append(Line(x1=_plain(x1), y1=_plain(y1), x2=_plain(x2), y2=_plain(y2), number=cut.number,
                          number_x=_plain(x), number_y=_plain(y)))
    return lines


def _along(cut: TicketCut, height: Fraction, share: Fraction) -> tuple[Fraction, Fraction]:
    """Return the place on a cut at this share of its length, in the drawing's own units."""
    x, y, far = cut.from_left_mm, height - cut.from_bottom_mm, cut.length_mm * share
    return (x, y - far) if cut.upright else (x + far, y)


def _overlap(one: Taken, other: Taken) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _trim(sheet: TicketSheet, preference: str) -> list[str]:
    return [f"Trim {show_length(sheet.trim_mm, preference)} off each edge."] if sheet.trim_mm else []


def _words(cut: TicketCut, preference: str) -> str:
    way, edge = ("upright", "left") if cut.upright else ("level", "lower")
    return f"{cut.number}: {way}, {show_length(cut.measured_mm, preference)} from the {edge} edge of the piece in hand."
