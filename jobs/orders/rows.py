"""The typed lines of an order form, arranged before they are saved: no table is read or written here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.http import QueryDict

from jobs.line_fields import CARRIED_OVER, SPREAD
from jobs.orders.reading import Line
from studio.kit.typed_numbers import is_whole, whole_number
from studio.kit.units import NotUnderstood, parse_size

MOST_LINES = 60
_LINE = "lines-"
_BEGUN_WITH = frozenset({*CARRIED_OVER, "quantity", "DELETE", "preset_name"})

Row = dict[str, str]


def rows_of(data: QueryDict) -> list[Row]:
    """Return the lines of a sent form, each by its fields' own names."""
    total = min(whole_number(data.get("lines-TOTAL_FORMS", "")), MOST_LINES + 1)
    rows: list[Row] = [{} for _ in range(total)]
    for name in data:
        number, _, field = name.removeprefix(_LINE).partition("-")
        if name.startswith(_LINE) and field and is_whole(number) and whole_number(number) < total:
            rows[whole_number(number)][field] = str(data[name])
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


def is_blank(row: Mapping[str, str]) -> bool:
    """Say whether nothing was entered in a row beyond what a new line begins with: its choices, and one pane."""
    return row.get("quantity", "") in ("", "1") and not any(
        value and name not in _BEGUN_WITH for name, value in row.items()
    )


def with_an_empty_row(rows: list[Row], choices: Row) -> list[Row]:
    """Return the lines with an empty one at the end, which begins with these choices."""
    last = next((row for row in reversed(rows) if not row.get("DELETE")), None)
    if len(rows) > MOST_LINES or (last is not None and is_blank(last)):
        return rows
    return [*rows, {**choices, "quantity": "1"}]


def choices_of(rows: Sequence[Row], preset: Mapping[str, str] | None = None) -> Row:
    """Return what a new line starts with: the customer's preset where one is chosen, else the last line's choices."""
    last = next((row for row in reversed(rows) if row.get("recipe_version")), rows[-1] if rows else {})
    chosen = {name: last[name] for name in CARRIED_OVER if last.get(name)}
    return {**chosen, **(preset or {})}


def duplicated(rows: list[Row], at: int) -> list[Row]:
    if not 0 <= at < len(rows) or len(rows) >= MOST_LINES:
        return rows
    return [*rows[: at + 1], dict(rows[at]), *rows[at + 1:]]


def halved(rows: list[Row], at: int) -> list[Row]:
    """Let half of a line's panes be a line of their own below it, to be given another finish; one pane stays one."""
    count = whole_number(rows[at].get("quantity", "")) if 0 <= at < len(rows) else 0
    if count < 2 or len(rows) >= MOST_LINES:
        return rows
    row = {**rows[at], "own_panes_to_start": ""}  # they were set for all of them
    return [*rows[:at], {**row, "quantity": str(count - count // 2)}, {**row, "quantity": str(count // 2)},
            *rows[at + 1:]]


def merged(rows: list[Row], at: int) -> list[Row]:
    """Let a line have the panes of every line that is like it in all but their number; those are marked as removed."""
    if not 0 <= at < len(rows) or rows[at].get("DELETE"):
        return rows
    alike = [place for place, row in enumerate(rows) if not row.get("DELETE") and _kind(row) == _kind(rows[at])]
    counts = [whole_number(rows[place].get("quantity", "")) for place in alike]
    if len(alike) < 2 or not all(counts):
        return rows
    fresh = [{**row, "DELETE": "on"} if place in alike else row for place, row in enumerate(rows)]
    fresh[at] = {**rows[at], "quantity": str(sum(counts)), "own_panes_to_start": ""}
    return fresh


def _kind(row: Row) -> Row:
    return {name: value.strip() for name, value in row.items() if value.strip() and name not in (
        "quantity", "own_panes_to_start", "DELETE", "preset_name", "written")}


def spread(rows: list[Row], at: int) -> list[Row]:
    """Give the lines below one its finish, glass, edge and the rest; each keeps its shape, size and count."""
    if not 0 <= at < len(rows):
        return rows
    chosen = {name: rows[at].get(name, "") for name in SPREAD}
    return [*rows[: at + 1], *({**row, **chosen} for row in rows[at + 1:])]


def removed(rows: list[Row], at: int, *, back: bool = False) -> list[Row]:
    """Mark a line as removed, or put it back; what was typed stays in it until the order is saved."""
    if not 0 <= at < len(rows):
        return rows
    return [*rows[:at], {**rows[at], "DELETE": "" if back else "on"}, *rows[at + 1:]]


def with_unit(rows: list[Row], at: int, unit: str, default_unit: str) -> list[Row]:
    """Write a unit behind the size of a line that has none; a size with one stays as it was typed."""
    if not 0 <= at < len(rows):
        return rows
    typed = rows[at].get("size_text", "").strip()
    try:
        bare = parse_size(typed, default_unit).bare
    except NotUnderstood:
        bare = False
    return [*rows[:at], {**rows[at], "size_text": f"{typed} {unit}"}, *rows[at + 1:]] if bare else rows


def with_finish(rows: list[Row], version: int, at: int | None) -> list[Row]:
    """Give one line, or with at None every filled one, another finish."""
    return [{**row, "recipe_version": str(version)} if at in (None, place) else row for place, row in enumerate(rows)]


def with_line_moved(rows: list[Row], at: int, by: int) -> list[Row]:
    """Return the lines with one moved up (−1) or down (+1); the first and the last stay in the list."""
    to = at + by
    if not (0 <= at < len(rows) and 0 <= to < len(rows)):
        return rows
    fresh = list(rows)
    fresh[at], fresh[to] = fresh[to], fresh[at]
    return fresh


def with_read(rows: list[Row], lines: Sequence[Line], choices: Row) -> tuple[list[Row], int]:
    """Add lines read out of an e-mail, in place of lines without a size; return also how many found room."""
    with_size = [row for row in rows if row.get("size_text", "").strip()]
    fresh = [_as_row(line, choices) for line in lines][:max(0, MOST_LINES - len(with_size))]
    return [*with_size, *fresh] or rows, len(fresh)


def _as_row(line: Line, choices: Row) -> Row:
    opening = {"opening": "on", "joint_text": line.joint_text} if line.opening else {}
    return {
        **choices, "shape": line.shape, "size_text": line.size_text, "quantity": str(line.quantity),
        "note": line.note, "written": line.written, "holes_text": line.holes_text, **opening,
    }
