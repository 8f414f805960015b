"""What `manage.py check` finds before a person does."""

from __future__ import annotations

from typing import Any

from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connections

from studio import database_rules


@register(Tags.database)
def rules_are_in_place(databases: list[str] | None = None, **_: Any) -> list[CheckMessage]:
    """Report rules that the database has lost, and rates that are missing."""
    found: list[CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        if "studio_person" not in connection.introspection.table_names():
            continue
        if lost := database_rules.missing(connection):
            found.append(Error(
                f"The database does not keep these rules: {', '.join(lost)}.",
                hint="Run manage.py migrate: it installs them.", id="studio.E001",
            ))
        found += _rates(alias)
    return found


def _rates(alias: str) -> list[CheckMessage]:
    from studio.models import HouseRates, Person

    if Person.objects.using(alias).exists() and not HouseRates.objects.using(alias).exists():
        return [Warning("The house has no rates: nothing can be priced.", id="studio.W001")]
    return []
