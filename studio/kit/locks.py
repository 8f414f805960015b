"""When two people write at once: wait, try again with the same key, then say so in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from decimal import Decimal
from functools import wraps
from typing import ParamSpec, Protocol, TypeVar

from django.db import OperationalError, connection

from studio.kit.errors import DaybookError
from studio.kit.rounding import plain
from studio.kit.trouble import is_busy

Given = ParamSpec("Given")
Result = TypeVar("Result")
TRIES = 3
NOTHING = "nothing"
AGAIN = "Save again to replace it."
#: how the last word of a column's name is read where it is a unit: it stands after the figure
UNITS = {"mm": "mm", "nm": "nm", "ml": "mL", "g": "g", "c": "°C", "minutes": "min", "days": "days"}


class TooBusy(DaybookError):
    """The database was locked by somebody else for too long; nothing was written."""


class ChangedMeanwhile(DaybookError):
    """This record was saved, by somebody else or in another window, after it was opened here.

    saves: its count now, which the form carries next.
    """

    def __init__(self, sentence: str, saves: int) -> None:
        super().__init__(sentence)
        self.saves = saves


class Versioned(Protocol):
    saves: int


#: what the session at hand saved before, and saves now: by record, how often it had been saved then
_known: ContextVar[Mapping[str, int]] = ContextVar("known saves")
_own: ContextVar[dict[str, int]] = ContextVar("own saves")


@contextmanager
def remembering(known: Mapping[str, int]) -> Iterator[dict[str, int]]:
    """Tell what a session saved before; give what it saves meanwhile."""
    own: dict[str, int] = {}
    before, now = _known.set(known), _own.set(own)
    try:
        yield own
    finally:
        _known.reset(before)
        _own.reset(now)


def check_opened(row: Versioned, opened: int | None, reads: str, again: str = AGAIN) -> None:
    """Refuse to write over what somebody else saved since a form was opened; else count the row's saves up.

    The row is locked, and saved by the caller with its saves. opened: the saves that the form carries, or None
    for a program, which reads and writes at once. reads: the record as it is now, in words, to stand beside what was
    typed. again: what a second press does, knowingly. Raises ChangedMeanwhile.
    """
    if opened is not None and row.saves != opened:
        mine = _known.get({}).get(_record(row)) == row.saves
        who = "You changed this in another window" if mine else "Somebody else changed this meanwhile"
        raise ChangedMeanwhile(f"{who}: {row} now reads {reads}. Nothing was saved: compare it with what you typed. "
                               f"{again}", row.saves)
    row.saves += 1
    saved_here(row)


def saved_here(row: Versioned) -> None:
    """Note that the session at hand saved a record, so that it is told of its own saves as of its own."""
    _own.get({})[_record(row)] = row.saves


def _record(row: Versioned) -> str:
    return f"{type(row).__name__} {getattr(row, 'pk', '')}"


class Kept(Protocol):
    def full_clean(self) -> None: ...
    def save(self) -> None: ...


def write(row: Kept, values: Mapping[str, object]) -> None:
    """Give a record its values, check it and save it. Raises what its model refuses."""
    for name, value in values.items():
        setattr(row, name, value)
    row.full_clean()
    row.save()


def differing(row: object, typed: Mapping[str, object]) -> str:
    """Return in words what a record holds where it differs from what was typed, by the names of its columns."""
    names = [name for name, value in typed.items() if name != "typed" and getattr(row, name) != value]
    return in_words(row, names) or "just what you typed"


def in_words(row: object, names: Iterable[str]) -> str:
    """Return what a record holds, by the names of its columns."""
    return ", ".join(" ".join(column_in_words(row, name)) for name in names)


def column_in_words(row: object, name: str) -> tuple[str, str]:
    """Return a column's name in words and what a record holds in it, with its unit: “mixing per batch”, “10 min”."""
    words, _, last = name.rpartition("_")
    value = _shown(row, name)
    if last == "share" and value != NOTHING:
        return words.replace("_", " "), f"{plain(Decimal(value) * 100)} %"
    if last in UNITS and value != NOTHING:
        return words.replace("_", " "), f"{value} {UNITS[last]}"
    return (words if last in UNITS else name).replace("_", " "), value


def _shown(row: object, name: str) -> str:
    value = getattr(row, f"get_{name}_display", lambda: getattr(row, name))()
    if value is None or value in ("", []):
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, date):
        return f"{value:%d %b %Y}"
    return ", ".join(map(str, value)) if isinstance(value, list) else f"“{value}”"


def one_by_one(what: str) -> None:
    """Wait until nobody else does this, and keep others waiting to the end of the transaction.

    SQLite lets one write at a time as it is.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(hashtext(%s))", [f"daybook {what}"])


def tried_three_times(write: Callable[Given, Result]) -> Callable[Given, Result]:
    """Repeat a write that carries its own key when a lock cannot be had. Raises TooBusy."""

    @wraps(write)
    def patiently(*args: Given.args, **kwargs: Given.kwargs) -> Result:
        for last in (False, False, True):
            try:
                return write(*args, **kwargs)
            except OperationalError as locked:
                if not is_busy(locked):
                    raise  # a full disk stays full
                if last:
                    raise TooBusy("Somebody else is saving. Wait a moment and send it again: "
                                  "it counts once.") from locked
        raise AssertionError("unreachable")

    return patiently
