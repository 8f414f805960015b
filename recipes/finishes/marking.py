"""Marking versions that a truth about a material puts in doubt, and taking the mark off again.

Whether a version is sound is worked out wherever it matters; the mark only remembers that it was sound once, so that
the audit and a book's reader know a doubt from a broken rule.
"""

from __future__ import annotations

from collections.abc import Iterable

from recipes.facts import RecipeFacts, Shelf
from recipes.finishes.bench_rules import walk
from recipes.models import RecipeVersion, SolutionVersion, VersionDoubt, VersionEvent
from recipes.reading import ANY_DAY, recipe_facts, shelf_for
from recipes.solutions.putting_in_use import solutions_with
from recipes.solutions.rules import findings
from studio.house.clock import now
from studio.house.models import Person
from studio.kit.asking import among
from studio.stockroom.models import Material


def mark_doubts_about(material: Material, by: Person | None = None) -> None:
    """Mark every version that holds a material, at any depth, and is not sound by what is known of it now.

    Those that were put in use count, withdrawn ones too: their past stands in the book. by: asked of all that follows
    a saving; a mark has nobody.
    """
    holding = solutions_with(material)
    solutions = list(SolutionVersion.objects.filter(pk__in=holding).select_related("solution"))
    shelf = shelf_for([version.pk for version in solutions], ANY_DAY)
    for version in solutions:
        stops = [found for found in findings(shelf.solutions[version.key], shelf) if found.stops and found.by_truth]
        _mark(" ".join(found.sentence for found in stops), solution_version=version)
    recipes = list(RecipeVersion.objects.filter(
        events__kind=VersionEvent.Kind.IN_USE, steps__parts__solution_version__in=holding,
    ).select_related("finish").distinct())
    facts, shelf = recipe_facts([version.pk for version in recipes], ANY_DAY)
    known = _acknowledged(recipes)
    for recipe in recipes:
        _mark(_against(facts[recipe.key], shelf, known.get(recipe.pk, set())), recipe_version=recipe)


def _acknowledged(versions: Iterable[RecipeVersion]) -> dict[int, set[str]]:
    events = VersionEvent.objects.filter(kind=VersionEvent.Kind.IN_USE)
    return {event.recipe_version_id: set(event.acknowledged)
            for event in among(events, "recipe_version_id", [version.pk for version in versions])}


def _against(recipe: RecipeFacts, shelf: Shelf, acknowledged: set[str]) -> str:
    """Return what stands against a recipe: its stops, and the cautions that nobody acknowledged."""
    return " ".join(f"Step {found.step}: {found.sentence}" for found in walk(recipe, shelf)
                    if found.stops or found.rule not in acknowledged)


def _mark(why: str, **version: SolutionVersion | RecipeVersion) -> None:
    """Mark a version in doubt, since when it first was; or take the mark off where nothing stands against it."""
    if why:
        VersionDoubt.objects.update_or_create(**version, defaults={"why": why}, create_defaults={
            **version, "why": why, "since": now()})
    else:
        VersionDoubt.objects.filter(**version).delete()
