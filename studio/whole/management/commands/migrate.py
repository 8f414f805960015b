"""Migrate as the framework does, but without asking first whether every rule is there: migrating installs them. A new
studio's tables are made at once.

Once nothing is left to migrate, versions that break a rule of this program are marked in doubt: they were put in use
under the rules of an earlier one.
"""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError
from django.core.management.commands import migrate
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from recipes.finishes.marking import mark_all_doubts
from studio.house import begun
from studio.kit import data_folder
from studio.kit.database_version import unknown_migrations
from studio.kit.tables_at_once import is_empty, make_tables
from studio.kit.trouble import NEWER

#: what asks for something else than every table
_NOT_ALL = ("app_label", "plan", "check_unapplied", "fake", "fake_initial", "prune")


class Command(migrate.Command):
    def get_check_kwargs(self, options: dict[str, Any]) -> Any:
        """Leave the database's own checks out: a database of an earlier program lacks the rules added since."""
        asked: Any = super().get_check_kwargs(options)
        return {**asked, "databases": []}

    def handle(self, *args: Any, **options: Any) -> None:
        connection = connections[options["database"]]
        if options["database"] == DEFAULT_DB_ALIAS:
            _make_the_file(connection)
        if unknown := unknown_migrations(connection):
            raise CommandError(f"{NEWER.title}: it has had {', '.join(unknown)}. {NEWER.sentence}")
        if is_empty(connection) and not any(options[name] for name in _NOT_ALL):
            loader = MigrationLoader(connection)
            if not loader.detect_conflicts():
                make_tables(connection, loader, loader.project_state(), loader.graph.nodes)
        super().handle(*args, **options)
        if options["database"] == DEFAULT_DB_ALIAS and not options["plan"] and _is_complete():
            mark_all_doubts()
            begun.note_begun()


def _make_the_file(connection: BaseDatabaseWrapper) -> None:
    """Make the file of a new studio's database: here alone, and never in place of one that was lost."""
    if begun.is_lost():
        raise CommandError(f"{begun.LOST.title}. {begun.LOST.sentence}")
    file = data_folder.database_file(connection.settings_dict["NAME"])
    if file is not None and not file.exists():
        file.touch(mode=data_folder.FILE)


def _is_complete() -> bool:
    """Say whether every table is as the models have it: asked earlier, they could not be read."""
    executor = MigrationExecutor(connections[DEFAULT_DB_ALIAS])
    return not executor.migration_plan(executor.loader.graph.leaf_nodes())
