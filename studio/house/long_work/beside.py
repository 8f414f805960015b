"""The worker beside the server: a process that is started with it, begun again where it dies, and ended with it.

It hears that its server is gone by a pipe that closes, however that ended.
"""

from __future__ import annotations

import logging
import os
import secrets
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event, Thread

log = logging.getLogger(__name__)
HOME = Path(__file__).resolve().parents[3]
SHORTEST_PAUSE, LONGEST_PAUSE = 1.0, 60.0
#: one that lived so long died of something new
_LIVED_SECONDS = 60.0
_ENDS_WITHIN_SECONDS = 12.0


@contextmanager
def worker_beside() -> Iterator[None]:
    """Keep a worker running meanwhile."""
    ends = Event()
    keeper = Thread(target=_keep, args=(ends,), name="worker beside", daemon=True)
    keeper.start()
    try:
        yield
    finally:
        ends.set()
        keeper.join(_ENDS_WITHIN_SECONDS + 3)


def _keep(ends: Event) -> None:
    pause, before = SHORTEST_PAUSE, ""
    while not ends.is_set():
        name, began = secrets.token_hex(8), time.monotonic()
        try:
            worker = _started(name, before)
        except OSError:  # no room for a process just now
            log.warning("No worker could be started; it is tried again.", exc_info=True)
            pause = min(pause * 2, LONGEST_PAUSE)
            ends.wait(pause)
            continue
        while worker.poll() is None and not ends.wait(0.2):
            pass
        if ends.is_set():
            _ended(worker)
            return
        pause = SHORTEST_PAUSE if time.monotonic() - began > _LIVED_SECONDS else min(pause * 2, LONGEST_PAUSE)
        before = name
        ends.wait(pause)


def _started(name: str, before: str) -> subprocess.Popen[bytes]:
    words = [sys.executable, str(HOME / "manage.py"), "long_work", "--name", name, "--beside"]
    return subprocess.Popen([*words, *(["--after", before] if before else [])], stdin=subprocess.PIPE)  # noqa: S603


def _ended(worker: subprocess.Popen[bytes]) -> None:
    assert worker.stdin is not None
    worker.stdin.close()
    try:
        worker.wait(_ENDS_WITHIN_SECONDS)
    except subprocess.TimeoutExpired:
        worker.kill()
        worker.wait()


def end_with_the_server() -> None:
    """End this process once the server that it stands beside is gone: gently, then for certain."""
    Thread(target=_hear, name="hears the server", daemon=True).start()


def _hear() -> None:
    while os.read(0, 1024):
        pass
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(_ENDS_WITHIN_SECONDS - 4)
    try:
        _put_back()
    finally:
        os.kill(os.getpid(), signal.SIGKILL)


def _put_back() -> None:
    """Put back the work at hand, which has not told for seconds how far it is: it was stopped, it did not break."""
    from studio.house.long_work.doing import at_hand, put_back  # of the worker alone, whose models are there

    course = at_hand()
    if course is not None:
        put_back(course.work)
