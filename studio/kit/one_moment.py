"""Many questions of one moment: the database as it stood at the first of them, while others go on writing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction


@contextmanager
def one_moment() -> Iterator[None]:
    """Read in one transaction that sees what was there when it began, and holds up nobody who writes.

    Inside a transaction already, it is that one's moment. Nothing may be written inside.
    """
    if connection.in_atomic_block:
        yield
        return
    connection.ensure_connection()
    if connection.vendor == "postgresql":
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
        return
    reader: Any = connection
    immediate, reader.transaction_mode = reader.transaction_mode, "DEFERRED"  # a reader, whom no writer waits for
    try:
        with transaction.atomic():
            yield
    finally:
        reader.transaction_mode = immediate
