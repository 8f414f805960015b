"""Enter and change materials. Rooms above say here what a change touches of what they made of a material."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from django.db import transaction

from studio.house.models import Person
from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened, differing
from studio.stockroom.models import Material
from studio.stockroom.places import as_stored, make_place
from studio.stockroom.storage import Stored, StoredTogether, WrongPlace, stored_together, wrong_place

#: rooms above say what they made of a material that breaks a rule as it is now, in sentences
TOUCHED_BY: list[Callable[[Material], list[str]]] = []

#: rooms above do what must follow at once when a material is saved, with who saved it, in the same transaction
AFTER_SAVING: list[Callable[[Material, Person | None], None]] = []

#: as above, only where a save changed what a material reacts as
AFTER_RECLASSING: list[Callable[[Material, Person | None], None]] = []


class DeadlyTogether(DaybookError):
    """Materials in one storage place that must not meet."""


def stored_materials() -> list[Stored]:
    """Return every material on the shelf with its place and what it reacts as."""
    return as_stored(Material.objects.filter(lots__level__on_hand__gt=0).distinct())


def storage_findings(things: Iterable[Stored]) -> list[StoredTogether | WrongPlace]:
    """Return what must not share a place, what stops first, then what stands in a place that does not suit it."""
    things = list(things)
    return [*stored_together(things), *(wrong for thing in things for wrong in wrong_place(thing))]


def storage_conflicts(*materials: Material) -> list[StoredTogether | WrongPlace]:
    """Return what must not share the place of some materials, in it already or about to be, and what it does not suit.
    """
    new = {stored.name: stored for stored in as_stored(row for row in materials if row.pk is not None)}
    others = [stored for stored in stored_materials() if stored.name not in new]
    return [finding for finding in storage_findings([*others, *new.values()]) if finding.touches(new)]


def touched_by(material: Material) -> list[str]:
    """Return in sentences what a material touches that breaks a rule as it is now: solutions, versions in use, lots."""
    return [sentence for room in TOUCHED_BY for sentence in room(material)]


@transaction.atomic
def save_material(material: Material, saves: int | None = None, by: Person | None = None) -> Material:
    """Save a material, new or changed. How it reacts is the truth and never refused; `touched_by` says what it touches.

    What was made of it and must not be kept is held at once. saves: how often it had been saved when the form was
    opened; by: who saves it; None for a program. Raises ChangedMeanwhile, or DeadlyTogether for a place that it is
    about to be moved to.
    """
    place, reclassed = None, False
    if material.pk is not None:
        row = Material.objects.select_for_update().get(pk=material.pk)
        columns = [field.name for field in Material._meta.concrete_fields if field.name not in ("saves", "classes")]
        check_opened(row, saves, differing(row, {name: getattr(material, name) for name in columns}))
        material.saves, place = row.saves, row.storage_place
        reclassed = row.known_classes != material.known_classes
        if row.is_received != material.is_received and row.lots.exists():
            raise DaybookError(f"{row} has lots: whether they are made here or delivered does not change.", "kind")
    if material.known_classes:  # what it is goes before what somebody read
        material.none_apply = False
    material.full_clean()
    material.save()
    if place is None or place.casefold() != material.storage_place.casefold():
        make_place(material.storage_place)
        deadly = [conflict for conflict in storage_conflicts(material) if conflict.stops]
        if deadly:
            raise DeadlyTogether(deadly[0].sentence, "storage_place")
    for follow in [*AFTER_SAVING, *(AFTER_RECLASSING if reclassed else ())]:
        follow(material, by)
    return material
