"""Stock sheets, panes to cut and layouts, in whole units of length: what the nesting modules share.

Lengths are whole numbers of one small unit, so that nesting is exact and quick. The clearance is
what a cut takes away: panes lie at least that far apart; at the sheet's far edge it may run out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Want:
    """Panes alike: how many of one cut size are wanted, and whether they may turn."""

    width: int
    height: int
    number: int
    turns: bool

    @property
    def ways(self) -> tuple[tuple[int, int, bool], ...]:
        """Return width, height and whether turned, for each way in which such a pane may lie."""
        upright = (self.width, self.height, False)
        return (upright, (self.height, self.width, True)) if self.turns and self.width != self.height else (upright,)


@dataclass(frozen=True)
class Stock:
    """A stock size or a kept offcut: usable width and height inside the trim, cost of one, how many there are.

    at_most None: as many whole sheets as it takes. kept: a kept offcut, no whole sheet.
    """

    key: str
    width: int
    height: int
    cost: Fraction
    at_most: int | None = None
    kept: bool = False

    @property
    def area(self) -> int:
        return self.width * self.height


@dataclass(frozen=True)
class Placed:
    """A pane of want `want` with its lower left corner at left, bottom, inside the trim."""

    want: int
    left: int
    bottom: int
    width: int
    height: int
    turned: bool

    @property
    def right(self) -> int:
        return self.left + self.width

    @property
    def top(self) -> int:
        return self.bottom + self.height


@dataclass(frozen=True)
class Layout:
    """One sheet of stock `stock` with what lies on it."""

    stock: int
    placed: tuple[Placed, ...]

    def count(self, wants: Sequence[Want]) -> tuple[int, ...]:
        """Return how many of each want lie on it."""
        numbers = [0] * len(wants)
        for piece in self.placed:
            numbers[piece.want] += 1
        return tuple(numbers)


@dataclass(frozen=True)
class Rules:
    """How glass is cut here: what a cut takes, the narrowest strip that still breaks off, the smallest offcut kept."""

    clearance: int
    smallest_strip: int
    keep: int = 0

    def may_end(self, rest: int) -> bool:
        """Say whether a piece may leave this much beyond its far edge: nothing, or a strip that breaks off."""
        return rest == 0 or (rest > 0 and rest >= self.smallest_strip)
