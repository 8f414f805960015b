"""When two people write at once: wait, try again with the same key, then say so in words."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, Protocol, TypeVar

from django.db import OperationalError

from studio.kit.errors import DaybookError

Given = ParamSpec("Given")
Result = TypeVar("Result")
TRIES = 3


class TooBusy(DaybookError):
    """The database was locked by somebody else for too long; nothing was written."""


class ChangedMeanwhile(DaybookError):
    """Somebody else saved this record after it was opened here."""


class Versioned(Protocol):
    saves: int


def check_opened(row: Versioned, opened: int | None, reads: str) -> None:
    """Refuse to write over what somebody else saved since a form was opened; else count the row's saves up.

    The row is locked, and saved by the caller with its saves. opened: the saves that the form carries, or None
    for a program, which reads and writes at once. reads: the record as it is now, in words, to stand beside what was
    typed. Raises ChangedMeanwhile.
    """
    if opened is not None and row.saves != opened:
        raise ChangedMeanwhile(f"Somebody else changed this meanwhile: {row} now reads {reads}. Nothing was saved: "
                               "compare it with what you typed.")
    row.saves += 1


def tried_three_times(write: Callable[Given, Result]) -> Callable[Given, Result]:
    """Repeat a write that carries its own key when a lock cannot be had. Raises TooBusy."""

    @wraps(write)
    def patiently(*args: Given.args, **kwargs: Given.kwargs) -> Result:
        for last in (False, False, True):
            try:
                return write(*args, **kwargs)
            except OperationalError as locked:
                if last:
                    raise TooBusy("Somebody else is writing to the stockroom. Wait a moment and send it again: "
                                  "it counts once.") from locked
        raise AssertionError("unreachable")

    return patiently
