"""Enter and change materials. What rests on a material is checked again by whoever registered a check here."""

from __future__ import annotations

from collections.abc import Callable

from django.db import transaction
from django.db.models import F

from studio.inventory.models import Material
from studio.locks import ChangedMeanwhile

#: rooms above check what they made of a material: each raises a DaybookError to refuse the change
CHECKS_AFTER_CHANGE: list[Callable[[Material], None]] = []


@transaction.atomic
def save_material(material: Material, version: int | None = None) -> Material:
    """Save a material, new or changed since a version; every registered check may refuse it, then nothing is kept.

    Raises ChangedMeanwhile, or what a check raises.
    """
    if material.pk is not None:
        moved = Material.objects.filter(pk=material.pk, version=version or 0).update(version=F("version") + 1)
        if not moved:
            raise ChangedMeanwhile(
                "Somebody else saved this material meanwhile: open it again, compare, and save from there."
            )
        material.version = (version or 0) + 1
    material.full_clean()
    material.save()
    for check in CHECKS_AFTER_CHANGE:
        check(material)
    return material
