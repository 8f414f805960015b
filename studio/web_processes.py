"""Several web processes on the same listening sockets: begun, begun anew where one ends, and ended together.

The sockets are this process's own and stay open while one of the others is killed: whoever connects meanwhile is
answered by another, or waits for the new one. It loads nothing of the program.
"""

from __future__ import annotations

import logging
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from waitress.adjustments import Adjustments

from studio.kit.counted_together import COUNTED_IN
from studio.kit.typed_numbers import whole_number

#: the environment's words: how many; and for each of them its sockets, and what ends when this process does
HOW_MANY, SOCKETS, ENDS_WITH = "WEB_PROCESSES", "DAYBOOK_SOCKETS", "DAYBOOK_ENDS_WITH"
MOST = 32
#: a process that ends by itself so soon after the first start cannot serve: all end, and what it said stands last
_START_SECONDS = 60.0
#: between two starts of one process, doubled each time it soon ends by itself again
_PAUSE_SECONDS, _LONGEST_PAUSE_SECONDS = 1.0, 30.0
#: answers that are being made may take so long to their end
_LAST_SECONDS = 10.0
_LOOK_SECONDS = 0.1
log = logging.getLogger(__name__)


def how_many() -> int:
    """Return how many web processes the environment asks for, 1 where it says nothing. Raises SystemExit."""
    said = os.environ.get(HOW_MANY) or "1"
    if not 1 <= (count := whole_number(said)) <= MOST:
        raise SystemExit(f"{HOW_MANY} is a whole number from 1 to {MOST}, and says “{said[:20]}”.")
    return count


@dataclass
class _Process:
    running: subprocess.Popen[bytes]
    began: float
    pause: float = _PAUSE_SECONDS
    is_first: bool = True


def serve(count: int, listen: str) -> int:
    """Keep so many web processes serving until SIGTERM or SIGINT; return what this process ends with.

    listen: as LISTEN says it. Raises SystemExit where nobody can listen there.
    """
    told_to_end: list[int] = []  # no event: a signal may come while this very thread holds its lock
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda told, _: told_to_end.append(told))
    sockets = _listening(listen)
    with _counted_together() as counted_in, _ending_with_this() as ends_with:
        environment = {**os.environ, COUNTED_IN: counted_in, ENDS_WITH: str(ends_with),
                       SOCKETS: " ".join(str(one.fileno()) for one in sockets)}

        def begun() -> subprocess.Popen[bytes]:
            return subprocess.Popen([sys.executable, "-m", "studio.serve"], env=environment,
                                    pass_fds=[*(one.fileno() for one in sockets), ends_with])

        processes = [_Process(begun(), time.monotonic()) for _ in range(count)]
        try:
            while not told_to_end:
                time.sleep(_LOOK_SECONDS)
                for process in processes:
                    if (code := _ended(process)) is None:
                        continue
                    if code > 0 and process.is_first and time.monotonic() < process.began + _START_SECONDS:
                        return code
                    _begin_anew(process, code, begun)
        finally:
            _end([process.running for process in processes])
    return 0


def _ended(process: _Process) -> int | None:
    """Return what a process ended with, once its pause is over; None while it runs or rests."""
    code = process.running.poll()
    return None if code is None or time.monotonic() < process.began + process.pause else code


def _begin_anew(process: _Process, code: int, begun: Callable[[], subprocess.Popen[bytes]]) -> None:
    log.warning("A web process ended (%s): another one is begun.", code)
    ended_soon = code > 0 and time.monotonic() < process.began + process.pause + _LONGEST_PAUSE_SECONDS
    process.pause = min(process.pause * 2, _LONGEST_PAUSE_SECONDS) if ended_soon else _PAUSE_SECONDS
    process.running, process.began, process.is_first = begun(), time.monotonic(), False


def _end(processes: Sequence[subprocess.Popen[bytes]]) -> None:
    """End all, each after the answers that it is making; what goes on too long is cut off."""
    for process in processes:
        process.terminate()
    until = time.monotonic() + _LAST_SECONDS
    for process in processes:
        try:
            process.wait(max(until - time.monotonic(), 0))
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _listening(listen: str) -> list[socket.socket]:
    sockets = []
    try:
        for family, kind, protocol, address in Adjustments(listen=listen).listen:
            one = socket.socket(family, kind, protocol)
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            if family == socket.AF_INET6:
                one.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
            one.bind(address)
            one.listen(1024)
            sockets.append(one)
    except (OSError, ValueError) as refused:
        raise SystemExit(f"Nobody can listen at {listen}: {refused}") from refused
    return sockets


@contextmanager
def _counted_together() -> Iterator[str]:
    """Give the path of what the processes count together: in the machine's memory where it has a folder for it."""
    memory = Path("/dev/shm")  # noqa: S108  (a folder of its own inside it)
    with tempfile.TemporaryDirectory(prefix="daybook-", dir=memory if os.access(memory, os.W_OK) else None) as folder:
        yield str(Path(folder) / "tries")


@contextmanager
def _ending_with_this() -> Iterator[int]:
    """Give what the processes read: it ends when this process does, even if that is killed."""
    read, write = os.pipe()
    try:
        yield read
    finally:
        os.close(write)
        os.close(read)


def end_with_the_first() -> None:
    """End this process, as by SIGTERM, when the one that began it has gone. Asked by each of the processes."""
    ends_with = whole_number(os.environ.pop(ENDS_WITH))

    def wait() -> None:
        os.read(ends_with, 1)
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=wait, daemon=True).start()


def own_sockets() -> list[socket.socket]:
    """Return the sockets that this process was begun with, none where it listens by itself."""
    return [socket.socket(fileno=whole_number(number)) for number in os.environ.pop(SOCKETS, "").split()]
