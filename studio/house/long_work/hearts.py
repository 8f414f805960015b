"""The worker's heart: a thread that says every few seconds that the worker lives and how far its work is.

It also takes up again what another worker left, and clears what was kept for its days. Work that waits is carried by a
task of the library; what the library lost (a worker killed between its row and ours) is sent once more.
"""

from __future__ import annotations

import logging
import os
import socket
from datetime import timedelta
from threading import Event, Thread
from uuid import UUID

from django.db import close_old_connections, connection, transaction
from django.db.models import F, Q
from django_tasks_db.models import DBTaskResult

from studio.house.clock import now
from studio.house.long_work import files
from studio.house.long_work.asking import STOPPED_AFTER, send
from studio.house.long_work.doing import at_hand
from studio.house.long_work_models import MOST_BREAKS
from studio.house.models import LongWork, LongWorker

log = logging.getLogger(__name__)
BEAT_SECONDS = 2.0
#: with nothing at hand it beats so many times slower
AT_REST = 5
_SWEPT_EVERY = timedelta(hours=1)
#: rows of ended tasks, and workers that nobody saw any more, are of no use after a day
_OLD = timedelta(days=1)
GIVEN_UP = (f"It was interrupted {MOST_BREAKS} times, so it was given up: the machine may be short of memory. "
            "The server's log says more.")


class Heart:
    """The heart of this process's worker, from `begin` to `end`."""

    def __init__(self, worker: str) -> None:
        self.worker = worker
        self.ends = Event()
        self.swept_at = now() - _SWEPT_EVERY
        self.thread = Thread(target=self._run, name="heart", daemon=True)

    def begin(self) -> None:
        at = now()
        LongWorker.objects.update_or_create(name=self.worker, defaults={
            "machine": socket.gethostname()[:100], "process": os.getpid(), "started_at": at, "seen_at": at})
        self.thread.start()

    def end(self) -> None:
        self.ends.set()
        self.thread.join(timeout=15)
        LongWorker.objects.filter(name=self.worker).delete()

    def _run(self) -> None:
        turn = 0
        while not self.ends.wait(BEAT_SECONDS):
            turn += 1
            if at_hand() is None and turn % AT_REST:
                continue
            close_old_connections()
            try:
                self.beat()
            except Exception:  # the database is held or gone: the next beat may be heard
                log.warning("A heartbeat of the worker was not written down.", exc_info=True)
        connection.close()

    def beat(self) -> None:
        LongWorker.objects.filter(name=self.worker).update(seen_at=now())
        if (course := at_hand()) is not None:
            course.beat()
        take_up_again()
        if now() - self.swept_at >= _SWEPT_EVERY:
            self.swept_at = now()
            sweep()


def gone(worker: str) -> None:
    """Say that a worker is known to have ended, so that nobody waits for its heart: what it was at is taken up."""
    LongWorker.objects.filter(name=worker).delete()
    _take_up(Q(worker=worker))


def take_up_again() -> None:
    """Take up what is at work with a heart that has stopped, and send again what waits with no task to carry it."""
    _take_up(Q(beat_at__lt=now() - STOPPED_AFTER))
    waiting = dict(LongWork.objects.filter(state=LongWork.State.WAITING).values_list("task", "pk"))
    carried = DBTaskResult.objects.filter(pk__in=waiting).filter(
        Q(status="READY") | Q(status="RUNNING", started_at__gte=now() - STOPPED_AFTER)).values_list("pk", flat=True)
    for lost in waiting.keys() - set(carried):
        _send_again(lost, waiting[lost])


def _take_up(left: Q) -> None:
    """Let what was left wait again; it ends where it was cancelled meanwhile, or broke off too often."""
    for work in LongWork.objects.filter(left, state=LongWork.State.AT_WORK):
        still = LongWork.objects.filter(left, pk=work.pk, state=LongWork.State.AT_WORK, attempt=work.attempt)
        with transaction.atomic():
            if work.cancel_asked_at is not None:
                still.update(state=LongWork.State.CANCELLED, ended_at=now(), part="")
                continue
            still = still.filter(cancel_asked_at=None)  # one that is asked for now is heard at the next beat
            if work.broke_off >= MOST_BREAKS - 1:
                still.update(state=LongWork.State.GIVEN_UP, ended_at=now(), said=GIVEN_UP, broke_off=MOST_BREAKS)
            elif still.update(state=LongWork.State.WAITING, worker="", part="", broke_off=F("broke_off") + 1):
                log.warning("Long work %s broke off with its worker: it is taken up again.", work.pk)
                send(work)


def _send_again(lost: UUID, pk: int) -> None:
    with transaction.atomic():
        work = LongWork.objects.select_for_update().filter(pk=pk, task=lost, state=LongWork.State.WAITING).first()
        if work is not None:
            send(work)


def sweep() -> None:
    """Clear old files, tasks that are over and workers that nobody saw any more."""
    files.sweep()
    LongWorker.objects.filter(seen_at__lt=now() - _OLD).delete()
    DBTaskResult.objects.filter(enqueued_at__lt=now() - _OLD).exclude(
        pk__in=LongWork.objects.filter(state__in=LongWork.OPEN).values("task")).delete()
