"""Every table's rows as lines of JSON, and back: by the models of the migrations that the database stands at.

Values are written as Django reads them, so that a line says the same on SQLite and PostgreSQL and two copies of a
studio can be compared line for line.
"""

from __future__ import annotations

import gzip
import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import islice
from pathlib import Path
from typing import Any
from uuid import UUID

from django.core.management.color import no_style
from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader

from studio.kit.rounding import plain

Node = tuple[str, str]
Model = Any
#: of the moment alone: who is logged in (a restored studio asks everybody to log in again), which workers live, and
#: what carries the long work that waits: a worker sends that once more
LEFT_OUT = frozenset({"django_session", "studio_personsession", "studio_longworker", "studio_cleanpass",
                      "django_tasks_database_dbtaskresult"})
CHUNK = 200


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table in a backup: the model it is read by, its columns in order, its rows, and the SHA-256 of its lines."""

    table: str
    model: str
    columns: list[str]
    rows: int
    sha256: str

    as_document = asdict


def migrations_of(connection: BaseDatabaseWrapper) -> tuple[list[Node], list[Node]]:
    """Return the migrations that a database has, and those among them that this program does not know."""
    loader = MigrationLoader(connection)
    applied = sorted(loader.applied_migrations)
    known = {*loader.disk_migrations, *loader.graph.nodes}
    known |= {old for migration in loader.disk_migrations.values() for old in migration.replaces}
    return applied, [node for node in applied if node not in known]


def ends(loader: MigrationLoader, nodes: Iterable[Node]) -> list[Node]:
    """Return the last of some migrations: those that no other of them rests on, room by room."""
    had = {node for node in nodes if node in loader.graph.nodes}
    return sorted(
        node for node in had
        if not any(child.key in had and child.key[0] == node[0] for child in loader.graph.node_map[node].children)
    )


def models_at(loader: MigrationLoader, nodes: Iterable[Node]) -> list[Model]:
    """Return the models of every table, as they were at some migrations."""
    apps = loader.project_state(ends(loader, nodes)).apps
    models = [model for model in apps.get_models(include_auto_created=True) if model._meta.managed]
    return sorted(
        (model for model in models if not model._meta.proxy), key=lambda model: str(model._meta.db_table),
    )


def kept(models: Iterable[Model]) -> list[Model]:
    """Return the models whose rows a backup holds."""
    return [model for model in models if model._meta.db_table not in LEFT_OUT]


def clear_what_is_left_out(models: Iterable[Model], alias: str) -> None:
    """Log everybody out: an older backup holds who was logged in, whose browsers would be let in again."""
    for model in models:
        if model._meta.db_table in LEFT_OUT:
            model._base_manager.using(alias).all().delete()


def write_tables(models: Iterable[Model], alias: str, folder: Path) -> list[Table]:
    """Write each table into a file of the folder, packed; return what was written."""
    found = []
    for model in models:
        with (folder / file_of(model._meta.db_table)).open("wb") as file, \
                gzip.GzipFile(fileobj=file, mode="wb", filename="", mtime=0) as packed:
            found.append(_table(model, alias, packed))
    return found


def tables_of(models: Iterable[Model], alias: str) -> list[Table]:
    """Return what stands in each table, without writing it."""
    return [_table(model, alias, None) for model in models]


def file_of(table: str) -> str:
    return f"{table}.jsonl.gz"


def _table(model: Model, alias: str, packed: Any) -> Table:
    sums, count = hashlib.sha256(), 0
    for line in _lines(model, alias):
        sums.update(line)
        count += 1
        if packed is not None:
            packed.write(line)
    return Table(table=model._meta.db_table, model=model._meta.label_lower, rows=count, sha256=sums.hexdigest(),
                 columns=[field.attname for field in _fields(model)])


def _fields(model: Model) -> list[Any]:
    return [field for field in model._meta.local_concrete_fields if not getattr(field, "generated", False)]


def _lines(model: Model, alias: str) -> Iterator[bytes]:
    names = [field.attname for field in _fields(model)]
    for row in model._base_manager.using(alias).order_by("pk").values_list(*names).iterator(chunk_size=CHUNK):
        line = json.dumps(list(row), default=_said, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
        yield line.encode() + b"\n"


def _said(value: Any) -> str:
    """Return a value that JSON has no word for; `to_python` of its field reads it back."""
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, (datetime, date, time)):
        return value.isoformat()
    if isinstance(value, (UUID, timedelta)):
        return str(value)
    raise TypeError(f"A backup has no word for a {type(value).__name__}.")


def read_tables(
    models: Iterable[Model], tables: Iterable[Table], connection: BaseDatabaseWrapper, folder: Path,
) -> None:
    """Put the rows of a backup into the tables of a fresh database, in one transaction.

    What the migrations put there is cleared first: it is in the backup too. The rules are not installed yet. Raises
    what the database refuses, ValueError where the lines do not fit the tables.
    """
    by_table = {model._meta.db_table: model for model in models}
    with connection.constraint_checks_disabled(), transaction.atomic(using=connection.alias):
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                cursor.execute(f"TRUNCATE {', '.join(map(connection.ops.quote_name, by_table))}")
            else:
                for name in by_table:
                    cursor.execute(f"DELETE FROM {connection.ops.quote_name(name)}")
        for table in tables:
            _read_table(by_table[table.table], table, connection, folder)
        connection.check_constraints()
        with connection.cursor() as cursor:
            for statement in connection.ops.sequence_reset_sql(no_style(), list(by_table.values())):
                cursor.execute(statement)


def _read_table(model: Model, table: Table, connection: BaseDatabaseWrapper, folder: Path) -> None:
    fields = _fields(model)
    if [field.attname for field in fields] != table.columns:
        raise ValueError(f"{table.table} has other columns than in the backup")
    with gzip.open(folder / file_of(table.table), "rt", encoding="utf-8") as lines:
        size = min(CHUNK, max(connection.ops.bulk_batch_size(fields, [None] * CHUNK), 1))
        while part := list(islice(lines, size)):
            rows = []
            for line in part:
                row = model()
                for field, value in zip(fields, json.loads(line), strict=True):
                    setattr(row, field.attname, None if value is None else field.to_python(value))
                rows.append(row)
            # raw: a column that stamps itself keeps what it says in the backup
            model._base_manager.using(connection.alias)._insert(rows, fields=fields, using=connection.alias, raw=True)


def apart(said: Iterable[Table], found: Iterable[Table]) -> list[str]:
    """Return the tables whose rows are not those that a backup says."""
    there = {table.table: (table.rows, table.sha256) for table in found}
    return [table.table for table in said if there.get(table.table) != (table.rows, table.sha256)]


def connection_at(path: Path) -> str:
    """Name a connection to an SQLite file beside the program's own; return its alias."""
    alias = "snapshot"
    connections.databases[alias] = {
        **connections.databases["default"], "ENGINE": "django.db.backends.sqlite3", "NAME": str(path),
        "OPTIONS": {"init_command": "PRAGMA query_only=ON;"}, "CONN_MAX_AGE": 0,
    }
    return alias
