"""Every table of some migrations made at once in an empty database: for a new studio, a scratch place, a test.

One after another they make and remake the same tables, and the framework draws its models anew at every step: that is
most of a minute, for what comes to the same: tests compare the two ways. A migration that writes rows finds none to
change in an empty database; one that would put the first rows there would never do so in a new studio.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.migrations.state import ProjectState

Node = tuple[str, str]


def is_empty(connection: BaseDatabaseWrapper) -> bool:
    return not connection.introspection.table_names()


def make_tables(
    connection: BaseDatabaseWrapper, loader: MigrationLoader, state: ProjectState, nodes: Collection[Node],
) -> None:
    """Make the tables of a state, and note the migrations that lead to it as done: all of it or nothing.

    state: what the migrations of `nodes`, all that lead to it, make of an empty database.
    """
    recorder: Any = MigrationRecorder(connection)
    models: list[Any] = [model for model in state.apps.get_models() if model._meta.app_label in loader.migrated_apps]
    with connection.schema_editor() as editor:
        for model in (recorder.Migration, *models):
            if model._meta.managed and not model._meta.proxy:
                editor.create_model(model)
        done = (loader.disk_migrations[node] for node in nodes if node in loader.disk_migrations)
        stood_for = {old for migration in done for old in migration.replaces}
        recorder.migration_qs.bulk_create(
            recorder.Migration(app=app, name=name) for app, name in sorted({*nodes, *stood_for}))
