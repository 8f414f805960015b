"""Single values as a book shows them: exact amounts as text with their unit, days and moments in ISO form."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db import models

from studio.exact import ExactField
from studio.kit.book import CODE, TEXT, Column, Schema
from studio.kit.rounding import as_decimal, plain
from studio.kit.typed_numbers import read_decimal
from studio.kit.units import amount_in

#: unit shown in a book → the kind of amount it is
UNIT_KINDS = {
    "mm": "length", "mL": "volume", "g": "mass", "min": "time", "m2": "area", "mL/m2": "coverage", "g/mL": "density",
}
#: of an amount with its unit, in a book
MOST_LETTERS = 80
_WITH_EXPONENT = re.compile(r"\d[eE][-+]?\d")
#: the unit is the row's own: the material's stock unit
STOCK = "stock"
DECIMAL: Schema = {"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]+)?$", "description": "A decimal number."}
DATE: Schema = {"type": "string", "format": "date", "pattern": r"^\d{4}-\d{2}-\d{2}$"}
MOMENT: Schema = {"type": "string", "format": "date-time", "pattern": r"^\d{4}-\d{2}-\d{2}T.*([+-]\d{2}:\d{2}|Z)$"}


def amount_text(value: Decimal, unit: str) -> str:
    """Return an amount with its unit, without trailing zeros: “500 g”."""
    return f"{plain(value)} {unit}"


def read_amount(text: str, unit: str, decimals: int) -> Decimal:
    """Read “500 g” or “1 lb” in the unit a column is kept in; a leading minus is kept."""
    sign, bare = (-1, text[1:]) if text.startswith("-") else (1, text)
    if unit in ("sheet", "each"):
        return sign * read_decimal(bare.split()[0])
    return sign * as_decimal(Fraction(amount_in(bare, UNIT_KINDS[unit])), decimals)


def is_left_out(column: Column, value: Any) -> bool:
    """Say whether a value goes without saying: empty, or as by default."""
    if value is None or value == "":
        return True
    if column.unsaid is not None:
        return bool(value == column.unsaid)
    return bool(column.field.has_default() and column.field.to_python(column.field.get_default()) == value)


def as_book_value(value: Any, unit: str) -> Any:
    """Return a column's value as it stands in the book. unit: "" for a plain value."""
    if isinstance(value, Decimal):
        return amount_text(value, unit) if unit else plain(value)
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    if isinstance(value, (bool, int, str, list, dict)):
        return value
    return str(value)  # UUID


def from_book_value(value: Any, column: Column, unit: str, moved: timedelta) -> Any:
    """Return a book value as the column keeps it, its dates moved."""
    kept = column.field
    if isinstance(kept, ExactField):
        if len(value) > MOST_LETTERS or _WITH_EXPONENT.search(value):
            raise ValueError(f"“{value[:20]}…” is no amount: it is longer than any, or written with an exponent.")
        return read_amount(value, unit, kept.decimals) if unit else read_decimal(value)
    if isinstance(kept, models.DateTimeField):
        return datetime.fromisoformat(value) + moved
    if isinstance(kept, models.DateField):
        return date.fromisoformat(value) + moved
    if isinstance(kept, models.JSONField):
        return move_dates(value, moved)
    return value


def move_dates(value: Any, moved: timedelta) -> Any:
    """Return JSON values with every ISO date or time in them moved."""
    if not moved:
        return value
    if isinstance(value, dict):
        return {key: move_dates(item, moved) for key, item in value.items()}
    if isinstance(value, list):
        return [move_dates(item, moved) for item in value]
    if isinstance(value, str) and len(value) >= 10 and value[4:5] == value[7:8] == "-":
        try:
            return (date.fromisoformat(value) + moved).isoformat()
        except ValueError:
            return value
    return value


def amount(unit: str) -> Schema:
    """Return the schema of an amount with its unit."""
    if unit == STOCK:
        return {"type": "string", "description": "An amount with its unit, convertible to the stock unit."}
    return {"type": "string", "description": f"An amount of {UNIT_KINDS[unit]} with its unit; kept in {unit}."}


def value_schema(column: Column) -> Schema:
    """Return the schema of a column's value, from its field."""
    kept = column.field
    if isinstance(kept, ExactField):
        return amount(column.unit) if column.unit else DECIMAL
    kinds: tuple[tuple[type, Schema], ...] = (
        (models.BooleanField, {"type": "boolean"}), (models.DateTimeField, MOMENT), (models.DateField, DATE),
        (models.JSONField, {"type": ["object", "array"]}), (models.IntegerField, {"type": "integer"}),
        (models.SlugField, CODE),
    )
    for kind, schema in kinds:
        if isinstance(kept, kind):
            return schema
    return {"enum": [value for value, _ in kept.choices]} if kept.choices else TEXT
