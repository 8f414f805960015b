"""The studio that commit 84c4296 left behind, as a data folder and as a database of either vendor."""

from __future__ import annotations

import lzma
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg
from psycopg import sql

from studio.whole import demo

DATABASE = Path(__file__).parent / "daybook_of_84c4296.sqlite3.xz"
#: Its pictures are the demo's: files are kept by their content.
PICTURES = Path(demo.__file__).parent / "book.files"


def lay_out(folder: Path) -> Path:
    """Write the data folder as the earlier program left it; return the path of its SQLite database."""
    for picture in PICTURES.iterdir():
        kept = folder / "files" / picture.name[:2] / picture.name
        kept.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(picture, kept)
    database = folder / "daybook.sqlite3"
    database.write_bytes(lzma.decompress(DATABASE.read_bytes()))
    return database


def last_migrations(database: Path) -> dict[str, str]:
    """Return how far each app was migrated."""
    with closing(sqlite3.connect(database)) as kept:
        return dict(kept.execute("SELECT app, max(name) FROM django_migrations GROUP BY app"))


def pour(database: Path, address: str) -> None:
    """Copy every row of the SQLite file into a PostgreSQL database that is migrated just as far, and has no rules."""
    with closing(sqlite3.connect(database)) as kept, psycopg.connect(address) as poured:
        poured.execute("SET session_replication_role = replica")  # rows come in any order
        tables = [name for (name,) in kept.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")]
        for table in tables:
            _pour_table(kept, poured, table)


def _pour_table(kept: sqlite3.Connection, poured: psycopg.Connection[Any], table: str) -> None:
    types = dict(poured.execute(
        "SELECT column_name, data_type FROM information_schema.columns WHERE table_name = %s", [table]).fetchall())
    found = kept.execute(f"SELECT * FROM {table}")
    columns = [column[0] for column in found.description]
    name = sql.Identifier(table)
    poured.execute(sql.SQL("DELETE FROM {}").format(name))
    enter = sql.SQL("INSERT INTO {} ({}) VALUES ({})").format(
        name, sql.SQL(", ").join(map(sql.Identifier, columns)), sql.SQL(", ").join(sql.Placeholder() * len(columns)))
    for row in found.fetchall():
        poured.execute(enter, [
            bool(value) if types[column] == "boolean" and value is not None
            else str(value) if value is not None and types[column] in ("numeric", "jsonb") else value
            for column, value in zip(columns, row, strict=True)
        ])
    if "id" in columns and types["id"] in ("bigint", "integer"):
        sequence = poured.execute("SELECT pg_get_serial_sequence(%s, 'id')", [table]).fetchone()
        if sequence and sequence[0]:
            poured.execute(sql.SQL("SELECT setval({}, coalesce(max(id), 1)) FROM {}").format(
                sql.Literal(sequence[0]), name))
