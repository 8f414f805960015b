"""Restore a backup: filled and tried in a scratch place first, the old studio put aside, then one step between them.

Until that step nothing of the old studio is touched but that kept files are added, which harms none; after it the new
studio is looked at, and where it does not answer the old one is put back.
"""

from __future__ import annotations

import logging
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from studio.house.clock import now
from studio.house.kept_files import in_folder, put_back
from studio.kit import data_folder, database_rules
from studio.kit.whole_files import keep_names, put_in_place
from studio.whole.backups.archive import Manifest, told
from studio.whole.backups.making import move_files, opened, try_backup
from studio.whole.backups.places import (
    NoBackup,
    nobody_serves,
    one_at_a_time,
    scratch_folder,
)
from studio.whole.backups.scratch import Place, fill, fresh_place
from studio.whole.backups.sealing import given_passphrase, is_sealed

#: the old studio's folder is a data folder again: DAYBOOK_DATA may name it
ASIDE, DATABASE = "before-restores", "daybook.sqlite3"
#: what SQLite writes beside a database and has not written back yet
JOURNALS = ("-wal", "-journal")
security = logging.getLogger("daybook.security")


@dataclass(frozen=True, kw_only=True)
class Restored:
    """What was restored. aside: where the old studio is now, "" where there was none."""

    manifest: Manifest
    aside: str
    told: list[str]


def look_at(path: Path, passphrase_file: Path | None = None) -> Restored:
    """Try a backup without restoring it: in a scratch place that is thrown away. Raises NoBackup."""
    passphrase = _passphrase_of(path, passphrase_file)
    with one_at_a_time() as lock, scratch_folder() as scratch:
        manifest, _, filled = try_backup(path, scratch, passphrase, lock)
    return Restored(manifest=manifest, aside="", told=told(manifest, filled.audit))


def restore(path: Path, passphrase_file: Path | None = None) -> Restored:
    """Put a backup in the place of the studio; the old one is kept aside. Raises NoBackup: then all is as before."""
    passphrase = _passphrase_of(path, passphrase_file)
    with one_at_a_time() as lock, nobody_serves(), scratch_folder() as scratch:
        _refuse_company()
        manifest, unpacked = opened(path, scratch, passphrase)
        folder = scratch / "studio"
        folder.mkdir()
        with fresh_place(folder, may_be_elsewhere=False) as place:
            move_files(unpacked, folder)
            filled = fill(place, unpacked, lock)
            aside = _aside()
            try:
                _files_in_place(manifest, folder)
                kept = _swap_schemas(place, aside) if place.schema else _swap_databases(place, aside)
            except BaseException:
                if not (aside / DATABASE).exists():  # else it is the old database's second name
                    _forget(aside)
                raise
        security.warning("%s: restored, by command: a backup of %s%s", "the studio", manifest.made_at,
                         f"; the old one is kept aside: {kept}" if kept else "")
        data_folder.mark(settings.DATA)
    return Restored(manifest=manifest, aside=kept, told=told(manifest, filled.audit))


def _passphrase_of(path: Path, file: Path | None) -> str:
    return given_passphrase(file, ask=True) if is_sealed(path) else ""


def _aside() -> Path:
    """Make the folder of the old studio, named after the day, its kept files in it by the same bytes.

    In a store they stay where they are, under their sums.
    """
    day, number = f"{now():%Y-%m-%d}", 1
    while (folder := settings.DATA / ASIDE / (day if number == 1 else f"{day}-{number}")).exists():
        number += 1
    folder.mkdir(mode=0o700, parents=True)
    if in_folder() and Path(settings.FILES).exists():
        shutil.copytree(settings.FILES, folder / "files", copy_function=_link)
    return folder


def _link(one: str, other: str) -> None:
    try:
        os.link(one, other)
    except OSError:  # a disk without second names
        shutil.copyfile(one, other)


def _files_in_place(manifest: Manifest, folder: Path) -> None:
    """Add the kept files of a backup to the studio's: they lie under their sums, so that none takes another's place."""
    for name in manifest.parts:
        sha256 = name.removeprefix("files/")
        if sha256 == name:
            continue
        source = folder / "files" / sha256[:2] / sha256
        put_back(sha256, source)
        source.unlink()  # no room is needed for all of them twice


def _well() -> None:
    """Look at the studio that is now in place. Raises NoBackup."""
    try:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()) or database_rules.missing(connection):
            raise NoBackup("The restored studio did not keep its rules: the old one was put back.")
    except DatabaseError as silent:
        raise NoBackup(f"The restored studio did not answer: the old one was put back. {silent}") from silent


# --- SQLite: one file in the place of another

def _swap_databases(place: Place, aside: Path) -> str:
    old, new = data_folder.path_of_database(connection.settings_dict["NAME"]), place.database
    connection.close()
    with closing(sqlite3.connect(new)) as filled:
        filled.execute("PRAGMA journal_mode=DELETE")  # all of it in the one file
    beside = old.with_name(f".{old.name}.restoring")
    try:
        shutil.copyfile(new, beside)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    beside.chmod(0o600)
    there = old.exists()
    with _held(old) if there else nullcontext():
        if there:
            _link_all(old, aside)
        try:
            _remove_journals(old)
            put_in_place(beside, old)
        except BaseException:
            _old_back(old, aside if there else None, beside)
            raise
    try:
        _well()
    except NoBackup:
        connection.close()
        _old_back(old, aside if there else None, beside)
        raise
    if there:
        return str(aside)
    _forget(aside)
    return ""


@contextmanager
def _held(database: Path) -> Iterator[None]:
    """Hold a database for ourselves, its journal written back into the file. Raises NoBackup where others have it open.

    One that cannot be read any more is what a restore is for: nothing holds it.
    """
    with closing(sqlite3.connect(database, timeout=5, isolation_level=None)) as keeper:
        try:
            keeper.execute("PRAGMA journal_mode=DELETE")
            keeper.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as busy:
            if "locked" in str(busy):
                raise NoBackup("Another program has the database open: end it first, then restore.") from busy
        except sqlite3.DatabaseError:
            pass
        yield


def _link_all(database: Path, aside: Path) -> None:
    """Give the old database a second name aside, and a journal that could not be written back."""
    try:
        _link(str(database), str(aside / DATABASE))
        for ending in JOURNALS:
            if (journal := database.with_name(database.name + ending)).exists():
                _link(str(journal), str(aside / f"{DATABASE}{ending}"))
        keep_names(aside)
    except BaseException:
        (aside / DATABASE).unlink(missing_ok=True)
        raise


def _remove_journals(database: Path) -> None:
    """Take away what would be read as the journal of whatever stands in this place next."""
    for ending in (*JOURNALS, "-shm"):
        database.with_name(database.name + ending).unlink(missing_ok=True)


def _old_back(database: Path, aside: Path | None, beside: Path) -> None:
    """Put the old database back in its place, journal and all, which needs no room; nothing where none was."""
    beside.unlink(missing_ok=True)
    _remove_journals(database)
    if aside is None:
        database.unlink(missing_ok=True)
        return
    _link(str(aside / DATABASE), str(beside))
    os.replace(beside, database)
    beside.unlink(missing_ok=True)  # two names of one file both stay
    for ending in JOURNALS:
        if (kept := aside / f"{DATABASE}{ending}").exists():
            _link(str(kept), str(database.with_name(database.name + ending)))
    keep_names(database.parent)
    (aside / DATABASE).unlink()


def _forget(aside: Path) -> None:
    """Remove the folder of an old studio that was none, kept files and all: they have their first name still."""
    shutil.rmtree(aside)
    with suppress(OSError):
        aside.parent.rmdir()


# --- PostgreSQL: one schema in the place of another, in one transaction

def _refuse_company() -> None:
    """Refuse while anybody else is connected to the database: a server elsewhere, or a command."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
                       "AND pid <> pg_backend_pid() AND backend_type = 'client backend'")
        if cursor.fetchone()[0]:
            raise NoBackup("Somebody else is connected to the database: stop the servers first, then restore.")


def _swap_schemas(place: Place, aside: Path) -> str:
    _refuse_company()
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SELECT current_schema()")
            own = connection.ops.quote_name(cursor.fetchone()[0])
            cursor.execute("SELECT count(*) FROM pg_tables WHERE schemaname = current_schema()")
            there = bool(cursor.fetchone()[0])
            cursor.execute("SELECT nspname FROM pg_namespace")
            names, old, number = {name for (name,) in cursor.fetchall()}, f"before_{now():%Y_%m_%d}", 1
            while (kept := old if number == 1 else f"{old}_{number}") in names:
                number += 1
            cursor.execute(f"ALTER SCHEMA {own} RENAME TO {kept}")
            cursor.execute(f"ALTER SCHEMA {place.schema} RENAME TO {own}")
            _well()
    except DatabaseError as refused:
        raise NoBackup(f"The database lets its schemas not be renamed: {refused}") from refused
    if not there:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP SCHEMA {kept} CASCADE")
        _forget(aside)
        return ""
    return f"the schema {kept}, and its files in {aside}" if in_folder() else f"the schema {kept}; its files stay"
