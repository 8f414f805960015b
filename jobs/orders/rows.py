"""The typed lines of an order form, arranged before they are saved: no table is read or written here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from django.http import QueryDict

from jobs.line_fields import CARRIED_OVER, SPREAD
from jobs.orders.pasted_sizes import PastedLine
from studio.house.http import whole_number

MOST_LINES = 60
_LINE = "lines-"

Row = dict[str, str]


def rows_of(data: QueryDict) -> list[Row]:
    """Return the lines of a sent form, each by its fields' own names."""
    total = min(whole_number(data.get("lines-TOTAL_FORMS", "")), MOST_LINES)
    rows: list[Row] = [{} for _ in range(total)]
    for name in data:
        number, _, field = name.removeprefix(_LINE).partition("-")
        if name.startswith(_LINE) and field and number.isdecimal() and int(number) < total:
            rows[int(number)][field] = str(data[name])
    return rows


def with_rows(data: QueryDict, rows: Sequence[Row]) -> QueryDict:
    """Return the same form with these lines in place of its own."""
    fresh = data.copy()
    for name in list(fresh):
        if name.startswith(_LINE) and not name.endswith("_FORMS"):
            del fresh[name]
    for number, row in enumerate(rows):
        for field, value in row.items():
            fresh[f"{_LINE}{number}-{field}"] = value
    fresh["lines-TOTAL_FORMS"] = str(len(rows))
    fresh["lines-INITIAL_FORMS"] = "0"
    return fresh


def choices_of(rows: Sequence[Row], preset: Mapping[str, str] | None = None) -> Row:
    """Return what a new line starts with: the customer's preset where one is chosen, else the last line's choices."""
    last = next((row for row in reversed(rows) if row.get("recipe_version")), {})
    chosen = {name: last[name] for name in CARRIED_OVER if last.get(name)}
    return {**chosen, **(preset or {})}


def another(rows: list[Row], choices: Row) -> list[Row]:
    return rows if len(rows) >= MOST_LINES else [*rows, {**choices, "quantity": "1"}]


def duplicated(rows: list[Row], at: int) -> list[Row]:
    if not 0 <= at < len(rows) or len(rows) >= MOST_LINES:
        return rows
    return [*rows[: at + 1], dict(rows[at]), *rows[at + 1:]]


def spread(rows: list[Row], at: int) -> list[Row]:
    """Give every line the finish, glass, edge and the rest of one; each keeps its shape, size and count."""
    if not 0 <= at < len(rows):
        return rows
    chosen = {name: rows[at].get(name, "") for name in SPREAD}
    return [{**row, **chosen} for row in rows]


def with_line_moved(rows: list[Row], at: int, by: int) -> list[Row]:
    """Return the lines with one moved up (−1) or down (+1); the first and the last stay in the list."""
    to = at + by
    if not (0 <= at < len(rows) and 0 <= to < len(rows)):
        return rows
    fresh = list(rows)
    fresh[at], fresh[to] = fresh[to], fresh[at]
    return fresh


def with_pasted(rows: list[Row], pasted: Iterable[PastedLine], choices: Row) -> tuple[list[Row], list[PastedLine]]:
    """Add what was read as lines, in place of lines without a size; return also what found no room."""
    with_size = [row for row in rows if row.get("size_text", "").strip()]
    left_over: list[PastedLine] = []
    for line in pasted:
        if len(with_size) >= MOST_LINES:
            left_over.append(line)
            continue
        with_size.append({
            **choices, "shape": line.shape, "size_text": line.size_text, "quantity": str(line.quantity),
            "note": line.note, "written": line.written,
        })
    return with_size or rows, left_over
