"""The published schema of an order file for `manage.py estimate`: names and sizes as people write them."""

from __future__ import annotations

from typing import Any

from jobs.book import BOUGHT_IN
from jobs.line_fields import LINE_FIELDS
from jobs.models import OrderLine
from studio.kit.book import TEXT, Schema, a_thing, many
from studio.kit.book_values import DATE, DECIMAL, amount, value_schema


def _thing(required: tuple[str, ...] = (), **properties: Schema) -> Schema:
    return a_thing(properties, list(required))


def _line_of_a_file() -> dict[str, Schema]:
    """Return the schema of each field of an order file's line that is named after a field of an order line."""
    kinds: dict[str, Schema] = {
        "length": amount("mm"), "area": amount("m2"), "money": DECIMAL, "whole number": {"type": "integer"},
    }
    found: dict[str, Schema] = {}
    for field in LINE_FIELDS:
        column: Any = OrderLine._meta.get_field(field.name)
        choices = [value for value, _ in column.flatchoices if value]
        kind = {"enum": choices} if choices else kinds.get(field.kind, TEXT)
        description: Schema = {"description": field.about} if field.about else {}
        least: Schema = {} if field.least is None else {"minimum": field.least}
        if field.file and field.kind != "holes":  # holes are written as their text
            found[field.file] = {**kind, **description, **least}
    return found


def order_schema() -> Schema:
    """Return the schema of an order file for `manage.py estimate`."""
    bought_in = a_thing(
        {column.name: value_schema(column) for column in BOUGHT_IN.columns},
        [column.name for column in BOUGHT_IN.columns if column.required],
    )
    line = _thing(
        ("size", "quantity", "finish", "glass", "edge"), **_line_of_a_file(),
        size={"type": "string", "description": "As people write it: “24 3/8 x 36”, “610 x 915 mm”, “61cm”."},
        finish=TEXT, glass=TEXT,
        meant_so={"type": "boolean", "description": "An unusual size is meant so: it is asked about without it."},
        version={"type": "integer", "description": "A recipe version; the newest in use one without it."},
    )
    return _thing(
        ("lines",), as_of={**DATE, "description": "The day whose rates, prices and lots count; today without it."},
        customer=TEXT, title=TEXT, lines=many(line), bought_in=many(bought_in),
        discount=_thing((), share=DECIMAL, amount=DECIMAL, reason=TEXT),
    )
