"""Kill a backup or a restore at random moments: `python -m tests.attack.kills backup|restore [COUNT]`, 50 by default.

On the database the environment names (SQLite without DATABASE_URL), in a demo studio of its own. After each kill the
studio is the old one or the new one, row for row, and every file under the name of a backup opens to its end. `die_at`
kills at one named step instead of a moment: `tests/whole/backups/test_killed.py` does so.
"""

from __future__ import annotations

import hashlib
import io
import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import psycopg

from tests.serving import HOME, Environment, manage, own_database

#: one that came to its end before it could be killed counts for nothing: another is tried, so often
MOST_TRIES = 4
#: of the moment, or of when the tables were made
NOT_COMPARED = ("django_session", "django_migrations", "studio_cleanpass")

_DYING = """
import os, signal, sys
import django
django.setup()
from importlib import import_module
from django.core.management import call_command
module, name = import_module(sys.argv[1]), sys.argv[2]
step = getattr(module, name)
def dying(*given, **more):
    if sys.argv[3] == "before":
        os.kill(os.getpid(), signal.SIGKILL)
    step(*given, **more)
    os.kill(os.getpid(), signal.SIGKILL)
setattr(module, name, dying)
call_command(*sys.argv[4:])
"""


def die_at(environment: Environment, module: str, step: str, when: str, *words: str) -> None:
    """Run a command that is killed before or after a named step of it."""
    ran = subprocess.run([sys.executable, "-c", _DYING, module, step, when, *words], cwd=HOME, env=environment,
                         capture_output=True, text=True, check=False)
    if ran.returncode != -signal.SIGKILL:
        raise RuntimeError(f"It came to its end, and never to {step}: {ran.stdout}{ran.stderr}")


def die_after(environment: Environment, seconds: float, *words: str) -> bool:
    """Run a command and kill it, with every process it began, after a while; say whether it still ran then."""
    running = subprocess.Popen([sys.executable, "manage.py", *words], cwd=HOME, env=environment,
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
    try:
        running.wait(seconds)
        return False
    except subprocess.TimeoutExpired:
        os.killpg(running.pid, signal.SIGKILL)
        running.wait()
        return True


def studio_of(environment: Environment) -> str:
    """Return the SHA-256 of every row of a studio, asked of the database itself: equal studios give equal sums."""
    sums = hashlib.sha256()
    url = environment.get("DATABASE_URL", "")
    if url:
        with psycopg.connect(url) as server:
            rows = server.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1").fetchall()
            for (name,) in rows:
                if name not in NOT_COMPARED:
                    sums.update(repr((name, server.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall())).encode())
        return sums.hexdigest()
    with closing(sqlite3.connect(Path(environment["DAYBOOK_DATA"]) / "daybook.sqlite3")) as file:
        assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        rows = file.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY 1").fetchall()
        for (name,) in rows:
            if name not in NOT_COMPARED and not name.startswith("sqlite_"):
                sums.update(repr((name, file.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall())).encode())
    return sums.hexdigest()


def whole_backups(folder: Path) -> list[Path]:
    """Return the backups of a folder, each of which opens to its end."""
    import django

    django.setup()
    from studio.whole.backups.archive import unpack

    found = sorted(folder.glob("daybook-*.tar"))
    for path in found:
        with tempfile.TemporaryDirectory() as unpacked:
            unpack(io.BytesIO(path.read_bytes()), Path(unpacked))
    return found


def changed(environment: Environment, name: str) -> None:
    """Make the studio another one than it was."""
    manage(environment, "shell", "-c",
           f"from studio.house.models import House; House.objects.update(name='{name}')")


def _two_studios(environment: Environment, folder: Path) -> dict[str, Path]:
    """Return two backups, each by the sum of the studio that it restores."""
    found = {}
    for name in ("The old studio", "The new studio"):
        changed(environment, name)
        manage(environment, "backup", str(folder / name))
        found[studio_of(environment)] = whole_backups(folder / name)[0]
    return found


def kill_restores(environment: Environment, folder: Path, count: int) -> int:
    """Kill restores of the other studio of two; return how many were killed. Raises AssertionError on a third."""
    studios = _two_studios(environment, folder)
    began = time.monotonic()
    manage(environment, "restore", str(next(iter(studios.values()))))
    lasts, killed = time.monotonic() - began, 0
    for number in range(MOST_TRIES * count):
        if killed == count:
            break
        stands = studio_of(environment)
        other = next(path for sums, path in studios.items() if sums != stands)
        after = random.uniform(0, lasts * 1.05) if number % 2 else random.uniform(lasts * 0.8, lasts * 1.1)
        died = die_after(environment, after, "restore", str(other))
        killed, lasts = killed + died, lasts if died else min(lasts, after)
        now = studio_of(environment)
        print(f"{number + 1}: after {after:.2f} s of {lasts:.2f} s: {'the old' if now == stands else 'the new'}")
        assert now in studios, f"Killed after {after:.2f} s the studio is neither the old nor the new."
    manage(environment, "audit")
    return killed


def kill_backups(environment: Environment, folder: Path, count: int) -> int:
    """Kill backups; return how many were killed. Raises AssertionError where one is half, or the studio changed."""
    began = time.monotonic()
    manage(environment, "backup", str(folder))
    lasts, killed, stands = time.monotonic() - began, 0, studio_of(environment)
    there = whole_backups(folder)
    for number in range(MOST_TRIES * count):
        if killed == count:
            break
        after = random.uniform(0, lasts * 1.05) if number % 2 else random.uniform(lasts * 0.8, lasts * 1.1)
        died = die_after(environment, after, "backup", str(folder))
        killed, lasts = killed + died, lasts if died else min(lasts, after)
        found = whole_backups(folder)
        print(f"{number + 1}: after {after:.2f} s of {lasts:.2f} s: {len(found) - len(there)} more")
        assert set(there) <= set(found), "A backup that was there is gone."
        assert studio_of(environment) == stands
        there = found
    manage(environment, "backup", str(folder))
    assert [path for path in folder.iterdir() if path not in whole_backups(folder)] == []
    return killed


def main(what: str, count: int) -> None:
    act = {"backup": kill_backups, "restore": kill_restores}[what]
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
        with own_database(Path(folder), f"daybook_kills_{what}", "demo") as environment:
            killed = act(environment, Path(folder) / "backups", count)
    assert killed == count, f"Only {killed} of {count} were killed before they ended."
    print(f"{killed} {what}s killed; always the old or the new, never half.")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 50)
