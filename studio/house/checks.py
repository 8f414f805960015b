"""What `manage.py check` finds before a person does."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core import checks
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor

from studio.kit import data_folder, database_rules
from studio.kit.database_version import unknown_migrations
from studio.kit.trouble import NEWER


@checks.register(checks.Tags.database)
def rules_are_in_place(app_configs: Any = None, databases: Any = None, **_: Any) -> list[checks.CheckMessage]:
    """Report rules that the database has lost, and rates that are missing."""
    found: list[checks.CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        found += _newer(connection)
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


def _newer(connection: BaseDatabaseWrapper) -> list[checks.CheckMessage]:
    unknown = unknown_migrations(connection)
    if not unknown:
        return []
    return [checks.Error(f"{NEWER.title}: it has had {', '.join(unknown)}.", hint=NEWER.sentence, id="studio.E002")]


@checks.register(checks.Tags.security)
def data_folder_is_private(app_configs: Any = None, **_: Any) -> list[checks.CheckMessage]:
    """Report what in the data folder others may open, since it belongs to somebody else and cannot be shut by us."""
    wider = data_folder.open_to_others(Path(settings.DATA))
    if not wider:
        return []
    return [checks.Error(
        f"Others than its owner may open {wider[0]}"
        f"{f' and {len(wider) - 1} more' if wider[1:] else ''} in the data folder.",
        hint="Make it belong to the user that runs this program: it shuts it then by itself.", id="studio.E003",
    )]


def _rates(alias: str) -> list[checks.CheckMessage]:
    from studio.house.models import HouseRates, Person

    if Person.objects.using(alias).exists() and not HouseRates.objects.using(alias).exists():
        return [checks.Warning("The studio has no rates: nothing can be priced.", id="studio.W001")]
    return []
