"""Enter and change materials. Rooms above say here what a change touches of what they made of a material."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from django.db import transaction

from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened, differing
from studio.stockroom.made_here import classes_on_shelf
from studio.stockroom.models import Material
from studio.stockroom.storage import Stored, StoredTogether, stored_together

#: rooms above say what they made of a material that breaks a rule as it is now, in sentences
TOUCHED_BY: list[Callable[[Material], list[str]]] = []


class DeadlyTogether(DaybookError):
    """Materials in one storage place that would be deadly if they met."""


def stored_materials() -> list[Stored]:
    """Return every material on the shelf with its place and what it reacts as."""
    return stored_of(Material.objects.filter(lots__level__on_hand__gt=0).distinct())


def stored_of(materials: Iterable[Material]) -> list[Stored]:
    """Return materials with their places and what they react as; a solution as all that its lots here hold."""
    rows = list(materials)
    classes = classes_on_shelf(rows)
    return [Stored(name=row.name, place=row.storage_place, agents=classes[row.pk]) for row in rows]


def storage_conflicts(*materials: Material) -> list[StoredTogether]:
    """Return what must not share the place of some materials, whether they are in it already or about to be."""
    new = {stored.name: stored for stored in stored_of(row for row in materials if row.pk is not None)}
    others = [stored for stored in stored_materials() if stored.name not in new]
    return [conflict for conflict in stored_together([*others, *new.values()]) if conflict.touches(new)]


def touched_by(material: Material) -> list[str]:
    """Return in sentences what a material touches that breaks a rule as it is now: solutions, versions in use, lots."""
    return [sentence for room in TOUCHED_BY for sentence in room(material)]


@transaction.atomic
def save_material(material: Material, saves: int | None = None) -> Material:
    """Save a material, new or changed. How it reacts is the truth and never refused; `touched_by` says what it touches.

    saves: how often it had been saved when the form was opened; None for a program. Raises ChangedMeanwhile, or
    DeadlyTogether for a place that it is about to be moved to.
    """
    place = None
    if material.pk is not None:
        row = Material.objects.select_for_update().get(pk=material.pk)
        columns = [field.name for field in Material._meta.concrete_fields if field.name != "saves"]
        check_opened(row, saves, differing(row, {name: getattr(material, name) for name in columns}))
        material.saves, place = row.saves, row.storage_place
        if row.is_received != material.is_received and row.lots.exists():
            raise DaybookError(f"{row} has lots: whether they are made here or delivered does not change.", "kind")
    if material.known_classes:  # what it is goes before what somebody read
        material.none_apply = False
    material.full_clean()
    material.save()
    if place is None or place.casefold() != material.storage_place.casefold():
        deadly = [conflict for conflict in storage_conflicts(material) if conflict.stops]
        if deadly:
            raise DeadlyTogether(deadly[0].sentence, "storage_place")
    return material
