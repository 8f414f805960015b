"""Ask the database in chunks, so that no question grows with the studio.

Django prefetches a foreign key as one OR for each key, and SQLite reads an expression at most 1,000 deep;
a list of values may hold 32,766. Both are met by a studio that is a few years old.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, TypeVar

from django.db import models
from django.db.models import Manager, QuerySet, prefetch_related_objects

#: so many keys are asked for at once
CHUNK = 500
Thing = TypeVar("Thing")
Row = TypeVar("Row", bound=models.Model)


def chunks(things: Iterable[Thing]) -> Iterator[list[Thing]]:
    """Return things in their order, at most CHUNK at a time."""
    waiting = list(things)
    for start in range(0, len(waiting), CHUNK):
        yield waiting[start:start + CHUNK]


def fetched(rows: Iterable[Row], *paths: str) -> list[Row]:
    """Return rows with what hangs on them along the paths (“steps__parts__solution_version”), asked for in chunks.

    It is `prefetch_related` at every level, whichever way a key points, however many rows there are.
    """
    found = list(rows)
    for path in paths:
        level: list[Any] = list(found)
        for name in path.split("__"):
            for part in chunks(level):
                prefetch_related_objects(part, name)
            level = [target for row in level for target in _behind(row, name)]
    return found


def _behind(row: models.Model, name: str) -> Iterable[Any]:
    value = getattr(row, name, None)
    if isinstance(value, Manager):
        return value.all()
    return () if value is None else (value,)


def among(rows: QuerySet[Row], name: str, values: Iterable[Any]) -> Iterator[Row]:
    """Return the rows whose column is among the values: chunk by chunk, in the order of the values."""
    for part in chunks(sorted(set(values))):
        yield from rows.filter(**{f"{name}__in": part})
