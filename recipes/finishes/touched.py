"""Which recipes in use are in doubt, after a material or the studio's limit was changed."""

from __future__ import annotations

from recipes.finishes.bench_rules import STANDS_TOO_LONG
from recipes.finishes.in_doubt import against_those_in_use, against_versions
from recipes.models import RecipeVersion
from recipes.solutions.putting_in_use import solutions_with
from studio.stockroom.models import Material


def recipes_past_the_limit() -> list[str]:
    """Return a sentence for every version in use in which ammoniacal silver would stand past the studio's limit."""
    return [
        f"{version} is in use and in doubt: step {stop.step}, {stop.sentence}"
        for version, found in against_those_in_use() for stop in found.stops if stop.rule == STANDS_TOO_LONG
    ]


def recipes_touched_by(material: Material) -> list[str]:
    """Return a sentence for every version in use that holds a material, at any depth, and is in doubt now."""
    holding = RecipeVersion.objects.in_use().filter(steps__parts__solution_version__in=solutions_with(material))
    return [
        f"{version} is in use and touched: {found.first}"
        for version, found in against_versions(holding.select_related("finish").distinct()) if not found.is_sound
    ]
