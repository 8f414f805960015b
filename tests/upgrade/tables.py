"""Print the tables of a studio's database as JSON: `python -m tests.upgrade.tables [one-by-one]`.

one-by-one: first make them by every migration there ever was, in a database that is empty.
"""

from __future__ import annotations

import json
import re
import sys
from typing import Any

import django

WRITTEN_AFTER = {"auth_permission", "django_content_type"}
OF_POSTGRESQL = """
SELECT 'column', table_name, column_name, data_type || coalesce('(' || coalesce(character_maximum_length::text,
       numeric_precision || ',' || numeric_scale) || ')', ''), is_nullable, coalesce(column_default, is_identity)
FROM information_schema.columns WHERE table_schema = 'public'
UNION ALL SELECT 'constraint', conrelid::regclass::text, conname, pg_get_constraintdef(oid), '', ''
FROM pg_constraint WHERE connamespace = 'public'::regnamespace AND contype <> 't'
UNION ALL SELECT 'index', tablename, indexname, indexdef, '', '' FROM pg_indexes WHERE schemaname = 'public'
"""


def one_by_one() -> None:
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor

    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def tables() -> list[list[Any]]:
    """Return what a database has, in an order of its own: the order of columns in a table means nothing."""
    from django.db import connection

    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(OF_POSTGRESQL)
            return sorted(unnamed([str(part) for part in row]) for row in cursor.fetchall())
        cursor.execute("SELECT type, tbl_name, name, sql FROM sqlite_master WHERE type IN ('table', 'index') AND sql IS NOT NULL")
        return sorted([kind, table, name, parts(sql) if kind == "table" else sql] for kind, table, name, sql in cursor.fetchall())


def rows() -> dict[str, int]:
    """Return how many rows each table has, but those that the framework writes after any migration."""
    from django.db import connection

    found = {}
    with connection.cursor() as cursor:
        for name in sorted({*connection.introspection.table_names()} - WRITTEN_AFTER):
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(name)}")
            found[name] = cursor.fetchone()[0]
    return found


def unnamed(row: list[str]) -> list[str]:
    """Return a row without a name that the framework or the server gave: of then, where a table was renamed since."""
    kind, table, name, *rest = row
    if kind != "column" and re.search(r"_[0-9a-f]{8}(_fk_\w*|_uniq|_like)?$|_(check|pkey|key)$", name):
        return [kind, table, "", *(part.replace(f" {name} ", " ") for part in rest)]
    return row


def parts(sql: str) -> list[str]:
    """Return the columns and constraints of a CREATE TABLE, sorted."""
    found, depth = [""], 0
    for letter in sql[sql.index("(") + 1:sql.rindex(")")]:
        depth += {"(": 1, ")": -1}.get(letter, 0)
        if letter == "," and not depth:
            found.append("")
        else:
            found[-1] += letter
    return sorted(re.sub(r"\s+", " ", part).strip() for part in found)


if __name__ == "__main__":
    django.setup()
    if sys.argv[1:] == ["one-by-one"]:
        one_by_one()
    json.dump([tables(), rows()], sys.stdout)
