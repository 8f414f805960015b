"""Tables pasted into a letter: columns by their heads in any order, or told by what stands in them. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from jobs.orders.reading.items import Item, note_of, words_of
from jobs.orders.reading.measures import LABELS, Measure, measure_at
from jobs.orders.reading.passages import is_round
from jobs.orders.reading.said_for_all import height_said_first
from jobs.orders.reading.settling import Surroundings
from jobs.orders.reading.shapes import measured, shape_of
from jobs.orders.reading.sizes import Found, sizes_of
from jobs.orders.reading.tokens import UNITS, plain, tokens_of
from jobs.orders.reading.unheard import unheard_beside
from jobs.orders.reading.vocabulary import CANCEL, FRAMES, LIKE, MAYBE, OPENINGS, PAST

Role = Literal["width", "height", "size", "diameter", "quantity", "number", "thickness", "note"]

_OF_THE_PANE = r"(?:(?:overall|glass|pane|mirror|panel|finished|nominal|actual|cut|net|tile)\s)?"
_ROLES: tuple[tuple[Role, re.Pattern[str]], ...] = (
    ("width", re.compile(rf"{_OF_THE_PANE}(?:w|width|widths|wide|breadth|across|"
                         r"breite|largeur|breedte|larghezza|ancho|bredd)")),
    ("height", re.compile(rf"{_OF_THE_PANE}(?:h|ht|hgt|height|heights|high|drop|tall|"
                          r"höhe|hoehe|hauteur|hoogte|altezza|alto|höjd)")),
    ("diameter", re.compile(r"(?:dia|diam|diameter|ø)")),
    ("quantity", re.compile(r"(?:qty|qnty|quantity|quantities|quant|pcs|pieces|count|off|no\.? off|nr off|how many|"
                            r"amount|stk|stück|stck|anzahl|menge|quantité|aantal|quantità|antal|no\.? (?:of|req).*|"
                            r"number (?:of|req|off).*|total (?:qty|no).*|panes|panels|"
                            r"qty\.? req.*|req'?d|required|needed|ordered)")),
    ("number", re.compile(r"(?:no|nr|number|#|nos|num)")),
    ("thickness", re.compile(r"(?:glass )?(?:thick|thickness|thk)")),
    ("size", re.compile(r".*(?:\bsizes?\b|dimension|\bdims?\b|measurement|[wh] ?x ?[wh]\b|width x|height x).*")),
)
_HEAD_UNIT = re.compile(
    r"[(\[,/]?\s*(?:in\s)?\b(mm|cms?|m|in|ins|inch|inches|ft|feet|millimetres|centimetres)\b\.?\s*[)\]]?$")
_RULE = re.compile(r"[\s|+:=_-]+")
_MOST_IN_A_CELL = 60


@dataclass(frozen=True)
class Column:
    role: Role
    name: str
    unit: str = ""
    height_first: bool = False


@dataclass(frozen=True)
class Table:
    """A table: where it begins and ends among the rows, its columns, its rows' cells by row number."""

    start: int
    end: int
    columns: tuple[Column, ...]
    rows: dict[int, list[str]] = field(default_factory=dict)


def cells_of(row: str, comma: bool = False) -> list[str]:
    """Split a row into cells by tabs, pipes or wide gaps; by commas or semicolons where its head was split so."""
    if "\t" in row:
        return [cell.strip() for cell in row.strip("\n").split("\t")]
    if row.count("|") >= 1 and not comma:
        return [cell.strip() for cell in row.strip().strip("|").split("|")]
    if not comma and re.fullmatch(r"\s*\d[\d.,]*(?:\s\d[\d.,]*){2,}\s*", row):
        return row.split()
    if comma:
        return [cell.strip() for cell in re.split(r";" if ";" in row else r",", row)]
    return re.split(r"\s{2,}", row.strip())


def head_of(row: str) -> tuple[tuple[Column, ...], bool]:
    """Return the columns that a row names, and whether commas part them; none where it is no head."""
    for comma in (False, True):
        cells = _words_of_a_head(row) or cells_of(row, comma)
        if len(cells) < 2 or any(re.search(r"\d", cell) for cell in cells):
            continue
        columns = _long_and_wide(tuple(_column(cell) for cell in cells))
        roles = {column.role for column in columns}
        if {"width", "height"} <= roles or ("diameter" in roles and len(roles) > 1) or (
                "size" in roles and len(columns) > 1 and roles & {"quantity", "number", "thickness"}):
            return _sorted_out(columns), comma
    return (), False


def _words_of_a_head(row: str) -> list[str]:
    """Return the words of a head that only single spaces part: each names a column, “Width (mm) Height (mm) Qty”."""
    words = re.split(r"\s(?!\()", row.strip())
    named = len(words) > 2 and all(_column(word).role != "note" or _LENGTH.match(word) for word in words)
    return words if named else []


_LENGTH = re.compile(r"(?:length|long|l)\b", re.IGNORECASE)


def _long_and_wide(columns: tuple[Column, ...]) -> tuple[Column, ...]:
    """Read “length” and “width” as the two sides, in that order, where no column is a height."""
    lengths = [column for column in columns if column.role == "note" and _LENGTH.match(column.name)]
    roles = [column.role for column in columns]
    if len(lengths) != 1 or "height" in roles or roles.count("width") != 1:
        return columns
    unit = next(iter(UNITS[found[1]] for found in [_HEAD_UNIT.search(plain(lengths[0].name))]
                     if found and found.start() > 0), "")
    return tuple(replace(column, role="width", unit=unit) if column is lengths[0] else
                 replace(column, role="height") if column.role == "width" else column for column in columns)


def _column(cell: str) -> Column:
    written = plain(cell).strip(" .:*?")
    unit = ""
    found = _HEAD_UNIT.search(written)
    if found and found.start() > 0:
        unit, written = UNITS.get(found[1], ""), written[:found.start()].strip(" .:([-,")
    elif written.endswith(('(")', '"')):
        unit, written = "in", written.strip('" ()')
    for role, pattern in _ROLES:
        if pattern.fullmatch(written):
            return Column(role, cell, unit, bool(height_said_first(cell)))
    return Column("note", cell)


def _sorted_out(columns: tuple[Column, ...]) -> tuple[Column, ...]:
    """Say what “No.” is: how many, unless another column says that."""
    counted = any(column.role == "quantity" for column in columns)
    numbers = sum(column.role == "number" for column in columns)
    role: Role = "note" if counted else "quantity" if numbers == 1 else "note"
    return tuple(replace(column, role=role) if column.role == "number" else column for column in columns)


def table_at(rows: Sequence[str], at: int) -> Table | None:
    """Return the table that begins with its head at a row, or None."""
    columns, comma = head_of(rows[at])
    if not columns:
        return None
    table = Table(at, at + 1, columns)
    end = at + 1
    for place in range(at + 1, len(rows)):
        row = rows[place]
        if not row.strip():
            if place == at + 1 or (place + 1 < len(rows) and _is_data(rows[place + 1], columns, comma)):
                continue
            break
        if _RULE.fullmatch(row):
            end = place + 1
            continue
        if not _is_data(row, columns, comma) and not _without_figures(row, columns, comma):
            break
        table.rows[place] = cells_of(row, comma)
        end = place + 1
    return replace(table, end=end) if table.rows else None


def _is_data(row: str, columns: tuple[Column, ...], comma: bool) -> bool:
    cells = cells_of(row, comma)
    return 2 <= len(cells) <= len(columns) and any(re.search(r"\d", cell) for cell in cells) and all(
        len(cell) <= _MOST_IN_A_CELL for cell in cells)


def _without_figures(row: str, columns: tuple[Column, ...], comma: bool) -> bool:
    """Say whether a row in columns stands in a table and gives no figure: “| Office | - | not yet measured |”."""
    cells = cells_of(row, comma)
    parted = "\t" in row or row.count("|") > 1
    return parted and len(cells) == len(columns) and sum(map(bool, cells)) > 1 and not any(
        len(cell) > 1 and cell.endswith((".", "!", "?")) for cell in cells)


def items_of(table: Table, rows: Sequence[str], around: Surroundings) -> dict[int, Item | str]:
    """Read a table's rows: each an item, or the reason why it is none."""
    counted = [table.rows[place] for place in table.rows]
    return {place: _item(table, place, rows[place].strip(), around, _numbered(table, counted)) for place in table.rows}


def _numbered(table: Table, rows: list[list[str]]) -> bool:
    """Say whether the column taken for counts only numbers its rows: 1, 2, 3."""
    place = next((number for number, column in enumerate(table.columns) if column.role == "quantity"), None)
    if place is None or len(rows) < 2:
        return False
    if table.columns[place].name.strip(" .").lower() not in ("no", "nr", "#", "number"):
        return False
    return [row[place] if place < len(row) else "" for row in rows] == [str(n + 1) for n in range(len(rows))]


def _item(table: Table, place: int, written: str, around: Surroundings, numbered: bool) -> Item | str:
    cells = table.rows[place]
    if len(cells) < len(table.columns) and "\t" not in written and "|" not in written and len(cells) != len(
            table.columns):
        return "A cell is missing in this row of the table, so its columns are not known."
    held: dict[Role, str] = {}
    notes = []
    column_of: dict[Role, Column] = {}
    for column, cell in zip(table.columns, cells, strict=False):
        if column.role in ("note", "thickness") or column.role in held:
            notes.append(cell if column.role == "note" else f"{cell} thick" if cell else "")
        else:
            held[column.role], column_of[column.role] = cell, column
            notes.append(_beside_size(cell) if column.role == "size" else "")
    beside = ", ".join(note for note in notes if note)
    return _from_cells(written, held, column_of, beside, around, numbered, place)


def _beside_size(cell: str) -> str:
    """Return the words in a cell that stand beside its size."""
    tokens = tokens_of(cell)
    taken = {place for size in sizes_of(tokens) for place in range(size.start, size.end)}
    return note_of(cell, tokens, taken) if taken else ""


def _from_cells(
    written: str, held: dict[Role, str], columns: dict[Role, Column], beside: str, around: Surroundings,
    numbered: bool, place: int,
) -> Item | str:
    sides, unit = _sides(held, columns, beside)
    words = tokens_of(beside)
    if isinstance(sides, str):
        return sides
    surroundings = replace(around, said_unit=unit or around.said_unit,
                           height_first=columns["size"].height_first if "size" in columns and not _labelled(sides)
                           and columns["size"].height_first else around.height_first)
    found = Found(0, 0, sides)
    shape = shape_of(words, found)
    size = measured(found, shape, surroundings)
    item = Item(written, size.options, shape=shape, worked_out=size.worked_out, row=place,
                note=beside)
    item.doubts += [size.asked] if size.asked else []
    item.doubts += _doubts_of(words_of(words), sides)
    if words_of(words) & OPENINGS or any("opening" in column.name.lower() for column in columns.values()):
        item.sense.of, item.sense.noun = "opening", "opening"
    elif any(words_of(tokens_of(column.name)) & FRAMES for column in columns.values()):
        item.sense.of, item.sense.noun = "frame", "frame"
    _quantity(item, held, columns, numbered)
    if unheard := unheard_beside(item, beside):
        item.doubts.append(f"It says “{unheard}”: is the line right?")
    return item


def _labelled(sides: tuple[Measure, ...]) -> bool:
    return any(side.label in ("w", "h") for side in sides)


def _doubts_of(words: set[str], sides: tuple[Measure, ...]) -> list[str]:
    doubts = []
    if words & (MAYBE | PAST | LIKE | CANCEL) - {"between", "over", "under", "standard", "old", "stock"}:
        doubts.append("The row says more than its size: is it ordered?")
    if any(side.loose for side in sides):
        doubts.append("It gives no exact size: is this it?")
    return doubts


def _sides(held: dict[Role, str], columns: dict[Role, Column], beside: str) -> tuple[tuple[Measure, ...] | str, str]:
    """Return a row's lengths, or why there are none, and the unit that the head gives."""
    if held.get("size"):
        tokens = tokens_of(held["size"])
        sizes = sizes_of(tokens, is_round([*tokens, *tokens_of(beside)]))
        if len(sizes) != 1 or sizes[0].third is not None or sizes[0].count:
            return "The cell for the size does not hold one size.", ""
        return sizes[0].sides, columns["size"].unit
    if held.get("diameter"):
        one = _measure(held["diameter"])
        return ((replace(one, label="diameter"),) if one else "The diameter was not understood."), columns[
            "diameter"].unit
    sides: tuple[Role, ...] = tuple(role for role in ("width", "height") if role in columns)
    if len(sides) < 2 and not any(map(held.get, sides)):
        return "The row gives no size.", ""
    pair: list[Measure] = []
    for role in ("width", "height"):
        if not held.get(role):
            round_ = is_round(tokens_of(beside)) and pair
            return (tuple(pair) if round_ else f"The row gives no {role}."), next(
                (columns[side].unit for side in sides), "")
        one = _measure(held[role])
        if one is None:
            return f"“{held[role]}” was not understood as a {role}.", ""
        pair.append(replace(one, label=LABELS[role]))
    units = [columns[role].unit for role in ("width", "height")]
    if len(set(units)) > 1:
        pair = [side if side.unit or not unit else replace(side, parts=((side.number, unit), *side.parts[1:]))
                for side, unit in zip(pair, units, strict=True)]
    return tuple(pair), units[0] if len(set(units)) == 1 else ""


def _measure(cell: str) -> Measure | None:
    tokens = tokens_of(cell)
    found = measure_at(tokens, 0) if tokens else None
    return found if found is not None and found.end == len(tokens) else None


def _quantity(item: Item, held: dict[Role, str], columns: dict[Role, Column], numbered: bool) -> None:
    if "quantity" not in columns:
        return
    written = re.sub(r"(?i)\s*(?:no|nr|off|pcs|x|ea)\.?\s*$|^x\s*", "", held.get("quantity", "").strip())
    tokens = tokens_of(written)
    number = tokens[0].whole if len(tokens) == 1 else 0
    item.counted = bool(number)
    if not 1 <= number <= 500:
        item.doubts.append(f"“{written}” is no count: how many?" if written else "The row gives no count: how many?")
        item.quantities = [1]
    elif numbered:
        item.quantities = [1, number] if number != 1 else [1]
        item.doubts.append("That column may only number the rows: how many?")
    else:
        item.quantities = [number]
