"""Databases and servers of a test's own, outside pytest's transactions: on the vendor the suite runs on."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit
from urllib.request import urlopen

HOME = Path(__file__).resolve().parent.parent
Environment = dict[str, str]


@contextmanager
def own_database(folder: Path, name: str) -> Iterator[Environment]:
    """Yield an environment with a fresh, migrated database: a SQLite file, or a PostgreSQL database of its own."""
    environment = {key: value for key, value in os.environ.items() if key not in ("DATABASE_URL", "SECRET_KEY")}
    environment |= {"DAYBOOK_DATA": str(folder / ".daybook-demo"), "DJANGO_SETTINGS_MODULE": "studio.settings"}
    url = os.environ.get("DATABASE_URL", "")
    if not url.startswith("postgres"):
        manage(environment, "migrate", "--verbosity", "0")
        yield environment
        return
    import psycopg

    parts = urlsplit(url)
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {name}")
        server.execute(f"CREATE DATABASE {name}")
        environment["DATABASE_URL"] = urlunsplit(parts._replace(path=f"/{name}"))
        try:
            manage(environment, "migrate", "--verbosity", "0")
            yield environment
        finally:
            server.execute(f"DROP DATABASE {name} WITH (FORCE)")


def manage(environment: Environment, *words: str) -> str:
    """Run a management command and return what it printed."""
    done = subprocess.run(
        [sys.executable, "manage.py", *words], cwd=HOME, env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(f"{' '.join(words)}: {done.stdout}{done.stderr}")
    return done.stdout


@contextmanager
def demo_server(environment: Environment) -> Iterator[str]:
    """Load the demo, serve it, and yield its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    environment = {**environment, "PUBLIC_URL": address}
    manage(environment, "load_demo")
    manage(environment, "demo_people")
    server = subprocess.Popen(
        [sys.executable, "-m", "waitress", f"--listen=127.0.0.1:{port}", "--threads=8", "studio.wsgi:application"],
        cwd=HOME, env=environment, stderr=subprocess.DEVNULL,
    )
    try:
        _wait_for(address)
        yield address
    finally:
        server.terminate()
        server.wait(15)


def _wait_for(address: str) -> None:
    for _ in range(150):
        try:
            urlopen(f"{address}/health/", timeout=2).close()
            return
        except OSError:
            time.sleep(0.2)
    raise RuntimeError("The server does not answer.")
