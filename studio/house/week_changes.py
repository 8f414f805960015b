"""Rooms above say here what they do, in the same transaction, once somebody's hours are others."""

from __future__ import annotations

from collections.abc import Callable

AFTER_CHANGING_THE_WEEK: list[Callable[[], None]] = []


def week_changed() -> None:
    for follow in AFTER_CHANGING_THE_WEEK:
        follow()
