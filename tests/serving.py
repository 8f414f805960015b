"""Databases and servers of a test's own, outside pytest's transactions: on the vendor the suite runs on."""

from __future__ import annotations

import atexit
import fcntl
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit
from urllib.request import urlopen

import psycopg

HOME = Path(__file__).resolve().parent.parent
PATTERNS = "DAYBOOK_PATTERNS"
DATA = ".daybook-demo"
Environment = dict[str, str]


def patterns() -> Path:
    """Return the folder of the patterns that databases are copied from: one a run, for all its workers."""
    if PATTERNS not in os.environ:
        os.environ[PATTERNS] = tempfile.mkdtemp()
        atexit.register(_throw_away, Path(os.environ[PATTERNS]))
    return Path(os.environ[PATTERNS])


def _throw_away(folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    if _on_postgresql():
        with _server() as server:
            for kind in ("empty", "demo"):
                server.execute(f"DROP DATABASE IF EXISTS daybook_pattern_{kind} WITH (FORCE)")


def _on_postgresql() -> bool:
    return os.environ.get("DATABASE_URL", "").startswith("postgres")


def _server() -> psycopg.Connection:
    return psycopg.connect(os.environ["DATABASE_URL"], autocommit=True)


def _environment(folder: Path, database: str) -> Environment:
    """Return the environment of a studio whose data is kept in a folder and, on PostgreSQL, in a database of this name."""
    environment = {key: value for key, value in os.environ.items() if key not in ("DATABASE_URL", "SECRET_KEY", "KEPT_FILES")}
    environment |= {"DAYBOOK_DATA": str(folder / DATA), "DJANGO_SETTINGS_MODULE": "studio.settings"}
    if _on_postgresql():
        environment["DATABASE_URL"] = urlunsplit(urlsplit(os.environ["DATABASE_URL"])._replace(path=f"/{database}"))
    return environment


def _copy_database(pattern: str, name: str) -> None:
    """Make a PostgreSQL database after a pattern, in place of one that a broken run may have left."""
    with _server() as server:
        server.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        server.execute(f"CREATE DATABASE {name} TEMPLATE {pattern}")


def _pattern(kind: str) -> Path:
    """Return the folder of a pattern, `empty` (migrated) or `demo` (the demo and its people): made once in a run."""
    folder = patterns() / kind
    with (patterns() / f"{kind}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if (folder / "made").exists():
            return folder
        environment = _environment(folder, f"daybook_pattern_{kind}")
        if kind == "empty":
            if _on_postgresql():
                _copy_database("template1", "daybook_pattern_empty")
            manage(environment, "migrate", "--verbosity", "0", "--skip-checks")
        else:
            _copy("empty", folder, "daybook_pattern_demo")
            manage(environment, "load_demo")
            manage(environment, "demo_people")
        (folder / "made").touch()
    return folder


def _copy(kind: str, folder: Path, database: str) -> None:
    shutil.copytree(_pattern(kind) / DATA, folder / DATA, dirs_exist_ok=True)
    if _on_postgresql():
        _copy_database(f"daybook_pattern_{kind}", database)


@contextmanager
def own_database(folder: Path, name: str, kind: str = "empty") -> Iterator[Environment]:
    """Yield an environment with a database of its own, SQLite or PostgreSQL: migrated, or with the demo in it."""
    database = f"{name}_{os.environ.get('PYTEST_XDIST_WORKER', 'main')}"
    _copy(kind, folder, database)
    try:
        yield _environment(folder, database)
    finally:
        _drop(database)


def _drop(database: str) -> None:
    if _on_postgresql():
        with _server() as server:
            server.execute(f"DROP DATABASE {database} WITH (FORCE)")


@contextmanager
def bare_database(folder: Path, name: str) -> Iterator[Environment]:
    """Yield an environment whose database has no table."""
    database = f"{name}_{os.environ.get('PYTEST_XDIST_WORKER', 'main')}"
    (folder / DATA).mkdir()
    if _on_postgresql():
        _copy_database("template1", database)
    else:
        (folder / DATA / "daybook.sqlite3").touch()
    try:
        yield _environment(folder, database)
    finally:
        _drop(database)


def manage(environment: Environment, *words: str) -> str:
    """Run a management command and return what it printed."""
    ran = subprocess.run(
        [sys.executable, "manage.py", *words], cwd=HOME, env=environment, capture_output=True, text=True, check=False
    )
    if ran.returncode:
        raise RuntimeError(f"{' '.join(words)}: {ran.stdout}{ran.stderr}")
    return ran.stdout


def serve(environment: Environment, port: int) -> subprocess.Popen[bytes]:
    """Start the server of a studio on loopback, as `make start` does."""
    return subprocess.Popen([sys.executable, "-m", "studio.serve"], cwd=HOME, stderr=subprocess.DEVNULL,
                            env={**environment, "LISTEN": f"127.0.0.1:{port}"})


def web_processes_of(server: subprocess.Popen[bytes]) -> list[int]:
    """Return the numbers of the processes that a server which watches over several has begun."""
    return [int(number) for number in Path(f"/proc/{server.pid}/task/{server.pid}/children").read_text().split()]


@contextmanager
def served(environment: Environment, port: int = 0, public: str = "") -> Iterator[str]:
    """Serve a studio, and yield its address. port: where it was served before; public: the address people use."""
    with serving(environment, port, public) as (address, _):
        yield address


@contextmanager
def serving(environment: Environment, port: int = 0, public: str = "") -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """Serve a studio, and yield its address and its server."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind(("127.0.0.1", port))
        port = probe.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    server = serve({**environment, "PUBLIC_URL": public or address}, port)
    try:
        wait_for(address)
        yield address, server
    finally:
        server.terminate()
        server.wait(15)


def played(environment: Environment, scene: str, *words: str) -> subprocess.Popen[str]:
    """Start a part of a scene, a module of the tests that is run as a program, in a process of its own."""
    return subprocess.Popen([sys.executable, "-m", scene, *words], cwd=HOME, env=environment, text=True,
                            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)


def furnished(environment: Environment, scene: str) -> list[str]:
    """Let a scene be furnished; return what it names."""
    said, errors = played(environment, scene, "furnish").communicate()
    assert said, errors
    return said.split()


def at_one_moment(environment: Environment, scene: str, act: str, of: Sequence[str]) -> list[str]:
    """Let a process for each do an act at the same moment; return what they said, sorted."""
    hands = [played(environment, scene, act, one) for one in of]
    for hand in hands:
        assert hand.stdout is not None
        assert hand.stdout.readline() == "ready\n"
    for hand in hands:
        assert hand.stdin is not None
        hand.stdin.write("go\n")
        hand.stdin.flush()
    return sorted(hand.communicate()[0].strip() for hand in hands)


def wait_for(address: str) -> None:
    for _ in range(450):
        try:
            urlopen(f"{address}/health/", timeout=2).close()
            return
        except OSError:
            time.sleep(0.2)
    raise RuntimeError("The server does not answer.")
