"""What a solution version passes before it is used: checked, given a place on the shelf, frozen."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from recipes.chemistry.mixing import walk_solutions
from recipes.facts import Shelf
from recipes.models import Solution, SolutionVersion, VersionDoubt
from recipes.reading import shelf_for
from recipes.solutions.hazards import own_classification
from recipes.solutions.rules import NeverStored, check_may_be_stored, findings, is_never_stored
from studio.house.clock import house_zone, today
from studio.house.models import HouseRates
from studio.kit.errors import DaybookError
from studio.stockroom.models import Lot, Material


class SolutionRefused(DaybookError):
    """A solution that breaks a rule of its own."""


def freeze_solutions(solution_version_ids: Iterable[int], at: datetime) -> None:
    """Freeze solution versions and all that is nested in them, the innermost first."""
    shelf = shelf_for(solution_version_ids, today())
    for key in reversed(walk_solutions(list(shelf.solutions), shelf)):
        code, number = key.rsplit("/", 1)
        SolutionVersion.objects.filter(solution__code=code, number=number, frozen_at=None).update(frozen_at=at)


def check_solution_version(version: SolutionVersion) -> None:
    """Refuse a solution version that breaks a rule: cycles, never stored, keeping, endangering pairs, its own hazards.

    Raises NeverStored, SolutionRefused or StatementRefused.
    """
    own_classification(version.own_hazard_statements)
    shelf = shelf_for([version.pk], today())
    facts = shelf.solutions[version.key]
    stops = [finding for finding in findings(facts, shelf) if finding.stops]
    owns_a_place = version.solution.material_id is not None
    if facts.keeps or owns_a_place:
        check_may_be_stored(facts, shelf)
    rates = HouseRates.objects.first()
    if rates is not None and version.minimum_batch_ml > rates.largest_vessel_ml:
        raise SolutionRefused(
            f"{version.solution.name}: its smallest batch is more than the largest vessel holds.", "minimum_batch_ml"
        )
    if stops:
        raise SolutionRefused(" ".join(finding.sentence for finding in stops))


def check_working_time(version: SolutionVersion) -> None:
    """Refuse ammoniacal silver that would work longer than it may stand in the studio. Raises SolutionRefused.

    Asked when it is written: where the limit is lowered later, an estimate shares no longer than that.
    """
    shelf = shelf_for([version.pk], today())
    works, limit = version.working_minutes, shelf.ammoniacal_limit_minutes
    if works is not None and works > limit and is_never_stored(version.key, shelf):
        raise SolutionRefused(
            f"{version.solution.name} is ammoniacal silver: it works for {limit} minutes at most, the studio's limit.",
            "working_minutes",
        )


def check_as_read(version: SolutionVersion) -> None:
    """Refuse a solution version in a book that breaks a rule, unless it is marked in doubt for that.

    What truth about a material brings is let in where it is marked; lots of it that are not held, the audit finds.
    """
    if not VersionDoubt.objects.filter(solution_version=version).exists():
        return check_solution_version(version)
    shelf = shelf_for([version.pk], today())
    stops = [found for found in findings(shelf.solutions[version.key], shelf) if found.stops and not found.by_truth]
    if stops:
        raise SolutionRefused(" ".join(found.sentence for found in stops))
    return None


def stops_by_truth(version: SolutionVersion, shelf: Shelf) -> list[str]:
    """Return what stands against a solution version that truth about a material may have brought, in sentences."""
    stops = [found.sentence for found in findings(shelf.solutions[version.key], shelf)
             if found.stops and found.by_truth]
    if version.solution.material_id is not None and version.keeps_minutes is None and is_never_stored(
            version.key, shelf):
        stops.append(str(NeverStored(version.solution.name)))
    return stops


def give_place_on_shelf(solution: Solution, material: Material) -> None:
    """Let a keeping solution have lots. Raises NeverStored for one that holds a silver salt and ammonia."""
    for version in solution.versions.all():
        shelf = shelf_for([version.pk], today())
        check_may_be_stored(shelf.solutions[version.key], shelf)
        if version.keeps_minutes is None:
            raise SolutionRefused(f"{solution.name} is used at once: it has no place on the shelf.")
    Solution.objects.filter(pk=solution.pk).update(material=material)


def solutions_with(material: Material) -> set[int]:
    """Return the ids of solution versions that hold a material, at any depth."""
    above = set(SolutionVersion.objects.filter(ingredients__material=material).values_list("pk", flat=True))
    grown = True
    while grown:
        more = set(SolutionVersion.objects.filter(ingredients__nested__in=above).values_list("pk", flat=True)) - above
        above |= more
        grown = bool(more)
    return above


def solution_keys_with(material: Material) -> set[str]:
    """Return the keys, code and number, of solution versions that hold a material, at any depth."""
    rows = SolutionVersion.objects.filter(pk__in=solutions_with(material)).select_related("solution")
    return {row.key for row in rows}


def _standing(lot: Lot) -> str:
    """Say of a lot that is ammoniacal silver how long it has stood."""
    clock = lot.silver_clocks.filter(made_safe=None).first()
    if clock is None:
        return ""
    since = clock.started_at.astimezone(house_zone())
    return f", and its clock has run since {since:%d %b %H:%M}: make it safe by the written procedure, then discard it"


def solutions_touched_by(material: Material) -> list[str]:
    """Return in sentences which solutions that hold a material, at any depth, break a rule, and their lots on hand."""
    sentences = []
    for version in SolutionVersion.objects.filter(pk__in=solutions_with(material)).select_related("solution"):
        try:
            check_solution_version(version)
        except DaybookError as refusal:
            sentences.append(f"{version} is touched: {refusal}")
            lots = Lot.objects.filter(made__solution_version=version, level__on_hand__gt=0).select_related("material")
            sentences += [
                f"{lot} was mixed of {version}: it is held{_standing(lot)}." if lot.is_held
                else f"{lot} was mixed of {version}: look at it before it is used." for lot in lots
            ]
    return sentences


def bottles_touched_by(material: Material) -> list[str]:
    """Return in sentences what a material that is ammoniacal silver by itself touches: every lot of it on hand."""
    if not material.is_ammoniacal_silver:
        return []
    lots = Lot.objects.filter(material=material, level__on_hand__gt=0).select_related("material")
    return [
        f"{material} is ammoniacal silver by itself: none of it is received or kept.",
        *(f"{lot} is held{_standing(lot)}." for lot in lots),
    ]
