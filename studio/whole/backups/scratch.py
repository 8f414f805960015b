"""Fresh places to fill: an empty folder with SQLite, or an empty schema of the studio's own PostgreSQL database.

A schema needs no second database and no right to make one; renaming it is one statement in a transaction, so that the
old studio or the new one is there, whatever happens.
"""

from __future__ import annotations

import json
import os
import secrets
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote, urlsplit, urlunsplit

from django.conf import settings
from django.db import DatabaseError, connection, transaction

from studio.kit import data_folder
from studio.whole.backups.places import NoBackup

SCHEMA = "daybook_scratch"
Environment = dict[str, str]


@dataclass(frozen=True, kw_only=True)
class Place:
    """A fresh place: the data folder of its environment, and its schema, "" where it is an SQLite file."""

    folder: Path
    environment: Environment
    schema: str = ""

    @property
    def database(self) -> Path:
        return self.folder / "daybook.sqlite3"


@dataclass(frozen=True, kw_only=True)
class Filled:
    """What a process that filled a place said: tables that differ, and what the audit found."""

    apart: list[str]
    audit: list[str]
    refused: str = ""
    latest: bool = True
    rows: int = 0
    notes: list[str] = field(default_factory=list)


@contextmanager
def fresh_place(folder: Path, *, may_be_elsewhere: bool) -> Iterator[Place]:
    """Give a fresh place of the studio's own kind of database; it is cleared afterwards, unless it was renamed.

    may_be_elsewhere: where PostgreSQL lets no schema be made, an SQLite file does as well. Raises NoBackup.
    """
    if connection.vendor != "postgresql":
        yield Place(folder=folder, environment=_environment(folder))
        return
    try:
        _clear(SCHEMA)
        with connection.cursor() as cursor:
            cursor.execute(f"CREATE SCHEMA {SCHEMA}")
    except DatabaseError as not_allowed:
        if not may_be_elsewhere:
            raise NoBackup("The database lets nobody make a schema here: its user needs CREATE on the database."
                           ) from not_allowed
        yield Place(folder=folder, environment=_environment(folder))
        return
    url = urlsplit(os.environ["DATABASE_URL"])
    search = f"options={quote(f'-c search_path={SCHEMA}')}"
    asked = urlunsplit(url._replace(query=f"{url.query}&{search}" if url.query else search))
    try:
        yield Place(folder=folder, environment={**_environment(folder), "DATABASE_URL": asked}, schema=SCHEMA)
    finally:
        _clear(SCHEMA)


def _environment(folder: Path) -> Environment:
    kept_back = ("DATABASE_URL", "DAYBOOK_PASSPHRASE", "KEPT_FILES")
    return {**{name: value for name, value in os.environ.items() if name not in kept_back},
            "DAYBOOK_DATA": str(folder), "SECRET_KEY": secrets.token_urlsafe(50),
            "DJANGO_SETTINGS_MODULE": "studio.settings"}


def _clear(schema: str) -> None:
    """Drop a schema where it is there, table by table: all at once need more locks than a small server has."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = %s", [schema])
        tables = [name for (name,) in cursor.fetchall()]
    for name in tables:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"DROP TABLE IF EXISTS {schema}.{connection.ops.quote_name(name)} CASCADE")
    with connection.cursor() as cursor:
        cursor.execute(f"DROP SCHEMA IF EXISTS {schema} CASCADE")


def fill(place: Place, unpacked: Path, lock: int) -> Filled:
    """Fill a fresh place from an unpacked backup, in a process of its own, which sees no other database.

    Raises NoBackup where it could not be filled.
    """
    answer = unpacked / "filled.json"
    if "DATABASE_URL" not in place.environment:  # a studio's own start makes no missing file
        place.database.touch(mode=data_folder.FILE)
    ran = subprocess.run(  # noqa: S603  (this program, on paths made here)
        [sys.executable, "-m", "studio.whole.backups.filling", str(unpacked), str(answer)], check=False,
        cwd=settings.HOME, env=place.environment, pass_fds=(lock,), capture_output=True, text=True,
    )
    if not answer.exists():
        raise NoBackup(f"The scratch place could not be filled: {ran.stderr.strip()[-600:] or ran.returncode}")
    filled = Filled(**json.loads(answer.read_text()))
    if filled.refused:
        raise NoBackup(filled.refused)
    if filled.apart:
        raise NoBackup(f"Restored into a scratch place, these tables differ: {', '.join(filled.apart)}.")
    return filled
