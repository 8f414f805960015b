"""Several web processes serve one studio: what they count they count together, and one that is killed is begun anew."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from studio.house.tries import QUARTER, Tries
from studio.kit.counted_together import COUNTED_IN, Together
from tests.attack.bad_inputs import Browser
from tests.attack.killed_under_posters import KEYS, LOT, post_drops
from tests.serving import HOME, manage, own_database, serving, web_processes_of

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


def _gone(number: int) -> bool:
    """Say whether a process has ended; one that nobody asked after yet has."""
    try:
        return Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except (FileNotFoundError, ProcessLookupError):
        return True


def _soon(what: object, seconds: float = 240) -> None:
    until = time.monotonic() + seconds
    while not what():  # type: ignore[operator]
        assert time.monotonic() < until
        time.sleep(0.1)


def _guess_a_link(address: str) -> int:
    """Ask for a link that nobody has, on a connection of its own, as whichever process is there first takes it."""
    visitor = Browser(address)
    status = visitor.get(f"/week/feed/{'0' * 64}.ics").status
    visitor.close()
    return status


def test_one_of_two_is_killed_under_posters_and_nothing_is_lost(tmp_path: Path) -> None:
    answered: set[str] = set()
    sent: set[str] = set()
    lock, ends = threading.Lock(), threading.Event()
    with own_database(tmp_path, "daybook_two", "demo") as environment:
        lot = manage(environment, "shell", "--no-imports", "-c", LOT).strip()
        with serving({**environment, "WEB_PROCESSES": "2"}) as (address, server):
            _soon(lambda: len(web_processes_of(server)) == 2)
            posters = [threading.Thread(target=post_drops, args=(address, lot, ends, answered, sent, lock), daemon=True)
                       for _ in range(4)]
            for poster in posters:
                poster.start()
            # given people at work
            _soon(lambda: len(answered) > 8)
            for _ in range(2):
                # when one process is killed
                first, second = web_processes_of(server)
                os.kill(first, signal.SIGKILL)
                # then the other answers, and a new one comes
                before = len(answered)
                _soon(lambda before=before: len(answered) > before + 4)
                assert not _gone(second)
                _soon(lambda second=second: len(web_processes_of(server)) == 2 and web_processes_of(server) != [second])
                assert first not in web_processes_of(server)
            # and links that nobody has are counted by both together
            assert [_guess_a_link(address) for _ in range(34)] == [404] * 30 + [429] * 4
            ends.set()
            for poster in posters:
                poster.join(30)
            # and all of it ends when it is told to
            both = web_processes_of(server)
            server.terminate()
            assert server.wait(20) == 0
            assert all(map(_gone, both))
        kept = manage(environment, "shell", "--no-imports", "-c", KEYS).split()
        assert answered - set(kept) == set()
        assert len(kept) == len(set(kept))
        assert "on hand" not in manage(environment, "audit")


def test_they_end_with_the_first_even_if_that_is_killed(tmp_path: Path) -> None:
    with (own_database(tmp_path, "daybook_orphans") as environment,
          serving({**environment, "WEB_PROCESSES": "2"}) as (_, server)):
        both = web_processes_of(server)
        server.kill()
        _soon(lambda: all(map(_gone, both)))


@pytest.mark.parametrize(("words", "said"), [
    ({"WEB_PROCESSES": "two"}, "WEB_PROCESSES is a whole number from 1 to 32"),
    ({"WEB_PROCESSES": "0"}, "WEB_PROCESSES is a whole number from 1 to 32"),
    ({"WEB_PROCESSES": "2", "LISTEN": "192.0.2.1:80"}, "Nobody can listen at 192.0.2.1:80"),
    ({"WEB_PROCESSES": "2", "LISTEN": "127.0.0.1:0", "KEPT_FILES": "a bucket"}, "KEPT_FILES is s3://BUCKET"),
])
def test_what_cannot_serve_says_so_and_ends(words: dict[str, str], said: str, tmp_path: Path) -> None:
    environment = {**os.environ, "DAYBOOK_DATA": str(tmp_path / "data"), **words}
    ran = subprocess.run([sys.executable, "-m", "studio.serve"], cwd=HOME, env=environment, capture_output=True, text=True,
                         check=False, timeout=60)
    assert ran.returncode == 1
    assert said in ran.stderr
    assert "Traceback" not in ran.stderr


def test_tries_are_counted_by_all_processes_of_a_machine(tmp_path: Path) -> None:
    one, other = (Together(str(tmp_path / "tries")) for _ in range(2))
    for at in range(3):
        one.count(NOON + timedelta(minutes=at), "links", "10.0.0.1")
    other.count(NOON, "links", "10.0.0.2")
    other.count(NOON, "feeds", "10.0.0.1")
    assert other.since(NOON, "links", "10.0.0.1") == 3
    assert other.since(NOON + timedelta(minutes=1), "links", "10.0.0.1") == 2
    one.close()
    other.close()


def test_where_they_cannot_count_together_each_counts_by_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(COUNTED_IN, str(tmp_path / "nowhere" / "tries"))
    with pytest.raises(sqlite3.Error):
        Together(str(tmp_path / "nowhere" / "tries"))
    tries = Tries("links", 2, QUARTER)
    for _ in range(2):
        assert not tries.are_over("10.0.0.1")
        tries.count("10.0.0.1")
    assert tries.are_over("10.0.0.1")
