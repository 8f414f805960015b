"""Storage places: found by the name a material gives, made when a new name is typed, and said what they are for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db import transaction

from studio.kit.asking import fetched
from studio.kit.locks import check_opened, differing
from studio.stockroom.made_here import classes_on_shelf
from studio.stockroom.models import Material, StoragePlace, WasteContainer
from studio.stockroom.storage import GENERAL, Place, Stored


def places() -> dict[str, Place]:
    """Return every place that was entered, by its name without capitals. One query."""
    return {row.name.casefold(): row.facts for row in StoragePlace.objects.all()}


def place_named(name: str, known: Mapping[str, Place]) -> Place:
    """Return the place of a name; one that nobody entered is a general place."""
    return known.get(name.casefold(), Place(name=name))


def as_stored(materials: Iterable[Material], known: Mapping[str, Place] | None = None) -> list[Stored]:
    """Return materials as what stands in places, with the types of those; a solution as all that its lots here hold.

    known: asked for where it is not given.
    """
    known, materials = places() if known is None else known, list(materials)
    classes = classes_on_shelf(materials)
    return [
        Stored(name=material.name, place=material.storage_place, agents=classes[material.pk],
               type=place.type, is_dark=place.is_dark)
        for material in materials for place in [place_named(material.storage_place, known)]
    ]


def containers_standing(known: Mapping[str, Place] | None = None) -> list[Stored]:
    """Return the waste containers that are not handed over as what stands in places, each with all that it holds.

    Pouring into one is never refused for what stands beside it: a rinse must go somewhere. It is said on the pages and
    by the audit; only moving a container there is refused.
    """
    known = places() if known is None else known
    return [standing_as(row, known) for row in fetched(WasteContainer.objects.filter(handed_on=None), "entries")]


def standing_as(row: WasteContainer, known: Mapping[str, Place]) -> Stored:
    """Return a waste container as what stands in its place."""
    place, agents = place_named(row.place, known), {agent for entry in row.entries.all() for agent in entry.reacts_as}
    return Stored(name=f"Container {row.name}", place=row.place, agents=frozenset(agents), type=place.type,
                  is_waste=True)


def row_named(name: str) -> StoragePlace | None:
    """Return the row of a place by its name, capitals or not."""
    return next((row for row in StoragePlace.objects.all() if row.name.casefold() == name.casefold()), None)


def make_place(name: str, kind: str = GENERAL, *, is_dark: bool = False) -> None:
    """Enter a place of a type unless one of that name stands. No name is no place."""
    if name.strip() and row_named(name) is None:
        StoragePlace.objects.create(name=name, type=kind, is_dark=is_dark)


@transaction.atomic
def save_place(place: StoragePlace, saves: int | None = None) -> StoragePlace:
    """Save what a place is for. It is the truth and never refused: what must not stand there is said.

    saves: how often it had been saved when the form was opened; None for a program. Raises ChangedMeanwhile.
    """
    if place.pk is not None:
        row = StoragePlace.objects.select_for_update().get(pk=place.pk)
        wanted = {name: getattr(place, name) for name in ("name", "type", "is_cold", "is_dark")}
        check_opened(row, saves, differing(row, wanted))
        place.saves = row.saves
    place.full_clean()
    place.save()
    return place
