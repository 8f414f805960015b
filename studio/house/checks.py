"""What `manage.py check` finds before a person does."""

from __future__ import annotations

from typing import Any

from django.core import checks
from django.db import connections
from django.db.migrations.executor import MigrationExecutor

from studio.kit import database_rules


@checks.register(checks.Tags.database)
def rules_are_in_place(app_configs: Any = None, databases: Any = None, **_: Any) -> list[checks.CheckMessage]:
    """Report rules that the database has lost, and rates that are missing."""
    found: list[checks.CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        if "studio_person" not in connection.introspection.table_names():
            continue
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            continue  # migrate checks before it migrates; the rules are installed by it, after
        if lost := database_rules.missing(connection):
            found.append(checks.Error(
                f"The database does not keep these rules: {', '.join(lost)}.",
                hint="Run manage.py migrate: it installs them.", id="studio.E001",
            ))
        found += _rates(alias)
    return found


def _rates(alias: str) -> list[checks.CheckMessage]:
    from studio.house.models import HouseRates, Person

    if Person.objects.using(alias).exists() and not HouseRates.objects.using(alias).exists():
        return [checks.Warning("The studio has no rates: nothing can be priced.", id="studio.W001")]
    return []
