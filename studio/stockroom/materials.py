"""Enter and change materials. What rests on a material is checked again by whoever registered a check here."""

from __future__ import annotations

from collections.abc import Callable

from django.db import transaction
from django.db.models import F

from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile
from studio.stockroom.models import Material
from studio.stockroom.storage import Stored, StoredTogether, stored_together

#: rooms above check what they made of a material: each raises a DaybookError to refuse the change
CHECKS_AFTER_CHANGE: list[Callable[[Material], None]] = []


class StoodTogether(DaybookError):
    """Materials that would kill if they met, in one storage place."""


def standing() -> list[Stored]:
    """Return what stands on the shelf, as storage looks at it."""
    rows = Material.objects.filter(lots__level__on_hand__gt=0).distinct()
    return [Stored(name=one.name, place=one.storage_place, agents=frozenset(one.reacts_as)) for one in rows]


def beside(*coming: Material) -> list[StoredTogether]:
    """Return what must not stand beside materials that stand, or are about to stand, in their own place."""
    new = {one.name: Stored(name=one.name, place=one.storage_place, agents=frozenset(one.reacts_as))
           for one in coming if one.pk is not None}
    others = [one for one in standing() if one.name not in new]
    return [one for one in stored_together([*others, *new.values()]) if one.touches(new)]


@transaction.atomic
def save_material(material: Material, saves: int | None = None) -> Material:
    """Save a material, new or changed since a saves; every registered check may refuse it, then nothing is kept.

    Raises ChangedMeanwhile, or what a check raises.
    """
    if material.pk is not None:
        moved = Material.objects.filter(pk=material.pk, saves=saves or 0).update(saves=F("saves") + 1)
        if not moved:
            raise ChangedMeanwhile(
                "Somebody else saved this material meanwhile: open it again, compare, and save from there."
            )
        material.saves = (saves or 0) + 1
    material.full_clean()
    material.save()
    deadly = [one for one in beside(material) if one.stops]
    if deadly:
        raise StoodTogether(deadly[0].sentence, "storage_place")
    for check in CHECKS_AFTER_CHANGE:
        check(material)
    return material
