"""Which recipes in use a material touches: those that a stop now stands against, after how it reacts was entered."""

from __future__ import annotations

from recipes.finishes.bench_rules import STANDS_TOO_LONG, first_stop, walk
from recipes.models import RecipeVersion
from recipes.reading import ANY_DAY, recipe_facts
from recipes.solutions.putting_in_use import solutions_with
from studio.stockroom.models import Material


def recipes_past_the_limit() -> list[str]:
    """Return a sentence for every version in use in which ammoniacal silver would stand past the studio's limit."""
    versions = {row.key: row for row in RecipeVersion.objects.in_use().select_related("finish").distinct()}
    recipes, shelf = recipe_facts([row.pk for row in versions.values()], ANY_DAY)
    return [
        f"{versions[key]} is in use and in doubt: step {found.step}, {found.sentence}"
        for key, facts in recipes.items() for found in walk(facts, shelf) if found.rule == STANDS_TOO_LONG
    ]


def recipes_touched_by(material: Material) -> list[str]:
    """Return a sentence for every version in use that holds a material, at any depth, and breaks a bench rule."""
    holding = RecipeVersion.objects.in_use().filter(steps__parts__solution_version__in=solutions_with(material))
    versions = {version.key: version for version in holding.select_related("finish").distinct()}
    recipes, shelf = recipe_facts([version.pk for version in versions.values()], ANY_DAY)
    return [
        f"{versions[key]} is in use and touched: step {stop.step}, {stop.sentence}"
        for key, facts in recipes.items() if (stop := first_stop(facts, shelf)) is not None
    ]
