"""The opening measured on site: the size that fits everywhere, and how far it is out of square. Pure: no Django."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.rounding import square_root


@dataclass(frozen=True, kw_only=True)
class Opening:
    """An opening in mm. widths from low to high, heights from left to right, diagonals rising and falling if taken."""

    widths: tuple[Fraction, Fraction, Fraction]
    heights: tuple[Fraction, Fraction, Fraction]
    rising: Fraction | None = None
    falling: Fraction | None = None

    @property
    def width_mm(self) -> Fraction:
        """Return the narrowest width: what is wider does not pass there."""
        return min(self.widths)

    @property
    def height_mm(self) -> Fraction:
        return min(self.heights)

    @property
    def taper_mm(self) -> Fraction:
        return max(max(self.widths) - min(self.widths), max(self.heights) - min(self.heights))

    @property
    def out_of_square_mm(self) -> Fraction | None:
        """Return by how much the diagonals differ: none in a true rectangle."""
        return None if self.rising is None or self.falling is None else abs(self.rising - self.falling)

    def does_not_add_up(self, tolerance_mm: Fraction = Fraction(20)) -> bool:
        """Say whether a diagonal is far from what the sides give (Pythagoras): then something was misread."""
        width, height = sum(self.widths, Fraction(0)) / 3, sum(self.heights, Fraction(0)) / 3
        should = square_root(width * width + height * height)
        return any(abs(diagonal - should) > tolerance_mm + self.taper_mm for diagonal in self._diagonals)

    @property
    def _diagonals(self) -> Sequence[Fraction]:
        return [diagonal for diagonal in (self.rising, self.falling) if diagonal is not None]
