"""Enter and change materials. Rooms above say here what a change touches of what they made of a material."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from django.db import transaction
from django.db.models import QuerySet

from studio.house.clock import now
from studio.house.models import Person
from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened, differing
from studio.stockroom.hazards.classes import REACTS_AS, fewest, with_implied
from studio.stockroom.models import ClassesTakenAway, Lot, Material
from studio.stockroom.places import as_stored, containers_standing, make_place
from studio.stockroom.storage import Stored, StoredTogether, WrongPlace, stored_together, wrong_place

#: rooms above say what they made of a material that breaks a rule as it is now, in sentences
TOUCHED_BY: list[Callable[[Material], list[str]]] = []

#: rooms above do what must follow at once when a material is saved, with who saved it, in the same transaction
AFTER_SAVING: list[Callable[[Material, Person | None], None]] = []

#: as above, only where a save changed what a material reacts as
AFTER_RECLASSING: list[Callable[[Material, Person | None], None]] = []


#: rooms above say, in sentences, what would become permitted if a material reacted only as some classes
LOOSENED_BY: list[Callable[[Material, frozenset[str]], list[str]]] = []


class WhyTakenAway(DaybookError):
    """A class that an owner takes away from a material in use, and no reason."""

    def __init__(self, material: Material, lost: frozenset[str], loosened: list[str]) -> None:
        names = ", ".join(sorted(REACTS_AS[code] for code in fewest(lost)))
        permits = f" Then {'; '.join(loosened)}." if loosened else ""
        super().__init__(f"{material} is in use, and would no longer react as {names}.{permits} If the bottle does not "
                         "hold it, say why.", "why_taken_away")


class DeadlyTogether(DaybookError):
    """Materials in one storage place that must not meet."""


def stored_now() -> QuerySet[Material]:
    """Return the materials of which something is on the shelf."""
    return Material.objects.filter(pk__in=Lot.objects.filter(level__on_hand__gt=0).order_by().values("material"))


def stored_materials() -> list[Stored]:
    """Return every material on the shelf with its place and what it reacts as."""
    return as_stored(stored_now())


def storage_findings(things: Iterable[Stored]) -> list[StoredTogether | WrongPlace]:
    """Return what must not share a place, what stops first, then what stands in a place that does not suit it."""
    things = list(things)
    return [*stored_together(things), *(wrong for thing in things for wrong in wrong_place(thing))]


def storage_conflicts(*materials: Material) -> list[StoredTogether | WrongPlace]:
    """Return what must not share the place of some materials, in it already or about to be, and what it does not suit.
    """
    new = {stored.name: stored for stored in as_stored(row for row in materials if row.pk is not None)}
    others = [stored for stored in stored_materials() if stored.name not in new]
    findings = storage_findings([*others, *containers_standing(), *new.values()])
    return [finding for finding in findings if finding.touches(new)]


def check_place(material: Material) -> None:
    """Refuse what has just been put on the shelf where it must not stand. Raises DeadlyTogether.

    Whatever brings stock in asks this, once its rows say all that is in it.
    """
    if not material.storage_place:
        return
    deadly = [conflict for conflict in storage_conflicts(material) if conflict.stops]
    if deadly:
        raise DeadlyTogether(f"{deadly[0].sentence} Give one of them another storage place first.")


def touched_by(material: Material) -> list[str]:
    """Return in sentences what a material touches that breaks a rule as it is now: solutions, versions in use, lots."""
    return [sentence for room in TOUCHED_BY for sentence in room(material)]


def _take_away(row: Material, material: Material, why: str, by: Person | None) -> None:
    """Note the classes that an owner takes away from a material in use, with the reason. Raises WhyTakenAway.

    What its identity told stays, as added, in the save that empties it: it takes another save and a reason to lose it.
    """
    told = with_implied(row.told.classes)
    lost = with_implied(row.known_classes) - told - with_implied(material.known_classes)
    if not lost or not row.is_in_use:
        return
    if not why.strip():
        after = with_implied(row.known_classes) - lost
        raise WhyTakenAway(row, lost, [said for room in LOOSENED_BY for said in room(row, after)])
    ClassesTakenAway.objects.create(
        material=row, at_save=material.saves, classes=sorted(lost), why=why.strip(), at=now(), by=by,
    )
    material.taken_away = lost


@transaction.atomic
def save_material(
    material: Material, saves: int | None = None, by: Person | None = None, *, why_taken_away: str = "",
) -> Material:
    """Save a material, new or changed. How it reacts is the truth and never refused; `touched_by` says what it touches.

    What was made of it and must not be kept is held at once. In use, it keeps what its identity told; what its owner
    takes away of its classes is noted with why. saves: how often it had been saved when the form was opened; by: who
    saves it; None for a program. Raises ChangedMeanwhile, WhyTakenAway, or DeadlyTogether for a place that it is about
    to be moved to.
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
        _take_away(row, material, why_taken_away, by)
        material.keep_its_classes()
    if not material.silver_g_per_unit:
        material.silver_g_per_unit = material.silver_worked_out
    if material.hazard_statements:
        material.no_statements = False
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


def kept_as_added(material: Material, kept: Iterable[str]) -> str:
    """Return in a sentence which classes a material keeps, though what told them is gone."""
    names = ", ".join(sorted(REACTS_AS[code] for code in fewest(kept)))
    return (f"{material} is in use: it still reacts as {names}, now as added by its owner. If the bottle does not hold "
            "it, untick it and say why.")


@transaction.atomic
def take_published(material: Material, saves: int | None, by: Person) -> str:
    """Enter the published statements, pictograms, signal word and usual precautions of what a material's number names.

    Only where nobody has entered any; returns the name of the entry. Raises DaybookError.
    """
    published = material.published_hazards
    if published is None:
        raise DaybookError(f"Nothing published is left to enter for {material}.")
    material.hazard_statements, material.precautions = list(published.statements), list(published.precautions)
    material.pictograms, material.signal_word = list(published.pictograms), published.signal_word
    save_material(material, saves, by)
    return published.name
