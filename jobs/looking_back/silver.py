"""A silver balance as it is read."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from jobs.estimating.estimate import Estimate
from jobs.estimating.silver import film_g_per_m2


def silver_figures(estimate: Estimate, area_m2: Fraction) -> dict[str, Any]:
    """Return a silver balance as it is read: the grams, the share that stays on the glass, grams offered per m²."""
    silver = estimate.silver
    into = silver.with_rework_g
    films = {recipe.film_nm for recipe in estimate.basis.line_recipes()}
    return {
        "silver": silver, "efficiency": silver.on_good_panes_g / into if into else None,
        "offered": into / area_m2 if area_m2 else None, "films": [(nm, film_g_per_m2(nm)) for nm in sorted(films)],
    }
