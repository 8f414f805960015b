"""Versions in doubt: put in use as sound, against which a stop stands by what is known today.

Nothing new is quoted, booked or printed from them until they are sound again; what stands already is recorded and
finished.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Q

from recipes.facts import RecipeFacts, Shelf
from recipes.finishes.bench_rules import first_stop
from recipes.finishes.putting_in_use import check_by_the_house
from recipes.models import RecipeVersion
from recipes.reading import ANY_DAY, recipe_facts
from studio.house.models import House
from studio.kit.errors import DaybookError


class InDoubt(DaybookError):
    """A version in use that is not sound by what is known today."""

    def __init__(self, sentences: Iterable[str]) -> None:
        super().__init__(f"{' '.join(sentences)} Until it is sound again nothing new is made of it; what is open is "
                         "recorded and finished.")


def doubt_of(recipe: RecipeFacts, shelf: Shelf, house: House | None = None) -> str:
    """Return what stands against a recipe, in a sentence that names it; nothing where it is sound.

    It is the first stop, or what the studio's own settings refuse. house: these, where somebody read them already.
    """
    in_doubt = f"{recipe.finish}, version {recipe.version_number}, is in doubt:"
    stop = first_stop(recipe, shelf)
    if stop is not None:
        return f"{in_doubt} step {stop.step}, {stop.sentence}"
    try:
        check_by_the_house(recipe, shelf, house)
    except DaybookError as refusal:
        return f"{in_doubt} {refusal}"
    return ""


def refuse_doubts(recipes: Iterable[RecipeFacts], shelf: Shelf) -> None:
    """Refuse recipes that are not sound, as they are read today. Raises InDoubt."""
    house = House.objects.first()
    doubts = [doubt for recipe in recipes if (doubt := doubt_of(recipe, shelf, house))]
    if doubts:
        raise InDoubt(doubts)


def doubts_of(keys: Iterable[str]) -> dict[str, str]:
    """Return the doubts about recipe versions named by key, by what is known today."""
    named = Q()
    for key in set(keys):
        code, _, number = key.rpartition("/")
        named |= Q(finish__code=code, number=int(number))
    if not named:
        return {}
    recipes, shelf = recipe_facts(RecipeVersion.objects.filter(named).values_list("pk", flat=True), ANY_DAY)
    house = House.objects.first()
    return {key: doubt for key, recipe in recipes.items() if (doubt := doubt_of(recipe, shelf, house))}


def check_sound(keys: Iterable[str]) -> None:
    """Refuse recipe versions, named by key, that are not sound by what is known today. Raises InDoubt."""
    doubts = doubts_of(keys)
    if doubts:
        raise InDoubt(doubts.values())


def versions_in_doubt() -> list[tuple[RecipeVersion, str]]:
    """Return every version in use that is not sound today, with why. The number of queries is fixed."""
    versions = {row.key: row for row in RecipeVersion.objects.in_use().select_related("finish").distinct()}
    recipes, shelf = recipe_facts([row.pk for row in versions.values()], ANY_DAY)
    house = House.objects.first()
    return [(versions[key], doubt) for key, recipe in recipes.items() if (doubt := doubt_of(recipe, shelf, house))]
