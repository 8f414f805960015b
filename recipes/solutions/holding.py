"""Lots of a solution that must not be kept, once the truth about a material in it is entered: held, and kept held."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import uuid4

from recipes.facts import Shelf, SolutionFacts
from recipes.models import SolutionVersion
from recipes.reading import shelf_for
from recipes.solutions.putting_in_use import solutions_with
from recipes.solutions.rules import findings, is_never_stored
from studio.house.clock import today
from studio.house.models import Person
from studio.stockroom.hazards.pairs import UNKNOWN
from studio.stockroom.lots.keeping import hold_lot
from studio.stockroom.models import Lot, Material

AMMONIACAL = (
    "It holds ammoniacal silver after all: never kept. Make it safe by the written procedure, then discard it; do not "
    "touch what has dried."
)


def why_not_kept(facts: SolutionFacts, shelf: Shelf) -> str:
    """Return why what is mixed of a solution must not be kept; nothing where it may. What is merely unread is not held.
    """
    if is_never_stored(facts.key, shelf):
        return AMMONIACAL
    stops = [found for found in findings(facts, shelf) if found.pair and found.pair != UNKNOWN.name and found.stops]
    return stops[0].sentence[:200] if stops else ""


def reasons_not_kept(versions: Iterable[SolutionVersion]) -> dict[int, str]:
    """Return why, by the id of each version whose lots must not be kept."""
    versions = list(versions)
    shelf = shelf_for([version.pk for version in versions], today())
    found = {version.pk: why_not_kept(shelf.solutions[version.key], shelf) for version in versions}
    return {pk: why for pk, why in found.items() if why}


def hold_lots_touched_by(material: Material, by: Person | None) -> None:
    """Hold the lots on hand of every solution that a material, at any depth, makes one that must not be kept.

    by: who entered it; where a program did, the first owner.
    """
    versions = SolutionVersion.objects.filter(pk__in=solutions_with(material)).select_related("solution")
    reasons = reasons_not_kept(versions)
    lots = Lot.objects.filter(
        made__solution_version__in=reasons, level__on_hand__gt=0, state=Lot.State.USABLE,
    ).select_related("made")
    who = by or Person.objects.filter(role=Person.Role.OWNER).order_by("pk").first()
    for lot in lots:
        why = reasons[lot.made.solution_version_id]
        if who is None:
            Lot.objects.filter(pk=lot.pk).update(state=Lot.State.HELD, hold_reason=why)
        else:
            hold_lot(key=uuid4(), lot=lot, by=who, why=why)


def why_stays_held(lot: Lot) -> str:
    """Return why a held lot is not released: what it was mixed of must not be kept."""
    made = getattr(lot, "made", None)
    if made is None:
        return ""
    return next(iter(reasons_not_kept([made.solution_version]).values()), "")


def kept_against_the_rules() -> list[tuple[Lot, str]]:
    """Return every lot on hand that is not held, though what it was mixed of must not be kept, for the audit."""
    lots = list(Lot.objects.filter(made__isnull=False, level__on_hand__gt=0, state=Lot.State.USABLE).select_related(
        "material", "made__solution_version__solution"))
    reasons = reasons_not_kept({lot.made.solution_version for lot in lots})
    return [(lot, reasons[lot.made.solution_version_id]) for lot in lots if lot.made.solution_version_id in reasons]
