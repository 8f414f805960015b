"""Migrate as the framework does, but without asking first whether every rule is there: migrating installs them.

Once nothing is left to migrate, versions that break a rule of this program are marked in doubt: they were put in use
under the rules of an earlier one.
"""

from __future__ import annotations

from typing import Any

from django.core.management.commands import migrate
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.migrations.executor import MigrationExecutor

from recipes.finishes.marking import mark_all_doubts


class Command(migrate.Command):
    def get_check_kwargs(self, options: dict[str, Any]) -> Any:
        """Leave the database's own checks out: a database of an earlier program lacks the rules added since."""
        asked: Any = super().get_check_kwargs(options)
        return {**asked, "databases": []}

    def handle(self, *args: Any, **options: Any) -> None:
        super().handle(*args, **options)
        if options["database"] == DEFAULT_DB_ALIAS and not options["plan"] and _is_complete():
            mark_all_doubts()


def _is_complete() -> bool:
    """Say whether every table is as the models have it: asked earlier, they could not be read."""
    executor = MigrationExecutor(connections[DEFAULT_DB_ALIAS])
    return not executor.migration_plan(executor.loader.graph.leaf_nodes())
