"""Enter and change materials. Rooms above register checks here: what is made of a material is checked again."""

from __future__ import annotations

from collections.abc import Callable

from django.db import transaction

from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened, differing
from studio.stockroom.models import Material
from studio.stockroom.storage import Stored, StoredTogether, stored_together

#: rooms above check what they made of a material: each raises a DaybookError to refuse the change
CHECKS_AFTER_CHANGE: list[Callable[[Material], None]] = []


class DeadlyTogether(DaybookError):
    """Materials in one storage place that would be deadly if they met."""


def stored_materials() -> list[Stored]:
    """Return every material on the shelf with its place and what it reacts as."""
    rows = Material.objects.filter(lots__level__on_hand__gt=0).distinct()
    return [_stored(material) for material in rows]


def _stored(material: Material) -> Stored:
    return Stored(name=material.name, place=material.storage_place, agents=frozenset(material.reacts_as))


def storage_conflicts(*materials: Material) -> list[StoredTogether]:
    """Return what must not share the place of some materials, whether they are in it already or about to be."""
    new = {material.name: _stored(material) for material in materials if material.pk is not None}
    others = [stored for stored in stored_materials() if stored.name not in new]
    return [conflict for conflict in stored_together([*others, *new.values()]) if conflict.touches(new)]


@transaction.atomic
def save_material(material: Material, saves: int | None = None) -> Material:
    """Save a material, new or changed; every registered check may refuse it, then nothing is saved.

    saves: how often it had been saved when the form was opened; None for a program. Raises ChangedMeanwhile, or what
    a check raises.
    """
    if material.pk is not None:
        row = Material.objects.select_for_update().get(pk=material.pk)
        columns = [field.name for field in Material._meta.concrete_fields if field.name != "saves"]
        check_opened(row, saves, differing(row, {name: getattr(material, name) for name in columns}))
        material.saves = row.saves
    material.full_clean()
    material.save()
    deadly = [conflict for conflict in storage_conflicts(material) if conflict.stops]
    if deadly:
        raise DeadlyTogether(deadly[0].sentence, "storage_place")
    for check in CHECKS_AFTER_CHANGE:
        check(material)
    return material
