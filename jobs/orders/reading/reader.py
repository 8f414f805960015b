"""Reads a letter from its first row to its last, and keeps the order of what is in it. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from jobs.orders.reading.answers import result_of
from jobs.orders.reading.between_sizes import unsized
from jobs.orders.reading.changes import by_size, live, meant
from jobs.orders.reading.course import Course, Heading
from jobs.orders.reading.holes import holes_in, without_holes
from jobs.orders.reading.items import Item, words_of
from jobs.orders.reading.letter import Row, rows_of
from jobs.orders.reading.loose_rows import as_writing, figures_only, loose_cells, numbered_rows
from jobs.orders.reading.outcome import Mark, Reading
from jobs.orders.reading.passages import Passage, is_round, passages_of
from jobs.orders.reading.said_for_all import heights_first_by_row, units_by_row
from jobs.orders.reading.settling import Surroundings, settle
from jobs.orders.reading.shared_counts import give_to_each, openings_alike
from jobs.orders.reading.sizes import sizes_of
from jobs.orders.reading.tables import items_of, table_at
from jobs.orders.reading.tokens import tokens_of

MOST_CHARACTERS = 20_000
#: a hole is said to be in one of several
_NAMED = re.compile(r"\b(?:in|on|through|for|of|into|to)\s(?:the\s)?(?:\w+\s)?"
                    r"(?:one|ones|first|second|third|last|other|both|each)\b", re.IGNORECASE)
_STRUCK = re.compile(
    r"~~.+?~~|\[(?:struck|deleted|cancelled)\].*|<(?:s|del|strike)>.+?</(?:s|del|strike)>", re.IGNORECASE)


def read_letter(text: str, default_unit: str = "mm") -> Reading:
    """Read what a customer wrote. default_unit: of a bare number, "mm" or "in", unless the letter says another.

    Never raises for what is written. Each size is a line, a question or a mark; words without any are passed over.
    """
    rows = rows_of(text[:MOST_CHARACTERS])
    reader = _Reader(rows, default_unit)
    reader.read()
    if len(text) > MOST_CHARACTERS:
        beyond = text[MOST_CHARACTERS:MOST_CHARACTERS + 60].strip()
        reader.course.entries.append(Mark(written=beyond, why="The rest is too long to read."))
    return Reading(
        results=tuple(result_of(entry) if isinstance(entry, Item) else entry for entry in reader.course.entries),
        passed_over=tuple(reader.course.passed_over),
    )


@dataclass
class _Reader:
    rows: list[Row]
    default_unit: str
    course: Course = field(default_factory=Course)

    def read(self) -> None:
        texts = [row.text if row.voice == "own" else "" for row in self.rows]
        self.units, self.heights = units_by_row(texts), heights_first_by_row(texts)
        self.in_mm = self.default_unit == "mm" and _in_mm_all_along(texts)
        at_row = 0
        while at_row < len(self.rows):
            at_row = self._read_from(at_row, texts)
        self.course.counted_apart()

    def _around(self, row: int) -> Surroundings:
        return Surroundings(default_unit=self.default_unit, said_unit=self.units[row], height_first=self.heights[row],
                            in_mm_all_along=self.in_mm)

    def _read_from(self, at_row: int, texts: list[str]) -> int:
        row = self.rows[at_row]
        self.course.answered = row.answered
        if row.voice in ("quoted", "header", "signature"):
            self._not_own(row)
        elif row.voice == "blank":
            self.course.heading = Heading() if self.course.last_row == at_row - 1 else self.course.heading
        elif (table := table_at(texts, at_row)) is not None:
            for place, item in items_of(table, texts, self._around(at_row)).items():
                why = Mark(written=texts[place].strip(), why=item) if isinstance(item, str) else item
                self.course.take(why, place)
                if isinstance(item, Item):
                    for hole in list(holes_in(item.note)):
                        self.course.hole(hole, [item], noted=True)
            return table.end
        elif cells := loose_cells(row.text):
            self._loose(at_row, cells, texts)
        else:
            self._writing(at_row, row.text)
        return at_row + 1

    def _not_own(self, row: Row) -> None:
        """Mark a size in a quoted letter or a header; pass everything else over."""
        tokens = tokens_of(row.text)
        if row.voice in ("quoted", "header") and any(sizes_of(tokens, is_round(tokens))):
            where = "a quoted earlier message" if row.voice == "quoted" else "the mail’s head"
            why = f"It stands in {where}: type it yourself if it is still ordered."
            self.course.entries.append(Mark(written=row.text.strip(), why=why))
        elif row.text.strip():
            self.course.passed_over.append(row.text.strip())

    def _loose(self, at_row: int, cells: list[str], texts: list[str]) -> None:
        """Read a row in columns without a head."""
        block = [cells]
        for step in (-1, 1):
            near = at_row + step
            while 0 <= near < len(texts) and (others := loose_cells(texts[near])):
                block.insert(0, others) if step < 0 else block.append(others)
                near += step
        numbered = numbered_rows(block)
        written = as_writing(cells, numbered)
        row = texts[at_row].strip()
        if _STRUCK.search(row):
            self._writing(at_row, row)
            return
        if written is not None:
            self._writing(at_row, written, as_written=row)
            return
        item = figures_only(row, cells, self._around(at_row), at_row)
        if item is not None:
            self.course.take(item, at_row)
        else:
            self._writing(at_row, row)

    def _writing(self, at_row: int, row: str, as_written: str = "") -> None:
        text, holes = without_holes(row)
        passages: list[Passage] = []
        start = 0
        for found in _STRUCK.finditer(text):
            passages += passages_of(text[start:found.start()])
            self.course.take(Mark(written=found.group(), why="It is struck out."), at_row)
            start = found.end()
        passages += passages_of(text[start:])
        passages = [passage for passage in passages if passage.text]
        fresh: list[tuple[Item, Passage]] = []
        for passage in passages:
            if passage.found is not None:
                around = self._around(at_row)
                borrowed = "" if around.said_unit else _borrowed(passage, passages, around)
                around = replace(around, said_unit=borrowed) if borrowed else around
                fresh += self.course.sized(passage, at_row, around, as_written)
            else:
                passage = replace(passage, text=as_written or passage.text)
                unsized(self.course, passage, at_row, text, self._around(at_row))
            self.course.before = words_of(passage.tokens)
        openings_alike(fresh)
        give_to_each(fresh)
        for hole in holes:
            ahead = sum(1 for _ in sizes_of(tokens_of(row[:hole.start])))
            beside = [item for item, _ in fresh[max(ahead - 1, 0):][:1]]
            of_another = len(fresh) > 1 and beside and _NAMED.search(hole.text)
            self.course.hole(hole, _holed(hole.text, fresh) if of_another else beside)


def _holed(said: str, fresh: list[tuple[Item, Passage]]) -> list[Item]:
    """Return the one size of a row that “35 mm hole in the big one” names, [] where it may be several."""
    items = live([item for item, _ in fresh])
    words = words_of(tokens_of(said))
    one = by_size(words, items) or meant(words, items, near=False)
    return [] if one is None else [one]


def _in_mm_all_along(rows: list[str]) -> bool:
    """Say whether other sizes of a letter show that its bare numbers are millimetres."""
    sides = [side for row in rows for size in sizes_of(tokens_of(row)) if size.pair for side in size.sides]
    written = {side.unit for side in sides if side.unit}
    large = any(not side.unit and side.number.values[0] >= 300 for side in sides)
    return written <= {"mm", "m"} and (large or "mm" in written)


def _borrowed(passage: Passage, passages: list[Passage], around: Surroundings) -> str:
    """Return the unit that stands once at the end of a list: “60 x 90, 40 x 50 and 30 x 30 cm”."""
    found = passage.found
    if found is None or any(side.unit or side.number.fraction for side in found.sides):
        return ""
    later = [other.found for other in passages[passages.index(passage) + 1:] if other.found is not None]
    units = {side.unit for size in later for side in size.sides if side.unit}
    if len(units) != 1:
        return ""
    unit = units.pop()
    options, asked = settle(found, replace(around, said_unit=unit))
    likely = [option for option in options if all(100 <= side <= 4000 for side in option.sides_mm)]
    if unit == "mm":
        likely = [option for option in likely if max(option.sides_mm) >= 250]
    return unit if likely and not asked else ""
