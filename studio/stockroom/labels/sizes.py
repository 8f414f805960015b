"""Label sizes in millimetres: sheets of common sizes, and single labels for label printers. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

Item = TypeVar("Item")


@dataclass(frozen=True, kw_only=True)
class LabelSize:
    """A label's millimetres; on a sheet also the page, its margins, and how far apart labels stand.

    columns and rows are 1 for a label printer, whose page is the label. padding: kept free at every edge; more where
    labels reach the edge of a sheet, which few printers print.
    """

    key: str
    name: str
    width: float
    height: float
    page: str
    columns: int = 1
    rows: int = 1
    left: float = 0
    top: float = 0
    across: float = 0
    down: float = 0
    padding: float = 2

    @property
    def is_roll(self) -> bool:
        return self.page == "roll"

    @property
    def is_tag(self) -> bool:
        """Say whether it is tied on or folded out, where a package has no room for it."""
        return self.key.startswith("tag-")

    @property
    def column_step(self) -> float:
        """Return mm from one label's left edge to the next one's."""
        return self.across or self.width

    @property
    def row_step(self) -> float:
        """Return mm from one label's upper edge to the next one's."""
        return self.down or self.height

    @property
    def column_range(self) -> range:
        return range(self.columns)

    @property
    def a_page(self) -> int:
        return self.columns * self.rows


#: common sheets and rolls; paper of any make fits that is cut to these sizes
SIZES: dict[str, LabelSize] = {size.key: size for size in (
    LabelSize(key="a4-8", name="99.1 × 67.7 mm, 8 on A4", width=99.1, height=67.7, page="A4", columns=2, rows=4,
              left=4.65, top=13.1, across=101.6, down=67.7),
    LabelSize(key="a4-14", name="99.1 × 38.1 mm, 14 on A4", width=99.1, height=38.1, page="A4", columns=2, rows=7,
              left=4.65, top=15.15, across=101.6, down=38.1),
    LabelSize(key="a4-21", name="63.5 × 38.1 mm, 21 on A4", width=63.5, height=38.1, page="A4", columns=3, rows=7,
              left=7.25, top=15.15, across=66, down=38.1),
    LabelSize(key="letter-6", name="101.6 × 84.7 mm, 6 on Letter", width=101.6, height=84.7, page="letter", columns=2,
              rows=3, left=4, top=12.7, across=106.4, down=84.7),
    LabelSize(key="letter-10", name="101.6 × 50.8 mm, 10 on Letter", width=101.6, height=50.8, page="letter",
              columns=2, rows=5, left=4, top=12.7, across=106.4, down=50.8),
    LabelSize(key="roll-74", name="74 × 52 mm, label printer", width=74, height=52, page="roll"),
    LabelSize(key="roll-100", name="100 × 62 mm, label printer", width=100, height=62, page="roll"),
    LabelSize(key="roll-57", name="57 × 32 mm, label printer", width=57, height=32, page="roll"),
    LabelSize(key="a4-a7", name="105 × 74 mm, 8 on A4", width=105, height=74.25, page="A4", columns=2, rows=4,
              padding=5),
    LabelSize(key="a4-a6", name="148 × 105 mm, 2 on A4", width=148, height=105, page="A4", rows=2, left=31, top=40,
              down=112),
    LabelSize(key="a4-a5", name="148 × 210 mm, 1 on A4", width=148, height=210, page="A4", left=31, top=43),
    LabelSize(key="letter-a6", name="148 × 105 mm, 2 on Letter", width=148, height=105, page="letter", rows=2, left=34,
              top=30, down=112),
    LabelSize(key="letter-a5", name="148 × 210 mm, 1 on Letter", width=148, height=210, page="letter", left=34, top=34),
    LabelSize(key="tag-a7", name="105 × 74 mm, tie-on tag or fold-out, label printer", width=105, height=74,
              page="roll"),
    LabelSize(key="tag-a6", name="148 × 105 mm, tie-on tag or fold-out, label printer", width=148, height=105,
              page="roll"),
)}

#: labels of vessels mixed here, one a page, the smallest first
VESSEL_SIZES: tuple[LabelSize, ...] = tuple(
    LabelSize(key=f"vessel-{width}", name=f"{width} × {height} mm", width=width, height=height, page="roll",
              padding=2.5)
    for width, height in ((74, 52), (105, 74), (148, 105), (210, 148))
)


def sheets(items: Sequence[Item], size: LabelSize, start: int = 1) -> list[list[Item | None]]:
    """Lay labels out on pages, row by row, from a first place on; None is a place left empty."""
    empty = min(max(start, 1), size.a_page) - 1
    laid: list[Item | None] = [*([None] * empty), *items]
    return [laid[at:at + size.a_page] for at in range(0, len(laid), size.a_page)]
