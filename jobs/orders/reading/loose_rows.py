"""Rows in columns without a head: a size among cells, or figures only, which are asked about. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from jobs.orders.reading.items import Item
from jobs.orders.reading.measures import Measure, measure_at
from jobs.orders.reading.settling import Surroundings, settle
from jobs.orders.reading.sizes import Found, sizes_of
from jobs.orders.reading.tables import cells_of
from jobs.orders.reading.tokens import tokens_of

_MOST_IN_A_CELL = 40


def loose_cells(row: str) -> list[str]:
    """Return the cells of a row in columns, none where it is plain writing."""
    if "\t" not in row and row.count("|") < 2 and not re.search(r"\S\s{2,}\S", row.strip()):
        return []
    cells = [cell for cell in cells_of(row) if cell]
    if len(cells) < 2 or any(len(cell) > _MOST_IN_A_CELL or cell.endswith((".", "!", "?")) for cell in cells):
        return []
    return cells


def as_writing(cells: Sequence[str], numbered: bool) -> str | None:
    """Return a row's cells as one writes them, its count said as such; None where it holds no single size.

    numbered: its first cell only numbers the rows.
    """
    sizes = [place for place, cell in enumerate(cells) if len(sizes_of(tokens_of(cell))) == 1]
    if len(sizes) != 1:
        return None
    figures = [place for place, cell in enumerate(cells) if re.fullmatch(r"\d{1,3}", cell) and not (
        numbered and place == 0)]
    said = [f"qty {cell}" if place in figures and len(figures) == 1 else cell for place, cell in enumerate(cells)
            if not (numbered and place == 0)]
    return " , ".join(said)


def numbered_rows(rows: Sequence[list[str]]) -> bool:
    """Say whether the first cells of rows under one another count them: 1, 2, 3."""
    return len(rows) > 1 and [row[0] for row in rows] == [str(number + 1) for number in range(len(rows))]


def figures_only(row: str, cells: Sequence[str], around: Surroundings, place: int) -> Item | None:
    """Read “2 | 600 | 900”: two lengths and a count are likely, and asked."""
    read = [_measure(cell) for cell in cells]
    lengths = [measure for measure in read if measure is not None]
    if not 2 <= len(lengths) <= 3 or any(m is None and re.search(r"\d", c) for m, c in zip(read, cells, strict=True)):
        return None
    count = 1
    if len(lengths) == 3:
        whole = [m.number.whole for m in (lengths[0], lengths[-1])]
        counts = lengths[0] if whole[0] and (not whole[1] or whole[0] <= whole[1]) else lengths[-1]
        if counts.unit or not 1 <= counts.number.whole <= 500:
            return None
        count = counts.number.whole
        lengths = [measure for measure in lengths if measure is not counts]
    options, asked = settle(Found(0, 0, tuple(lengths)), around)
    item = Item(row.strip(), options, quantities=[count], row=place)
    item.doubts = [asked, "The columns have no head: is this how they are meant?"] if asked else [
        "The columns have no head: is this how they are meant?"]
    notes = [cell for cell, measure in zip(cells, read, strict=True) if measure is None]
    item.note = ", ".join(notes)
    if not any(side.label for side in lengths) and options:
        turned = settle(Found(0, 0, (lengths[1], lengths[0])), replace(around, height_first=False))[0]
        if len(options) == 1 and options[0].sides_mm != turned[0].sides_mm:
            item.options = [*options, *turned]
    return item


def _measure(cell: str) -> Measure | None:
    tokens = tokens_of(cell)
    found = measure_at(tokens, 0) if tokens else None
    return found if found is not None and found.end == len(tokens) else None
