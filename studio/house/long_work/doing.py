"""One piece of long work from beginning to end, carried by a task of the task library."""

from __future__ import annotations

import logging
from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from threading import Event
from typing import Any

from django.db import OperationalError, transaction
from django.db.models import F
from django.utils import timezone
from django_tasks import TaskContext, task

from studio.house.clock import house_zone, now
from studio.house.long_work import files
from studio.house.long_work.asking import send
from studio.house.long_work.kinds import Came, kind_of
from studio.house.models import LongWork, Person
from studio.kit.errors import DaybookError
from studio.kit.trouble import BUSY, GONE, is_busy, trouble_of

log = logging.getLogger(__name__)
#: the worker is asked to end: the work at hand is put back where it next tells how far it is
ending = Event()
#: each of them waits as long for a database that is held as any write does
_TRIES_TO_END = 12
UNKNOWN = "This version of the program does not know how to do that."
BROKEN = "It broke: nothing of it was kept. Ask for it again; if it breaks again, the server's log says why."


class _Ends(BaseException):
    """What ends a piece of work from outside: no `except Exception` of the work at hand keeps it."""


class Cancelled(_Ends):
    """Somebody cancelled the work."""


class PutBack(_Ends):
    """The worker is asked to end: another does the work."""


class Lost(_Ends):
    """Another worker has taken the work up."""


class Course:
    """A piece of work being done: it notes how far it is in memory, and the worker's heart writes it down."""

    def __init__(self, work: LongWork) -> None:
        self.work = work
        self.asked_by: Person = work.asked_by
        self.told: tuple[int, int, str] = (0, 0, "")
        self.cancelled = self.lost = False

    @cached_property
    def folder(self) -> Path:
        return files.scratch_of(self.work)

    def at(self, done: int, of: int, what: str) -> None:
        self.told = (min(done, of), of, what[:200])
        if self.lost:
            raise Lost
        if self.cancelled:
            raise Cancelled
        if ending.is_set():
            raise PutBack

    def beat(self) -> None:
        """Write down that the work goes on and how far it is; hear whether it was cancelled or lost."""
        done, of, what = self.told
        mine = _mine(self.work)
        self.lost = not mine.update(beat_at=now(), parts_done=done, parts=of, part=what)
        self.cancelled = mine.filter(cancel_asked_at__isnull=False).exists()


#: what this process is at
_at_hand: Course | None = None


def at_hand() -> Course | None:
    return _at_hand


@task(takes_context=True)
def do_long_work(context: TaskContext, pk: int) -> None:
    """What the task library calls: it knows the work's number, the row knows all the rest."""
    do(pk, worker=context.task_result.worker_ids[-1])


def do(pk: int, *, worker: str) -> None:
    """Do a piece of work if it still waits; whatever happens to it is written in its row.

    Raises what tells that the database is gone: then the work's heart stops, and it is taken up again.
    """
    global _at_hand
    work = _begin(pk, worker)
    if work is None:
        return
    course = _at_hand = Course(work)
    try:
        _through(course)
    except Lost:
        log.warning("Long work %s is another worker's now.", work.pk)
    finally:
        _at_hand = None
        files.clear_scratch(work)


def _through(course: Course) -> None:
    """Do it and end it. Raises Lost."""
    try:
        with timezone.override(house_zone()):
            _end_as_it_came(course.work, _done(course))
    except Cancelled:
        _end(course.work, LongWork.State.CANCELLED, part="")
    except PutBack:
        put_back(course.work)


def _begin(pk: int, worker: str) -> LongWork | None:
    """Take a waiting piece of work; None where it does not wait any more."""
    at = now()
    with transaction.atomic():
        taken = LongWork.objects.filter(pk=pk, state=LongWork.State.WAITING).update(
            state=LongWork.State.AT_WORK, attempt=F("attempt") + 1, worker=worker, begun_at=at, beat_at=at,
            parts_done=0, parts=0, part="")
        return LongWork.objects.select_related("asked_by").get(pk=pk) if taken else None


def _done(course: Course) -> Came | str:
    """Do it; return what came of it, or the sentence why nothing did."""
    work = course.work
    kind = kind_of(work.kind)
    if kind is None:
        return UNKNOWN
    if not work.asked_by.is_active or not work.asked_by.may(kind.needs):
        return "Whoever asked for it may not have it any more."
    try:
        return kind.do(course, work.inputs)
    except Exception as broken:
        return _why(work, broken)


def _why(work: LongWork, broken: Exception) -> str:
    """Return in a sentence why nothing came of the work. Raises what tells that the database is gone or held."""
    if isinstance(broken, DaybookError):
        return str(broken)
    trouble = trouble_of(broken)
    if trouble in (BUSY, GONE):
        raise broken
    log.error("Long work %s (%s) broke", work.pk, work.kind, exc_info=broken)
    return BROKEN if trouble is None else f"{trouble.title}. {trouble.sentence}"


def _end_as_it_came(work: LongWork, came: Came | str) -> None:
    if isinstance(came, str):
        _end(work, LongWork.State.FAILED, said=came)
        return
    try:
        kept: dict[str, Any] = {"said": came.said, "lines": list(came.lines)}
        if came.file is not None:
            sha256, size = files.put_away(work, came.file)
            kept |= {"file_name": came.name, "file_type": came.media_type, "file_sha256": sha256, "file_bytes": size}
        _end(work, LongWork.State.DONE, also=came.also, **kept)
    except Exception as broken:  # the disk, or what it wanted to change in the studio
        files.path_of(work).unlink(missing_ok=True)
        _end(work, LongWork.State.FAILED, said=_why(work, broken))
    except (Lost, Cancelled):
        files.path_of(work).unlink(missing_ok=True)
        raise


def _end(work: LongWork, state: LongWork.State, *, also: Callable[[], None] | None = None, **kept: Any) -> None:
    """End this attempt, and change in the studio what it changes: both or neither.

    What took long is not thrown away because somebody holds the database just now: it is tried again.
    Raises Lost, and Cancelled where that was asked for and not heard yet: nothing comes of it then.
    """
    for tries in range(_TRIES_TO_END):
        try:
            _end_now(work, state, also, kept)
            return
        except OperationalError as held:
            if not is_busy(held) or tries == _TRIES_TO_END - 1:
                raise


def _end_now(work: LongWork, state: LongWork.State, also: Callable[[], None] | None, kept: dict[str, Any]) -> None:
    with transaction.atomic():
        mine = _mine(work)
        ends = mine if state == LongWork.State.CANCELLED else mine.filter(cancel_asked_at=None)
        if not ends.update(state=state, ended_at=now(), **kept):
            raise Cancelled if mine.exists() else Lost
        if also is not None:
            also()


def put_back(work: LongWork) -> None:
    """Let an attempt wait for another worker; where it was cancelled it ends. Raises Lost."""
    with transaction.atomic():
        if _mine(work).filter(cancel_asked_at=None).update(state=LongWork.State.WAITING, worker="", part=""):
            send(work)
            return
    _end(work, LongWork.State.CANCELLED, part="")


def _mine(work: LongWork) -> Any:
    """Return the row while this attempt has it, and no longer."""
    return LongWork.objects.filter(pk=work.pk, state=LongWork.State.AT_WORK, attempt=work.attempt)
