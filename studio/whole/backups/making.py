"""Make a backup: a snapshot while people work, its kept files, all restored once into a scratch place, then named.

A file is under its name only once it was restored and nothing differed: whoever finds one may rely on it.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connection, connections
from django.db.migrations.loader import MigrationLoader

from studio.house.clock import now
from studio.house.kept_files import content_of, place
from studio.kit import data_folder
from studio.kit.one_moment import one_moment
from studio.kit.whole_files import put_in_place
from studio.whole.backups.archive import Manifest, Packing, told, unpack
from studio.whole.backups.last_good import mark_good
from studio.whole.backups.places import NoBackup, one_at_a_time, scratch_folder
from studio.whole.backups.rows import connection_at, file_of, kept, migrations_of, models_at, write_tables
from studio.whole.backups.scratch import Filled, fill, fresh_place
from studio.whole.backups.sealing import seal, unseal

_PREFIX, _SUFFIX = "daybook-", ".tar"
_SIDE = "StoredFile"


@dataclass(frozen=True, kw_only=True)
class Made:
    """A good backup. told: sentences of kept files that are missing and of what the audit found."""

    path: Path
    manifest: Manifest
    tried_in: str
    told: list[str]


def make_backup(folder: Path, *, passphrase: str = "", keep: int = 0) -> Made:
    """Make a backup in a folder, try it, and name it. keep: so many newest stay there, 0 all. Raises NoBackup."""
    made_at = now()
    with one_at_a_time() as lock, scratch_folder() as scratch:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        target = folder / f"{_PREFIX}{made_at:%Y-%m-%d-%H%M%S}{_SUFFIX}"
        beside = folder / f".{target.name}.part"
        for left in folder.glob(f".{_PREFIX}*{_SUFFIX}.part*"):  # by a run that was killed
            left.unlink()
        try:
            _write(beside, scratch, made_at, passphrase)
            manifest, tried_in, filled = try_backup(beside, scratch, passphrase, lock)
            put_in_place(beside, target)
        finally:
            beside.unlink(missing_ok=True)
        mark_good(made_at, target.name)
        _drop_older(folder, keep, but=target)
    return Made(path=target, manifest=manifest, tried_in=tried_in, told=told(manifest, filled.audit))


def _write(beside: Path, scratch: Path, made_at: datetime, passphrase: str) -> None:
    """Write the whole file under a name nobody takes for a backup."""
    packed = scratch / "content.tar" if passphrase else beside
    with os.fdopen(os.open(packed, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
        _pack(Packing(file), scratch, made_at)
    if passphrase:
        seal(packed, beside, passphrase)
        beside.chmod(0o600)
        packed.unlink()


def _pack(packing: Packing, scratch: Path, made_at: datetime) -> None:
    database = scratch / "database"
    database.mkdir()
    with _snapshot(scratch) as alias:
        nodes, unknown = migrations_of(connections[alias])
        if unknown:
            raise NoBackup("The database is of a newer program than this one: make its backup with that program.")
        models = kept(models_at(MigrationLoader(connections[alias]), nodes)) if nodes else []
        if not any(model.__name__ == _SIDE for model in models):
            raise NoBackup("There is no studio here yet: nothing to keep.")
        tables = write_tables(models, alias, database)
        stored = next(model for model in models if model.__name__ == _SIDE)
        files = list(stored._base_manager.using(alias).order_by("sha256").values_list("sha256", "name"))
    for table in tables:
        packing.add_file(f"database/{file_of(table.table)}", database / file_of(table.table))
    shutil.rmtree(database)
    missing = list(_pack_files(packing, files))
    packing.finish(Manifest(
        program=settings.VERSION, made_at=made_at.isoformat(), database=connection.vendor, migrations=nodes,
        tables=tables, missing=missing, parts=packing.parts,
    ))


@contextmanager
def _snapshot(scratch: Path) -> Iterator[str]:
    """Give the name of a connection that sees one moment of the database, while others go on writing.

    SQLite: a copy by its own means. PostgreSQL: one transaction that sees what was there when it began.
    """
    if connection.vendor == "postgresql":
        with one_moment():
            yield DEFAULT_DB_ALIAS
        return
    copy = scratch / "snapshot.sqlite3"
    copied_database(data_folder.path_of_database(connection.settings_dict["NAME"]), copy)
    alias = connection_at(copy)
    try:
        yield alias
    except DatabaseError as damaged:
        raise NoBackup(f"The database is damaged: {damaged}. Restore the last good backup.") from damaged
    finally:
        connections[alias].close()
        for name in (copy.name, f"{copy.name}-wal", f"{copy.name}-shm"):
            (scratch / name).unlink(missing_ok=True)


def copied_database(database: Path, copy: Path) -> None:
    """Copy an SQLite database as it stands at one moment, whoever writes to it. Raises NoBackup."""
    if not database.exists():
        raise NoBackup("There is no studio here yet: nothing to keep.")
    try:
        with closing(sqlite3.connect(database, timeout=30)) as one, closing(sqlite3.connect(copy)) as other:
            one.backup(other)
            found = other.execute("PRAGMA quick_check").fetchone()[0]
    except sqlite3.Error as damaged:
        raise NoBackup(f"The database cannot be copied: {damaged}.") from damaged
    if found != "ok":
        raise NoBackup(f"The database is damaged: {str(found)[:200]}. Restore the last good backup.")


def _pack_files(packing: Packing, files: list[tuple[str, str]]) -> Iterator[dict[str, str]]:
    """Pack the kept files, which never change; yield those that are not there as they were kept."""
    for sha256, name in files:
        try:
            content = content_of(sha256)
        except OSError:
            yield {"sha256": sha256, "name": name, "why": f"missing from {place()}"}
            continue
        if hashlib.sha256(content).hexdigest() != sha256:
            yield {"sha256": sha256, "name": name, "why": "not as it was kept"}
            continue
        packing.add(f"files/{sha256}", content)


def opened(path: Path, scratch: Path, passphrase: str) -> tuple[Manifest, Path]:
    """Unpack a backup into the scratch folder, every sum checked; return its manifest and folder. Raises NoBackup."""
    plain, unpacked = path, scratch / "unpacked"
    if passphrase:
        plain = scratch / "opened.tar"
        unseal(path, plain, passphrase)
    unpacked.mkdir()
    with plain.open("rb") as file:
        manifest = unpack(file, unpacked)
    if passphrase:
        plain.unlink()
    loader: Any = MigrationLoader(None)
    known = {*loader.disk_migrations, *(old for one in loader.disk_migrations.values() for old in one.replaces)}
    if newer := [name for name in manifest.migrations if name not in known]:
        raise NoBackup(f"This backup is of a newer program ({manifest.program}, with {newer[0][0]} {newer[0][1]}): "
                       "restore it with that one.")
    return manifest, unpacked


def try_backup(path: Path, scratch: Path, passphrase: str, lock: int) -> tuple[Manifest, str, Filled]:
    """Restore a backup into a scratch place that is thrown away; return what it holds, where, and what was found.

    Raises NoBackup where it is damaged, newer, or not what it says.
    """
    manifest, unpacked = opened(path, scratch, passphrase)
    folder = scratch / "studio"
    folder.mkdir()
    with fresh_place(folder, may_be_elsewhere=True) as place:
        move_files(unpacked, folder)
        filled = fill(place, unpacked, lock)
        where = "a scratch schema" if place.schema else "a scratch folder"
        if connection.vendor == "postgresql" and not place.schema:
            where = "a scratch folder with SQLite (the database lets nobody make a schema)"
    return manifest, where, filled


def move_files(unpacked: Path, folder: Path) -> None:
    if (unpacked / "files").exists():
        os.replace(unpacked / "files", folder / "files")


def _drop_older(folder: Path, keep: int, *, but: Path) -> None:
    """Drop the oldest backups of a folder beyond the newest: their names are their moments.

    The one just made stays, and what a clock that went ahead named is left to a person.
    """
    if keep > 0:
        older = sorted(path for path in folder.glob(f"{_PREFIX}[0-9]*{_SUFFIX}") if path.name < but.name)
        for old in older[:max(len(older) - keep + 1, 0)]:
            old.unlink()
