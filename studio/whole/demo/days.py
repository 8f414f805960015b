"""The demo's days and keys: the same book every time it is written."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from itertools import count
from uuid import NAMESPACE_URL, UUID, uuid5
from zoneinfo import ZoneInfo

WRITTEN_ON = date(2026, 11, 2)
ZONE = ZoneInfo("Europe/London")

_keys = count(1)


def next_key() -> UUID:
    """Return the next key: the same book every time it is written."""
    return uuid5(NAMESPACE_URL, f"demo/{next(_keys)}")


@contextmanager
def on(days_before: int, hour: int = 10) -> Iterator[date]:
    """Let it be so many days before the book is written."""
    from studio.house.clock import pretend

    day = WRITTEN_ON - timedelta(days=days_before)
    with pretend(datetime(day.year, day.month, day.day, hour, tzinfo=ZONE)):
        yield day
