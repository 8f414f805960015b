"""The published JSON Schema of a book, an order and an estimate, made from the sections that load and save it.

`manage.py book_schema` prints it; `schema.json` beside this module is that print.
"""

from __future__ import annotations

from functools import cache

from studio.kit.book import Column, Schema, Section, a_thing, many
from studio.kit.book_values import DATE, value_schema
from studio.whole.book.estimate_schema import estimate_schema
from studio.whole.book.order_schema import order_schema
from studio.whole.book.rooms import NAMES, SECTIONS
from studio.whole.book.save import FORMAT, VERSION


def _column(column: Column) -> Schema:
    return value_schema(column) if column.refers_to is None else NAMES[column.refers_to].schema


def section_schema(section: Section) -> Schema:
    """Return the schema of one entry: its columns, what it rests on and what hangs on it."""
    if section.bare:
        return _column(section.columns[0])
    properties = {column.name: _column(column) for column in section.columns}
    properties |= {link.name: NAMES[link.to].schema for link in section.through}
    properties |= {part.name: section_schema(part) for _, part in section.inside}
    properties |= {part.name: _as_written(part) for part in section.lists}
    required = [column.name for column in section.columns if column.required]
    required += [
        part.name for attribute, part in section.inside if not section.model._meta.get_field(attribute).null
    ]
    return a_thing(properties, required) | section.extra


def _as_written(section: Section) -> Schema:
    return section_schema(section) if section.single else many(section_schema(section))


@cache
def book_schema() -> Schema:
    """Return the schema of a book; an order and an estimate stand under $defs."""
    rooms = {section.name: _as_written(section) for section in SECTIONS}
    head: dict[str, Schema] = {"format": {"const": FORMAT}, "version": {"const": VERSION}, "written_on": DATE}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Silvering Daybook: a studio's book",
        **a_thing({**head, **rooms}, list(head)), "$defs": {"order": order_schema(), "estimate": estimate_schema()},
    }
