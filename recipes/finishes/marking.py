"""Marking versions that are in doubt, and taking the mark off again: wherever the truth about them may have changed.

A mark says what `in_doubt` works out, for the audit and for whoever reads a book: a known doubt, and no broken rule.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db import transaction
from django.db.models import QuerySet

from recipes.finishes.in_doubt import against_versions
from recipes.models import RecipeVersion, SolutionVersion, VersionDoubt, VersionEvent
from recipes.reading import ANY_DAY, shelf_for
from recipes.solutions.putting_in_use import solutions_with, stops_by_truth
from studio.house.clock import now
from studio.house.models import Person
from studio.kit.asking import among, chunks
from studio.stockroom.models import Material

#: rows that one question changes: each is a case in it
_AT_ONCE = 100


def mark_doubts_about(material: Material, by: Person | None = None) -> None:
    """Mark the versions that hold a material, at any depth, and are not sound by what is known of it now.

    by: asked of all that follows a saving; a mark has nobody.
    """
    holding = solutions_with(material)
    _mark_solutions(among(SolutionVersion.objects.select_related("solution"), "pk", holding))
    _mark_recipes(_ever_in_use().filter(steps__parts__solution_version__in=holding))


def mark_doubts_of_recipes() -> None:
    """Mark every recipe version that is not sound by the studio's limit and procedure as they are now."""
    _mark_recipes(_ever_in_use())


@transaction.atomic
def mark_all_doubts() -> None:
    """Mark every version that is not sound by the rules of this program. The number of queries is fixed."""
    _mark_solutions(SolutionVersion.objects.select_related("solution"))
    _mark_recipes(_ever_in_use())


def _ever_in_use() -> QuerySet[RecipeVersion]:
    """Return the versions that were put in use, withdrawn ones too: their past stands in the book."""
    return RecipeVersion.objects.filter(events__kind=VersionEvent.Kind.IN_USE)


def _mark_solutions(versions: Iterable[SolutionVersion]) -> None:
    rows = list(versions)
    shelf = shelf_for([version.pk for version in rows], ANY_DAY)
    marks = {}
    for version in rows:
        why = " ".join(stops_by_truth(version, shelf))
        marks[version.pk] = VersionDoubt(solution_version=version, why=why) if why else None
    _keep(marks, "solution_version")


def _mark_recipes(versions: QuerySet[RecipeVersion]) -> None:
    found = against_versions(versions.select_related("finish").distinct())
    known: dict[int, list[str]] = {}
    for event in among(VersionEvent.objects.filter(kind=VersionEvent.Kind.IN_USE), "recipe_version_id",
                       [version.pk for version, _ in found]):
        known.setdefault(event.recipe_version_id, []).extend(event.acknowledged)
    marks = {}
    for version, stands in found:
        acknowledged = known.get(version.pk, [])
        rules = stands.rules(acknowledged)
        marks[version.pk] = VersionDoubt(
            recipe_version=version, why=stands.why(acknowledged), rules=rules, stops=not stands.is_sound,
        ) if rules else None
    _keep(marks, "recipe_version")


def _keep(marks: Mapping[int, VersionDoubt | None], of: str) -> None:
    """Keep a mark for each version that has one, since when it first was, and take the others off."""
    kept = {getattr(row, f"{of}_id"): row for row in among(VersionDoubt.objects.all(), f"{of}_id", marks)}
    new, changed = [], []
    for version_id, mark in marks.items():
        row = kept.get(version_id)
        if mark is None:
            continue
        if row is None:
            mark.since = now()
            new.append(mark)
        elif (row.why, row.rules, row.stops) != (mark.why, mark.rules, mark.stops):
            if mark.stops and not row.stops:
                row.since = now()  # so far there were cautions only
            row.why, row.rules, row.stops = mark.why, mark.rules, mark.stops
            changed.append(row)
    VersionDoubt.objects.bulk_create(new, batch_size=_AT_ONCE)
    VersionDoubt.objects.bulk_update(changed, ["why", "rules", "stops", "since"], batch_size=_AT_ONCE)
    for part in chunks(row.pk for version_id, row in kept.items() if marks[version_id] is None):
        VersionDoubt.objects.filter(pk__in=part).delete()
