"""What the swatch book shows: the owner's choices, saved as a whole."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.db import transaction
from django.db.models import F

from jobs.models import SwatchBook
from recipes.models import Finish
from studio.kit.locks import check_opened


@transaction.atomic
def save_swatch_book(*, saves: int | None, finishes: Collection[Finish], **values: Any) -> SwatchBook:
    """Save the swatch book's choices and which finishes are in it.

    saves: what the form was opened with. Raises ChangedMeanwhile: nothing is saved.
    """
    row = SwatchBook.objects.select_for_update().get(id=1)
    check_opened(row, saves, _reads(row))
    for name, value in values.items():
        setattr(row, name, value)
    row.full_clean()
    row.save()
    chosen = [finish.pk for finish in finishes]
    inside, outside = (Finish.objects.filter(in_swatch_book=told) for told in (True, False))
    inside.exclude(pk__in=chosen).update(in_swatch_book=False, saves=F("saves") + 1)
    outside.filter(pk__in=chosen).update(in_swatch_book=True, saves=F("saves") + 1)
    return row


def _reads(row: SwatchBook) -> str:
    inside = Finish.objects.filter(in_swatch_book=True).values_list("name", flat=True)
    return (f"“{row.foreword}”, panes {row.small_size_text} and {row.large_size_text}, {row.glass or 'no glass'}, "
            f"{row.edge or 'no edge'}, {'with' if row.shows_prices else 'without'} prices, "
            f"finishes: {', '.join(inside) or 'none'}")
