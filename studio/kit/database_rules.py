"""Rules that the database itself keeps, written once for both vendors.

A room declares its rules beside its models (`<room>/database_rules.py`) with
`register`; here they become triggers on SQLite and PostgreSQL. They are removed
before migrations and installed after them, since on SQLite a rebuilt table
silently loses its triggers. Conditions are SQL that both vendors read, over OLD
and NEW.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from django.db import DEFAULT_DB_ALIAS, IntegrityError, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from studio.kit.database_version import ask

Event = Literal["INSERT", "UPDATE", "DELETE"]
PREFIX = "daybook_"


@dataclass(frozen=True, kw_only=True)
class Refuse:
    """Refuse a row's change when the condition holds (always, without one), with a sentence."""

    name: str
    table: str
    event: Event
    sentence: str
    condition: str = ""


@dataclass(frozen=True, kw_only=True)
class After:
    """Run one statement after a row's change."""

    name: str
    table: str
    event: Event
    statement: str


Rule = Refuse | After
_rules: list[Rule] = []


def register(*rules: Rule) -> None:
    for rule in rules:
        if any(known.name == rule.name for known in _rules):
            raise ValueError(f"Two database rules are called {rule.name}.")
        _rules.append(rule)


def append_only(table: str, what: str) -> tuple[Rule, ...]:
    """Return the rules of a table whose rows are never edited, deleted or replaced."""
    return (
        Refuse(name=f"{table}_never_edited", table=table, event="UPDATE", sentence=f"{what} is never edited."),
        Refuse(name=f"{table}_never_deleted", table=table, event="DELETE", sentence=f"{what} is never deleted."),
        # INSERT OR REPLACE deletes without firing delete triggers on SQLite.
        Refuse(
            name=f"{table}_never_replaced", table=table, event="INSERT", sentence=f"{what} is never replaced.",
            condition=f"EXISTS (SELECT 1 FROM {table} old_row WHERE old_row.id = NEW.id)",
        ),
    )


def changed(*columns: str) -> str:
    """Return the condition that any of these columns changes, NULLs included."""
    return "(" + " OR ".join(f"OLD.{column} IS DISTINCT FROM NEW.{column}" for column in columns) + ")"


def all_rules() -> tuple[Rule, ...]:
    return tuple(_rules)


def _sqlite(rule: Rule) -> Iterator[str]:
    name = PREFIX + rule.name
    if isinstance(rule, Refuse):
        when = f" WHEN {rule.condition}" if rule.condition else ""
        yield (
            f"CREATE TRIGGER {name} BEFORE {rule.event} ON {rule.table} FOR EACH ROW{when} "
            f"BEGIN SELECT RAISE(ABORT, '{_quoted(rule)}'); END"
        )
    else:
        yield f"CREATE TRIGGER {name} AFTER {rule.event} ON {rule.table} FOR EACH ROW BEGIN {rule.statement}; END"


def _postgresql(rule: Rule) -> Iterator[str]:
    name = PREFIX + rule.name
    if isinstance(rule, Refuse):
        refuse = f"RAISE EXCEPTION '{_quoted(rule)}' USING ERRCODE = 'integrity_constraint_violation';"
        body = f"IF {rule.condition} THEN {refuse} END IF;" if rule.condition else refuse
        result, moment = ("OLD" if rule.event == "DELETE" else "NEW"), "BEFORE"
    else:
        body, result, moment = f"{rule.statement};", "NULL", "AFTER"
    yield (
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS "
        f"$rule$ BEGIN {body} RETURN {result}; END $rule$"
    )
    yield f"CREATE TRIGGER {name} {moment} {rule.event} ON {rule.table} FOR EACH ROW EXECUTE FUNCTION {name}()"
    if isinstance(rule, Refuse) and rule.event == "DELETE" and not rule.condition:
        yield (
            f"CREATE TRIGGER {name}_truncate BEFORE TRUNCATE ON {rule.table} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION {name}()"
        )


def _quoted(rule: Refuse) -> str:
    return rule.sentence.replace("'", "''").replace("%", "%%")


def broken_constraint(refused: IntegrityError) -> str:
    """Return the name of the constraint that a database refused by; "" where it names none."""
    diagnosis = getattr(refused.__cause__, "diag", None)
    if diagnosis is not None:
        return str(diagnosis.constraint_name or "")
    return str(refused).removeprefix("CHECK constraint failed: ")


def installed(connection: BaseDatabaseWrapper) -> set[str]:
    """Return the names of this project's triggers that the database holds."""
    if connection.vendor == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        # an old studio that a restore put aside has the same names in a schema of its own
        query = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND pg_table_is_visible(tgrelid)"
    return {name for (name,) in ask(connection, query) if name.startswith(PREFIX)}


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """Return the names of rules that the database does not hold."""
    present = installed(connection)
    return sorted(rule.name for rule in _rules if PREFIX + rule.name not in present)


def lift(connection: BaseDatabaseWrapper) -> None:
    """Remove every rule. Only migrations and one test fixture do so."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            for name in installed(connection):
                cursor.execute(f"DROP TRIGGER {name}")
        else:
            cursor.execute("SELECT proname FROM pg_proc WHERE proname LIKE %s AND pg_function_is_visible(oid)",
                           [PREFIX.replace("_", r"\_") + "%"])
            for (name,) in cursor.fetchall():
                cursor.execute(f"DROP FUNCTION {name}() CASCADE")


def install(connection: BaseDatabaseWrapper) -> None:
    """Install every rule whose table exists, anew."""
    lift(connection)
    tables = set(connection.introspection.table_names())
    write = _sqlite if connection.vendor == "sqlite" else _postgresql
    with connection.cursor() as cursor:
        for rule in _rules:
            if rule.table in tables:
                for statement in write(rule):
                    cursor.execute(statement)


def lift_before_migrating(using: str = DEFAULT_DB_ALIAS, **_: Any) -> None:
    lift(connections[using])


def install_after_migrating(using: str = DEFAULT_DB_ALIAS, **_: Any) -> None:
    install(connections[using])
