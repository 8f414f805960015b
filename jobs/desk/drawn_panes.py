"""A job's panes drawn to one scale, as many as a page can show. No database is asked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from jobs.desk.bench_story import PaneStands
from jobs.drawings.panes import DrawnHole, draw_front
from studio.kit.rounding import decimal_string

#: px at the desk: the tallest and the widest that a pane is drawn
TALLEST, WIDEST = Fraction(156), Fraction(210)
#: smaller than this nothing is told apart
SMALLEST = Fraction(10)
DRAWN = 36
#: how a word reads of several panes
MANY = {"waits": "wait", "dries": "dry"}


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """A pane in px. picture: address of its finish's front; round: drawn as an ellipse.

    holes: in mm, as a pane is drawn everywhere; across, down: px of a mm of it.
    """

    pane: PaneStands
    width: str
    height: str
    half_width: str
    half_height: str
    round: bool
    picture: str
    holes: Sequence[DrawnHole]
    across: str
    down: str

    @property
    def shows_finish(self) -> bool:
        return self.pane.begun and not self.pane.spoilt and bool(self.picture)


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """drawn: the first panes; rest: what the others are, in words, by how they stand."""

    drawn: list[Drawn]
    rest: str

    @property
    def counts(self) -> str:
        return _counted([drawn.pane for drawn in self.drawn])


def draw(panes: Sequence[PaneStands], pictures: Mapping[str, str]) -> Drawing:
    """Return panes to scale. pictures: address of a finish's front, by its code."""
    if not panes:
        return Drawing(drawn=[], rest="")
    scale = min(TALLEST / max(pane.height_mm for pane in panes), WIDEST / max(pane.width_mm for pane in panes))
    rest = panes[DRAWN:]
    return Drawing(
        drawn=[_drawn(pane, scale, pictures.get(pane.finish, "")) for pane in panes[:DRAWN]],
        rest=f"and {len(rest)} more: {_counted(rest)}" if rest else "",
    )


def _drawn(pane: PaneStands, scale: Fraction, picture: str) -> Drawn:
    width, height = (max(side * scale, SMALLEST) for side in (pane.width_mm, pane.height_mm))
    return Drawn(
        pane=pane, width=decimal_string(width, 1), height=decimal_string(height, 1),
        half_width=decimal_string(width / 2, 1), half_height=decimal_string(height / 2, 1),
        round=pane.shape in ("circle", "ellipse"), picture=picture,
        holes=draw_front(pane.shape, pane.width_mm, pane.height_mm, pane.holes).holes,
        across=decimal_string(width / pane.width_mm, 5), down=decimal_string(height / pane.height_mm, 5),
    )


def _counted(panes: Sequence[PaneStands]) -> str:
    counts = Counter(pane.word for pane in panes)
    return ", ".join(f"{count} {MANY.get(word, word) if count > 1 else word}" for word, count in counts.items())
