"""The panes of an order drawn to one scale in rows, each filled from the picture of its finish. Pure: no Django."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.rounding import decimal_string

#: what the drawing may take of a paper, in mm; below each pane stands its line's number
WIDE, HIGH, GAP, NUMBER, TALLEST = Fraction(136), Fraction(46), Fraction(2), Fraction(4), Fraction(40)
#: one piece each is drawn as long as there are so few of them, else one a line; and no drawing of more lines than this
PIECES, LINES = 8, 60
#: room for the outermost lines
RIM = Fraction(2, 5)


@dataclass(frozen=True, kw_only=True)
class PaneOfLine:
    """A line of an order: its number, sizes in mm, how many, whether it is round, and its finish's picture or ""."""

    number: int
    width_mm: Fraction
    height_mm: Fraction
    quantity: int
    is_round: bool
    picture: str


@dataclass(frozen=True, kw_only=True)
class DrawnPane:
    """A pane in its place, in mm of paper."""

    number: int
    x: str
    y: str
    width: str
    height: str
    middle_x: str
    middle_y: str
    half_width: str
    half_height: str
    number_y: str
    is_round: bool
    picture: str


@dataclass(frozen=True, kw_only=True)
class DrawnOrder:
    width: str
    height: str
    panes: tuple[DrawnPane, ...]

    @property
    def has_pictures(self) -> bool:
        return any(pane.picture for pane in self.panes)


def draw_order(lines: Sequence[PaneOfLine]) -> DrawnOrder | None:
    """Return the panes at the largest scale at which they fit, the tallest of a row standing as high as the row."""
    if not lines or len(lines) > LINES:
        return None
    each = sum(line.quantity for line in lines) <= PIECES
    panes = [line for line in lines for _ in range(line.quantity if each else 1)]
    scale = min(TALLEST / max(pane.height_mm for pane in panes), WIDE / max(pane.width_mm for pane in panes))
    while _height(rows := _rows(panes, scale), scale) > HIGH:
        scale = (scale * Fraction(19, 20)).limit_denominator(100_000)
    drawn, top = [], Fraction(0)
    for row in rows:
        high, x = max(pane.height_mm for pane in row) * scale, Fraction(0)
        for pane in row:
            drawn.append(_drawn(pane, x, top + high - pane.height_mm * scale, scale))
            x += pane.width_mm * scale + GAP
        top += high + NUMBER + GAP
    widest = max(sum((pane.width_mm * scale + GAP for pane in row), -GAP) for row in rows)
    return DrawnOrder(width=_mm(widest + RIM), height=_mm(top - GAP + RIM), panes=tuple(drawn))


def _rows(panes: Sequence[PaneOfLine], scale: Fraction) -> list[list[PaneOfLine]]:
    rows: list[list[PaneOfLine]] = []
    left = Fraction(0)
    for pane in panes:
        wide = pane.width_mm * scale
        if not rows or wide > left:
            rows.append([])
            left = WIDE
        rows[-1].append(pane)
        left -= wide + GAP
    return rows


def _height(rows: Sequence[Sequence[PaneOfLine]], scale: Fraction) -> Fraction:
    return sum((max(pane.height_mm for pane in row) * scale + NUMBER + GAP for row in rows), -GAP)


def _drawn(pane: PaneOfLine, x: Fraction, y: Fraction, scale: Fraction) -> DrawnPane:
    width, height = pane.width_mm * scale, pane.height_mm * scale
    return DrawnPane(
        number=pane.number, x=_mm(x), y=_mm(y), width=_mm(width), height=_mm(height), middle_x=_mm(x + width / 2),
        middle_y=_mm(y + height / 2), half_width=_mm(width / 2), half_height=_mm(height / 2),
        number_y=_mm(y + height + 3), is_round=pane.is_round, picture=pane.picture,
    )


def _mm(length: Fraction) -> str:
    return decimal_string(length, 2)
