"""A delivery note in columns: its head, and the cells of each line below it by what their column names. Pure."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence

from studio.stockroom.deliveries.note_words import CARRIAGE, SUM, TAX

_HEADS = {
    "good": ("description", "material", "item", "name", "product", "article", "goods"),
    "lot": ("lot", "lot no", "lot number", "batch", "batch no", "batch number"),
    "quantity": ("qty", "quantity", "packs", "no", "units", "pcs"),
    "amount": ("amount", "pack", "pack size", "size", "contents", "unit size"),
    "unit price": ("unit price", "price each", "each", "price per pack", "unit cost", "price/unit"),
    "price": ("price", "cost", "total", "line total", "net", "value", "line", "amount net", "net price", "total net"),
    "expires": ("expires", "expiry", "exp", "use by", "best before", "expiry date", "exp date"),
}
_COLUMN = {word: column for column, words in _HEADS.items() for word in words}
_MONEY_WORDS = re.compile(r"[£€$¥]|\b(?:gbp|eur|usd|chf)\b|[().:]|\bin\b", re.IGNORECASE)


def cells_of(line: str) -> list[str]:
    """Return the cells of a line, by tabs, semicolons, bars or commas, whichever it uses."""
    for mark in ("\t", ";", "|"):
        if mark in line:
            return [cell.strip() for cell in line.strip("| ").split(mark)]
    try:
        return [cell.strip() for cell in next(csv.reader([line]))] if "," in line else [line]
    except (csv.Error, StopIteration):
        return [line]


def table_of(lines: Sequence[tuple[int, str]]) -> dict[int, dict[str, str]] | None:
    """Return the cells of each line below a head, by column; None where no line is a head."""
    for at, (_, line) in enumerate(lines):
        cells = cells_of(line)
        head = [_COLUMN.get(" ".join(_MONEY_WORDS.sub(" ", cell).casefold().split()), "") for cell in cells]
        if "good" in head and sum(bool(column) for column in head) >= 2:
            if "unit price" not in head and head.count("price") > 1:
                head[head.index("price")] = "unit price"
            below: dict[int, dict[str, str]] = {}
            for number, row in lines[at + 1:]:
                values = cells_of(row)
                if len(values) >= 2 and abs(len(values) - len(head)) <= 1 and not (SUM.match(row) or TAX.match(row)
                                                                                  or CARRIAGE.match(row)):
                    below[number] = {column: value for column, value in zip(head, values, strict=False) if column}
                    extra = [value for column, value in zip(head, values, strict=False) if not column and value]
                    below[number]["other"] = ", ".join(extra + values[len(head):])
            return below
    return None


def head_lines(lines: Sequence[tuple[int, str]], table: Mapping[int, object]) -> set[int]:
    """Return the number of the head itself: it is no line of the note."""
    first = min(table, default=0)
    return {number for number, line in lines if number < first and "good" in
            [_COLUMN.get(" ".join(_MONEY_WORDS.sub(" ", cell).casefold().split()), "") for cell in cells_of(line)]}
