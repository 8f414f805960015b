"""A row kept as JSON, to be written back just as it was: exact figures as text, days as ISO 8601."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import models


def as_kept(row: models.Model, *but: str) -> dict[str, Any]:
    """Return a row's values by column, without its key. but: columns that the caller keeps in another way, or not."""
    return {field.name: plain_json(field.value_from_object(row)) for field in row._meta.concrete_fields
            if not field.primary_key and field.name not in but}


def read_kept(model: type[models.Model], kept: Mapping[str, Any]) -> dict[str, Any]:
    """Return kept values as a model's columns hold them. A column that was not kept is left out."""
    return {name: _read(model._meta.get_field(name), value) for name, value in kept.items()}


def plain_json(value: Any) -> Any:
    """Return a value as JSON can hold it."""
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    return value.isoformat() if isinstance(value, date) else value


def _read(field: Any, value: Any) -> Any:
    return None if value is None else field.to_python(value)
