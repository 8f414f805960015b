"""The order of cuts: how a layout is parted by cuts that run edge to edge of the piece in hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from jobs.estimating.cutting.sheets import Placed, Rules

_MOST_TRIES = 20_000


@dataclass(frozen=True)
class Region:
    """A piece in hand."""

    left: int
    bottom: int
    right: int
    top: int

    @property
    def width(self) -> int:
        return self.right - self.left

    @property
    def height(self) -> int:
        return self.top - self.bottom

    @property
    def area(self) -> int:
        return self.width * self.height


@dataclass(frozen=True)
class CutLine:
    """One cut: upright at a distance from the left edge of its piece, or level at one from its lower edge."""

    upright: bool
    at: int
    piece: Region

    @property
    def measured(self) -> int:
        """Return the distance from the piece's left or lower edge."""
        return self.at - (self.piece.left if self.upright else self.piece.bottom)


@dataclass(frozen=True)
class Parted:
    """All cuts in the order in which they are made, and what is left over."""

    cuts: tuple[CutLine, ...]
    left_over: tuple[Region, ...]


class _Tries:
    def __init__(self) -> None:
        self.left = _MOST_TRIES


def part(placed: Sequence[Placed], width: int, height: int, rules: Rules) -> Parted | None:
    """Return the cuts that part a layout, the largest left-over first; None where edge-to-edge cuts cannot.

    A strip that nothing lies on must be nothing or as wide as the narrowest that breaks off.
    """
    return _part(list(placed), Region(0, 0, width, height), rules, _Tries())


def _part(placed: list[Placed], piece: Region, rules: Rules, tries: _Tries) -> Parted | None:
    if not placed:
        return Parted((), (piece,) if piece.area else ())
    only = placed[0]
    if len(placed) == 1 and (only.left, only.bottom, only.right, only.top) == (
        piece.left, piece.bottom, piece.right, piece.top
    ):
        return Parted((), ())
    for cut, first, second, near, far in _possible(placed, piece, rules):
        tries.left -= 1
        if tries.left < 0:
            return None
        near_cuts = _part(near, first, rules, tries)
        far_cuts = _part(far, second, rules, tries) if near_cuts is not None else None
        if near_cuts is not None and far_cuts is not None:
            return Parted((cut, *near_cuts.cuts, *far_cuts.cuts), (*near_cuts.left_over, *far_cuts.left_over))
    return None


_Split = tuple[CutLine, Region, Region, list[Placed], list[Placed]]


def _possible(placed: list[Placed], piece: Region, rules: Rules) -> Iterator[_Split]:
    """Yield the cuts that can be made: first those that take off the most that nothing lies on, then the rest."""
    found: list[tuple[int, int, int, _Split]] = []
    for upright in (True, False):
        end = piece.right if upright else piece.top
        ends = sorted({pane.right if upright else pane.top for pane in placed})
        for at in ends:
            near = [pane for pane in placed if (pane.right if upright else pane.top) <= at]
            far = [pane for pane in placed if (pane.left if upright else pane.bottom) >= at + rules.clearance]
            if at >= end or len(near) + len(far) != len(placed):
                continue
            if not far and not rules.may_end(end - at):
                continue
            beyond = min(at + rules.clearance, end)
            first = Region(piece.left, piece.bottom, at if upright else piece.right, piece.top if upright else at)
            second = (Region(beyond, piece.bottom, piece.right, piece.top) if upright
                      else Region(piece.left, beyond, piece.right, piece.top))
            freed = second.area if not far else 0
            found.append((-freed, int(not upright), at, (CutLine(upright, at, piece), first, second, near, far)))
    for *_, split in sorted(found, key=lambda ranked: ranked[:3]):
        yield split
