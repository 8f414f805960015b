"""Workers that are killed, on either database: what they were at is done once, and another stands beside the server."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any

import pytest

from tests.serving import HOME, Environment, furnished, manage, own_database, played

SCENE = "tests.house.long_work_scene"
WORKERS = "from studio.house.models import LongWorker\nprint(*LongWorker.objects.values_list('process', flat=True))"
DONE = "from studio.house.models import LongWork\nprint(*LongWork.objects.values_list('state', flat=True))"
ASK = """
from studio.house.long_work.asking import ask
from studio.house.models import Person
ask(kind="book", inputs={}, by=Person.objects.get(role="owner"))
"""


def shell(environment: Environment, words: str) -> list[str]:
    return manage(environment, "shell", "--no-imports", "-c", words).split()


def in_time(found: Callable[[], Any], seconds: float = 60) -> Any:
    until = time.monotonic() + seconds
    while not (there := found()):
        assert time.monotonic() < until
        time.sleep(0.3)
    return there


@pytest.mark.parametrize("where", ["middle", "writing"])
def test_work_whose_worker_is_killed_is_done_once_by_the_next(tmp_path, where):
    """In the middle of it, or inside the transaction that writes what came of it."""
    with own_database(tmp_path, "daybook_killed_work") as environment:
        furnished(environment, SCENE)
        first = played(environment, SCENE, "work", where)
        assert first.stdout is not None
        assert first.stdout.readline() == "ready\n"
        first.send_signal(signal.SIGKILL)
        first.communicate()
        left = played(environment, SCENE, "told").communicate()[0].split()
        assert left[:5] == ["at-work", "1", "0", "0", "-"]

        said, errors = played(environment, SCENE, "work", "nowhere", f"{where}-worker").communicate()
        assert said == "ended\n", errors
        told = played(environment, SCENE, "told").communicate()[0].split()
        assert told[:5] == ["done", "2", "1", "1", "done"]


def test_a_worker_stands_beside_the_server_and_ends_with_it(tmp_path):
    """Killed, it is begun again; when the server is killed, it goes by itself."""
    with own_database(tmp_path, "daybook_beside", "demo") as environment:
        server = subprocess.Popen([sys.executable, "-m", "studio.serve", "--worker"], cwd=HOME,
                                  env={**environment, "LISTEN": "127.0.0.1:0"}, stderr=subprocess.DEVNULL)
        try:
            (first,) = in_time(lambda: shell(environment, WORKERS))
            os.kill(int(first), signal.SIGKILL)
            in_time(lambda: [each for each in shell(environment, WORKERS) if each != first])
            shell(environment, ASK)
            in_time(lambda: shell(environment, DONE) == ["done"])
        finally:
            server.kill()
            server.wait()
        in_time(lambda: shell(environment, WORKERS) == [])
