"""Ask the database in chunks, so that no question grows with the studio.

Django prefetches a foreign key as one OR for each key, and SQLite reads an expression at most 1,000 deep;
a list of values may hold 32,766. Both are met by a studio that is a few years old.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from typing import Any, TypeVar

from django.db import connection, models
from django.db.models import Manager, QuerySet, prefetch_related_objects
from django.db.models.expressions import Combinable

#: so many keys are asked for at once
CHUNK = 500
#: so many rows of a long table are held at once; and so many of one whose rows carry frozen papers
HELD, FEW = 2000, 50
Thing = TypeVar("Thing")
Row = TypeVar("Row", bound=models.Model)


def chunks(things: Iterable[Thing]) -> Iterator[list[Thing]]:
    """Return things in their order, at most CHUNK at a time."""
    return in_heaps(list(things), CHUNK)


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


def in_heaps(things: Iterable[Thing], size: int) -> Iterator[list[Thing]]:
    """Yield things in their order, so many at a time, without holding the rest."""
    waiting = iter(things)
    while part := list(islice(waiting, size)):
        yield part


def rows_by_key(rows: QuerySet[Row], held: int = 0) -> Iterator[Row]:
    """Yield every row in the order of their keys, so many held at a time: no cursor stays open between two.

    However long a table is, it takes no more memory.
    """
    return _by_key(rows, lambda row: row.pk, held or HELD)


def by_key(rows: QuerySet[Any], *columns: str | Combinable) -> Iterator[tuple[Any, ...]]:
    """Yield columns of every row in the order of their keys, HELD at a time: no cursor stays open between two.

    However long a table is, it takes no more memory; what is written meanwhile waits for nobody.
    """
    for _, *values in _by_key(rows.values_list("pk", *columns), lambda row: row[0], HELD):
        yield tuple(values)


def _by_key(rows: QuerySet[Any, Any], key_of: Callable[[Any], Any], held: int) -> Iterator[Any]:
    last, in_order = None, rows.order_by("pk")
    while True:
        part = list((in_order if last is None else in_order.filter(pk__gt=last))[:held])
        yield from part
        if len(part) < held:
            return
        last = key_of(part[-1])


def as_kept_rows(rows: QuerySet[Any, Any]) -> list[tuple[Any, ...]]:
    """Return rows as the database keeps them, no column read into anything: for a mark of what they say. One query."""
    sql, params = rows.query.sql_with_params()
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return [tuple(row) for row in cursor.fetchall()]


def heaps_of(rows: QuerySet[Row], keys: Iterable[Any], size: int) -> Iterator[list[Row]]:
    """Yield the rows of some keys in the order of the keys, a heap read at a time; what is gone by then is left out."""
    unordered = rows.order_by()
    for part in in_heaps(keys, size):
        found = unordered.in_bulk(part)
        yield [found[key] for key in part if key in found]
