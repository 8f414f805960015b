"""How a room says, once, what of it stands in a book: from this the book is written, read and its schema made.

A room's `book.py` lists Sections. A section names a model's columns in one string, each “attribute”,
“attribute=name” or “attribute=name:unit”; what kind of value it is follows from the field: an exact amount
with its unit, a date, a moment, text, or a reference, written as the section of its model is `named`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, reduce
from pathlib import Path
from typing import Any
from uuid import UUID

from django.db import models

Entry = dict[str, Any]
Schema = dict[str, Any]
Row = models.Model
TEXT: Schema = {"type": "string"}
CODE: Schema = {"type": "string", "pattern": r"^[-a-z0-9_]+$"}
KEY: Schema = {"type": "string", "pattern": r"^[-a-z0-9_]+/[0-9]+$", "description": "code/version number"}
COUNT: Schema = {"type": "integer", "minimum": 0}


def reach(row: Any, path: str) -> Any:
    """Return what stands at a dotted path of attributes; None where the way ends."""
    return reduce(lambda at, name: None if at is None else getattr(at, name, None), path.split("."), row)


@dataclass(frozen=True)
class Column:
    """A column by its attribute, its name in the book, and its unit ("" for a plain value, “stock”: the row's own)."""

    attribute: str
    name: str
    unit: str
    field: Any
    #: its value where an entry does not say it; None: the field's own default
    unsaid: Any = None

    @property
    def refers_to(self) -> type[Row] | None:
        """Return the model a reference points to; None for a value."""
        return self.field.related_model if isinstance(self.field, models.ForeignKey) else None

    @property
    def required(self) -> bool:
        return not (self.field.has_default() or self.field.null or self.field.blank)


@dataclass(frozen=True)
class Named:
    """How other entries name a row: by one value, or by several under their names.

    parts: dotted path and schema of each value by its name; one of the name "" stands alone. needs: what is fetched
    to name a row, as prefetch paths.
    """

    parts: Mapping[str, tuple[str, Schema]]
    needs: tuple[str, ...] = ()

    def of(self, row: Row) -> Any:
        """Return a row's name as it stands in the book."""
        values = {name: reach(row, path) for name, (path, _) in self.parts.items()}
        values = {name: str(value) if isinstance(value, UUID) else value for name, value in values.items()}
        return values.get("", values)

    @property
    def schema(self) -> Schema:
        if "" in self.parts:
            return self.parts[""][1]
        return a_thing({name: schema for name, (_, schema) in self.parts.items()}, list(self.parts))


def by(path: str, schema: Schema = TEXT, *needs: str) -> Named:
    """Name rows by one value."""
    return Named({"": (path, schema)}, needs)


@dataclass(frozen=True)
class Through:
    """A reference given by way of a third row: an offcut's reservation by the number of the job that holds it.

    attribute: of the row; to: the third model; back: from what the attribute holds to it; forth: from it again.
    """

    attribute: str
    name: str
    to: type[Row]
    back: str
    forth: str


@dataclass(frozen=True, kw_only=True)
class Section:
    """What of one model stands in the book, and how.

    name: in the document, or in the entry it stands in. words: the columns. order: how rows are sorted (of a list
    inside an entry: attributes; without any, as the model orders them). parent: in a list inside another entry, the
    key to that entry's row. lists: what hangs on a row. inside: by key, what a row rests on and is written within it.
    later: columns set only when all that hangs on the row is there, or after the section named; after: the same for
    a whole list. unsaid: what a column is where an entry does not say it, if that is not what new rows start with: a
    book of before means what it meant. unit: the path of a row's own unit. single: one entry instead of a list.
    bare: an entry is its one column's value. innermost_first: the order in which later columns are set.
    ready: a look at each new row before it is kept; checked: after all that hangs on it; kept: how a row with a file
    beside the book is kept; last: once the whole book is read. What these refuse, they raise as a DaybookError.
    """

    name: str
    model: type[Row]
    words: str
    order: tuple[str, ...] = ()
    parent: str = ""
    lists: tuple[Section, ...] = ()
    inside: tuple[tuple[str, Section], ...] = ()
    through: tuple[Through, ...] = ()
    named: Named | None = None
    unit: str = ""
    single: bool = False
    bare: bool = False
    later: Mapping[str, str] = field(default_factory=dict)
    unsaid: Mapping[str, Any] = field(default_factory=dict)
    after: str = ""
    extra: Schema = field(default_factory=dict)
    ready: Callable[[Any, Entry], None] | None = None
    checked: Callable[[Any], None] | None = None
    last: Callable[[Any, Entry], None] | None = None
    kept: Callable[[Any, Path], Any] | None = None
    innermost_first: Callable[[list[Any]], list[Any]] | None = None

    @cached_property
    def columns(self) -> tuple[Column, ...]:
        """Return the columns; a misspelt attribute fails here."""
        return tuple(self._column(word) for word in self.words.split())

    def _column(self, word: str) -> Column:
        attribute, _, rest = word.partition("=")
        name, _, unit = (rest or attribute).partition(":")
        return Column(attribute, name, unit, self.model._meta.get_field(attribute), self.unsaid.get(attribute))

    @property
    def accessor(self) -> str:
        """Return the attribute of the parent's row that these rows are reached by."""
        key: Any = self.model._meta.get_field(self.parent)
        return str(key.remote_field.get_accessor_name())

    def every(self) -> Iterator[Section]:
        """Return this section and all within it."""
        yield self
        for part in (*(listed for _, listed in self.inside), *self.lists):
            yield from part.every()


def a_thing(properties: Mapping[str, Schema], required: list[str]) -> Schema:
    return {"type": "object", "properties": dict(properties), "required": required, "additionalProperties": False}


def many(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def names_of(sections: tuple[Section, ...]) -> dict[type[Row], Named]:
    """Return, by model, how rows are named in the book of these sections."""
    return {inner.model: inner.named for section in sections for inner in section.every() if inner.named is not None}
