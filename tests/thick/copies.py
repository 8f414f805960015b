"""Rows copied many times over, with what they point at: new keys and numbers, their days moved.

Rows are written in bulk and in the order the bench writes them, the database's rules standing: what is closed (a run, a
trial, a solution) is written open, filled, then closed.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.core.management.color import no_style
from django.db import connection, models
from django.db.models import Max

Values = dict[str, Any]
Model = type[models.Model]
#: written last of all of a row, since the database refuses what comes after it
CLOSES = {
    "jobs.Run": ("finished_at", "finished_by_id", "made_safe_at", "made_safe_by_id", "posting_id", "stopped"),
    "recipes.Trial": ("closed_at",),
    "recipes.SolutionVersion": ("frozen_at",),
}


class Sheaf:
    """Some rows that belong together, read once: copied together, what points inside points at the copy."""

    def __init__(self, *parts: models.QuerySet[Any]) -> None:
        self.parts: list[tuple[Model, list[Values]]] = [
            (part.model, list(part.order_by("pk").values(*(field.attname for field in part.model._meta.concrete_fields))))
            for part in parts
        ]

    def rows(self, model: Model) -> list[Values]:
        return next(rows for known, rows in self.parts if known is model)


class Copying:
    """Copies of rows, gathered and written a heap at a time."""

    def __init__(self, seed: int = 17) -> None:
        self._random = random.Random(seed)
        self._next: dict[Model, int] = {}
        self._numbers: dict[tuple[Model, str], int] = {}
        self._waiting: dict[Model, list[Values]] = {}

    def key(self) -> UUID:
        return UUID(int=self._random.getrandbits(128), version=4)

    def next_pk(self, model: Model) -> int:
        if model not in self._next:
            self._next[model] = (model._base_manager.aggregate(most=Max("pk"))["most"] or 0) + 1
        self._next[model] += 1
        return self._next[model] - 1

    def next_number(self, model: Model, name: str = "number") -> int:
        if (model, name) not in self._numbers:
            self._numbers[model, name] = (model._base_manager.aggregate(most=Max(name))["most"] or 0) + 1
        self._numbers[model, name] += 1
        return self._numbers[model, name] - 1

    def copy(
        self, sheaf: Sheaf, moved: timedelta = timedelta(), known: Mapping[tuple[Model, Any], Any] | None = None,
        **other: Any,
    ) -> dict[tuple[Model, Any], Any]:
        """Put one copy of a sheaf on the heap; return what became of each row.

        known: where rows outside the sheaf are pointed at in place of the first ones. other: by the model's name, a
        function that changes the values of each copy, given them, or leaves the row out by returning None.
        """
        became = dict(known or {})
        for model, rows in sheaf.parts:
            change = other.get(model.__name__)
            for row in rows:
                values = self._moved(model, row, moved, became)
                if change is not None:
                    values = change(values)
                    if values is None:
                        continue
                became[model, row["id"]] = values["id"]
                self.add(model, values)
        return became

    def add(self, model: Model, values: Values) -> None:
        self._waiting.setdefault(model, []).append(values)

    def waiting(self, model: Model) -> list[Values]:
        return self._waiting.get(model, [])

    def _moved(self, model: Model, row: Values, moved: timedelta, became: Mapping[tuple[Model, Any], Any]) -> Values:
        values: Values = {}
        for field in model._meta.concrete_fields:
            value = row[field.attname]
            if field.primary_key:
                value = self.next_pk(model)
            elif isinstance(field, models.ForeignKey):
                value = became.get((field.related_model, value), value)
            elif isinstance(value, UUID):
                value = self.key()
            elif isinstance(value, date):  # moments too
                value += moved
            values[field.attname] = value
        return values

    def write(self, *order: Model) -> None:
        """Write what is on the heap, model by model in this order, and close what is closed."""
        for model in order:
            rows = self._waiting.pop(model, [])
            closing = CLOSES.get(model._meta.label, ())
            for part in _parts(rows, 2000):
                model._base_manager.bulk_create([model(**_open(model, row, closing)) for row in part], batch_size=400)
            if closing:
                self._waiting.setdefault(_Closed, []).extend({"model": model, **row} for row in rows)

    def close(self) -> None:
        """Close what was written open."""
        with connection.cursor() as cursor:
            for row in self._waiting.pop(_Closed, []):
                model = row.pop("model")
                names = CLOSES[model._meta.label]
                fields = [next(field for field in model._meta.concrete_fields if field.attname == name) for name in names]
                if any(row[name] is not None for name in names):
                    cursor.execute(
                        f"UPDATE {model._meta.db_table} SET {', '.join(f'{field.column} = %s' for field in fields)} "
                        "WHERE id = %s",
                        [*(field.get_db_prep_save(row[field.attname], connection) for field in fields), row["id"]],
                    )

    def left(self) -> list[str]:
        """Return what is on the heap and was never written."""
        return sorted(model.__name__ for model, rows in self._waiting.items() if rows)


class _Closed(models.Model):
    """What waits to be closed."""

    class Meta:
        app_label = "thick"
        managed = False


def _open(model: Model, row: Values, closing: Iterable[str]) -> Values:
    if not closing:
        return row
    fields = {field.attname: field for field in model._meta.concrete_fields}
    return {**row, **{name: False if isinstance(fields[name], models.BooleanField) else
                      "" if isinstance(fields[name], models.CharField) else None for name in closing}}


def _parts(rows: list[Values], size: int) -> Iterator[list[Values]]:
    for start in range(0, len(rows), size):
        yield rows[start:start + size]


def after_own_keys(*of: Model) -> None:
    """Let the database count on after keys that were given."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), list(of)):
            cursor.execute(statement)
