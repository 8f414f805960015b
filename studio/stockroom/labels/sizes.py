"""Label sizes in millimetres: sheets of common sizes, and single labels for label printers. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

Item = TypeVar("Item")


@dataclass(frozen=True, kw_only=True)
class LabelSize:
    """A label's millimetres; on a sheet also the page, its margins, and how far apart labels stand.

    columns and rows are 1 for a label printer, whose page is the label.
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

    @property
    def is_roll(self) -> bool:
        return self.page == "roll"

    @property
    def column_step(self) -> float:
        """Return mm from one label's left edge to the next one's."""
        return self.across or self.width

    @property
    def paper_class(self) -> str:
        """Return how large its words are."""
        return "tiny" if self.height < 45 else "label-medium" if self.height > 65 else ""

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
)}


def sheets(items: Sequence[Item], size: LabelSize, start: int = 1) -> list[list[Item | None]]:
    """Lay labels out on pages, row by row, from a first place on; None is a place left empty."""
    empty = min(max(start, 1), size.a_page) - 1
    laid: list[Item | None] = [*([None] * empty), *items]
    return [laid[at:at + size.a_page] for at in range(0, len(laid), size.a_page)]
