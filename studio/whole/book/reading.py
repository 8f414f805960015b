"""Read a book's sections, level by level and in bulk. Whatever is refused names its path inside the document."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.db import Error, transaction

from studio.kit.asking import CHUNK
from studio.kit.book import Column, Entry, Row, Section, Through, reach
from studio.kit.book_values import STOCK, from_book_value
from studio.kit.errors import DaybookError

Path_ = tuple[str | int, ...]


class BookError(DaybookError):
    """A book that cannot be loaded; says where in the document and why."""


@dataclass
class Placed:
    """An entry at its path, the columns it has from where it stands, and the row it has become."""

    path: Path_
    entry: Entry
    given: dict[str, Any] = field(default_factory=dict)
    row: Any = None


@contextmanager
def standing_at(path: Path_) -> Iterator[None]:
    """Name the path in whatever is refused. Raises BookError."""
    try:
        yield
    except BookError:
        raise
    except ValidationError as refusal:
        raise refused(path, "; ".join(refusal.messages)) from refusal
    except (DaybookError, Error, ValueError, ArithmeticError) as refusal:
        raise refused(path, str(refusal)) from refusal


def refused(path: Path_, why: str) -> BookError:
    return BookError(f"/{'/'.join(map(str, path))}: {why}")


class Reading:
    """A book being read: how far its dates are moved, where its files lie, and what it has named so far."""

    def __init__(self, moved: timedelta, folder: Path) -> None:
        self.moved, self.folder = moved, folder
        self._named: dict[type[Row], dict[Any, Row]] = {}
        #: what waits until a section is read: columns to set, and lists
        self._set_later: list[tuple[str, list[Column], Section, list[Placed]]] = []
        self._read_later: list[tuple[Section, list[Placed]]] = []
        self._last: list[tuple[Section, list[Placed]]] = []

    def take_all(self, sections: Iterable[Section], document: Entry) -> None:
        """Read all sections of a document. Raises BookError."""
        for section in sections:
            self.take(section, _placed(section, (), document, {}))
            self._take_up(section.name)
        for section, entries in self._last:
            assert section.last is not None
            for placed in entries:
                with standing_at(placed.path):
                    section.last(placed.row, placed.entry)

    def take(self, section: Section, entries: list[Placed]) -> None:
        """Make a section's rows in bulk, then what hangs on them, then what can only be set when that is there."""
        for attribute, part in section.inside:
            self._take_inside(attribute, part, entries)
        self._keep(section, entries)
        for after in dict.fromkeys(section.later.values()):
            if after:
                columns = [column for column in section.columns if section.later.get(column.attribute) == after]
                self._set_later.append((after, columns, section, entries))
        for part in section.lists:
            hanging = [
                hung for placed in entries
                for hung in _placed(part, placed.path, placed.entry, {part.parent: placed.row})
            ]
            if part.after:
                self._read_later.append((part, hanging))
            else:
                self.take(part, hanging)
        if section.checked is not None:
            for placed in entries:
                with standing_at(placed.path):
                    section.checked(placed.row)
        self._set(section, [column for column in section.columns if section.later.get(column.attribute) == ""], entries)
        if section.last is not None:
            self._last.append((section, entries))

    def _take_inside(self, attribute: str, part: Section, entries: list[Placed]) -> None:
        """Make what rows rest on first: it stands inside their entries."""
        resting = [placed for placed in entries if part.name in placed.entry]
        inside = [Placed((*placed.path, part.name), placed.entry[part.name]) for placed in resting]
        self.take(part, inside)
        for placed, rested_on in zip(resting, inside, strict=True):
            placed.given[attribute] = rested_on.row

    def _take_up(self, name: str) -> None:
        """Do what waited for a section: columns first, since what is read then may freeze them."""
        for after, columns, section, entries in self._set_later:
            if after == name:
                self._set(section, columns, entries)
        for part, hanging in self._read_later:
            if part.after == name:
                self.take(part, hanging)

    def _keep(self, section: Section, entries: list[Placed]) -> None:
        """Make the rows and keep them, a chunk at a time; a row that rests on one not kept yet begins another."""
        waiting: list[Placed] = []
        for placed in entries:
            with standing_at(placed.path):
                values = self._references(section, placed)
                if len(waiting) == CHUNK or any(value.pk is None for value in values.values() if value is not None):
                    _keep_rows(section, waiting)
                    waiting = []
                placed.row = self._row(section, placed, values)
                if section.kept is not None:
                    placed.row = section.kept(placed.row, self.folder)
                else:
                    waiting.append(placed)
            if section.named is not None:
                self._named.setdefault(section.model, {})[_hashable(section.named.of(placed.row))] = placed.row
        _keep_rows(section, waiting)

    def _references(self, section: Section, placed: Placed) -> dict[str, Any]:
        values = dict(placed.given)
        for column in section.columns:
            if column.refers_to is not None and column.name in placed.entry and column.attribute not in section.later:
                values[column.attribute] = self._find(column.refers_to, placed.entry[column.name])
        values |= dict.fromkeys(link.attribute for link in section.through)
        for link in section.through:
            if link.name in placed.entry:
                values[link.attribute] = self._through(link, placed.entry)
        return values

    def _row(self, section: Section, placed: Placed, references: dict[str, Any]) -> Row:
        """Make a row and check it by itself; what stands between rows, the database checks."""
        columns = [
            column for column in section.columns
            if column.refers_to is None and column.name in placed.entry and column.attribute not in section.later
        ]
        row = section.model(**{**section.unsaid, **references})
        for column in sorted(columns, key=lambda column: column.unit == STOCK):  # the row's own unit comes first
            unit = str(reach(row, section.unit)) if column.unit == STOCK else column.unit
            value = from_book_value(placed.entry[column.name], column, unit, self.moved)
            setattr(row, column.attribute, value)
        if section.ready is not None:
            section.ready(row, placed.entry)
        row.clean_fields(exclude={kept.name for kept in section.model._meta.fields if kept.is_relation})
        row.clean()
        return row

    def _find(self, model: type[Row], name: Any) -> Row:
        found = self._named.get(model, {}).get(_hashable(name))
        if found is None:
            shown = " ".join(map(str, name.values())) if isinstance(name, dict) else name
            raise ValueError(f"“{shown}” is named but not in the book.")
        return found

    def _through(self, link: Through, entry: Entry) -> Row | None:
        return getattr(self._find(link.to, entry[link.name]), link.forth)

    def _set(self, section: Section, columns: list[Column], entries: list[Placed]) -> None:
        """Set columns of rows that are kept already."""
        if not columns:
            return
        places = {placed.row.pk: placed for placed in entries if any(column.name in placed.entry for column in columns)}
        rows = [placed.row for placed in places.values()]
        for row in section.innermost_first(rows) if section.innermost_first is not None else rows:
            placed = places[row.pk]
            with standing_at(placed.path):
                values = {column.attribute: self._value(column, placed.entry) for column in columns
                          if column.name in placed.entry}
                section.model._default_manager.filter(pk=row.pk).update(**values)
                for attribute, value in values.items():
                    setattr(row, attribute, value)

    def _value(self, column: Column, entry: Entry) -> Any:
        if column.refers_to is not None:
            return self._find(column.refers_to, entry[column.name])
        return from_book_value(entry[column.name], column, column.unit, self.moved)


def _placed(section: Section, path: Path_, above: Entry, given: dict[str, Any]) -> list[Placed]:
    """Return a section's entries in the document, or in the entry they hang on."""
    found = above.get(section.name)
    if found is None:
        return []
    if section.single:
        return [Placed((*path, section.name), found, dict(given))]
    only = section.columns[0].name
    return [
        Placed((*path, section.name, at), {only: entry} if section.bare else entry, dict(given))
        for at, entry in enumerate(found)
    ]


def _keep_rows(section: Section, entries: list[Placed]) -> None:
    """Keep new rows in one statement; where that is refused, one by one, to name the one it is for."""
    try:
        with transaction.atomic():
            section.model._default_manager.bulk_create([placed.row for placed in entries])
    except (Error, ValidationError):
        for placed in entries:
            with standing_at(placed.path):
                placed.row.full_clean()
                placed.row.save(force_insert=True)


def _hashable(name: Any) -> Any:
    return tuple(sorted(name.items())) if isinstance(name, dict) else name
