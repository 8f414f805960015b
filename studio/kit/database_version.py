"""Whether a database is one that this program may use: asked past whatever counts or watches queries."""

from __future__ import annotations

from functools import cache
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader


def ask(connection: BaseDatabaseWrapper, query: str) -> list[tuple[Any, ...]]:
    """Return the rows of a query that names no parameters."""
    connection.ensure_connection()
    assert connection.connection is not None
    cursor = connection.connection.cursor()
    try:
        cursor.execute(query)
        return list(cursor.fetchall())
    finally:
        cursor.close()


def has_table(connection: BaseDatabaseWrapper, name: str) -> bool:
    if connection.vendor == "sqlite":
        return bool(ask(connection, f"SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = '{name}'"))
    return bool(ask(connection, f"SELECT 1 WHERE to_regclass('{name}') IS NOT NULL"))


@cache
def _known() -> frozenset[tuple[str, str]]:
    """Return every migration of this program, and those that one of them stands for."""
    known = MigrationLoader(None, ignore_no_migrations=True).disk_migrations
    return frozenset(known) | {old for migration in known.values() for old in migration.replaces}


def unknown_migrations(connection: BaseDatabaseWrapper) -> list[str]:
    """Return the migrations that a database has had and this program does not know: a newer one did them."""
    if not _known() or not has_table(connection, "django_migrations"):
        return []
    had = ask(connection, "SELECT app, name FROM django_migrations")
    return sorted(f"{app} {name}" for app, name in had if (app, name) not in _known())
