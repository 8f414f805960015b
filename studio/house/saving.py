"""Save the studio's settings."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from studio.house.models import House
from studio.kit.locks import check_opened, differing


@transaction.atomic
def save_house(saves: int | None, values: dict[str, Any]) -> House:
    """Save the settings. Raises ChangedMeanwhile when somebody else saved them since: nothing is saved."""
    row = House.objects.select_for_update().get()
    check_opened(row, saves, differing(row, values))
    for name, value in values.items():
        setattr(row, name, value)
    row.full_clean()
    row.save()
    return row
