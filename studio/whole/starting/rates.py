"""Save what the first day says of rates: into today's row, or one for today that starts from the newest."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from studio.house.clock import today
from studio.house.models import EdgeType, HouseRates
from studio.house.rates_words import differing_rates
from studio.house.saving import as_opened
from studio.kit.locks import check_opened

#: a count of saves that no record has: whatever was opened, it is not what stands there now
NEVER = -1


@transaction.atomic
def save_rates_of_today(values: dict[str, Any], opened_as: str | None = None) -> HouseRates:
    """Save some columns of the rates from today on, with the edges of before.

    opened_as: the mark of these columns when their form was opened (`as_opened`), or None for a program. Raises
    ChangedMeanwhile where somebody saved them since, HouseRates.DoesNotExist where the studio has none,
    ValidationError: nothing is saved.
    """
    newest = HouseRates.on(today())
    row = HouseRates.objects.select_for_update().get(pk=newest.pk)
    edges = list(row.edge_types.all())
    same = all(getattr(row, name) == value for name, value in values.items())
    untouched = same or opened_as is None or opened_as == as_opened(row, values)
    check_opened(row, None if untouched else NEVER, differing_rates(row, values))
    if row.effective_from != today():
        row.pk, row._state.adding, row.effective_from = None, True, today()
    for name, value in values.items():
        setattr(row, name, value)
    row.full_clean()
    row.save()
    if row.pk != newest.pk:
        EdgeType.objects.bulk_create([
            EdgeType(rates=row, name=edge.name, minutes_per_m=edge.minutes_per_m, grinds_off_mm=edge.grinds_off_mm)
            for edge in edges
        ])
    return row
