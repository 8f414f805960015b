"""Where the silver goes: into the job, onto good panes, and into rinses and residue.

Formula: film mass = thickness · density · silvered area (the zone of the recipe's silver steps); rest = into the job,
with rework, − film on good panes − leftovers.
Silver in silver nitrate is 107.8682 / 169.8731 by mass (standard atomic weights);
metallic silver is 10.49 g/cm³ at 20 °C (CRC Handbook), so a film of 70 nm holds 0.734 g/m².
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.basis import Basis
from jobs.estimating.mixes import Mix
from jobs.estimating.spoilage import PanesPlanned
from jobs.estimating.take_off import TakeOff, treated_area_m2
from recipes.facts import RecipeFacts
from recipes.step_kinds import kind_of

SILVER_G_PER_CM3 = Fraction(1049, 100)


@dataclass(frozen=True, kw_only=True)
class SilverBalance:
    """Grams of silver. When the film would hold more than went in, rest_g is None: unknown."""

    into_job_g: Fraction
    with_rework_g: Fraction
    on_good_panes_g: Fraction
    kept_leftovers_g: Fraction
    rest_g: Fraction | None


def film_g_per_m2(film_nm: Fraction) -> Fraction:
    """Return the mass of a silver film: nm × 10.49 g/cm³ is (10⁻⁹ m × 10.49·10⁶ g/m³)."""
    return film_nm * SILVER_G_PER_CM3 / 1000


def silvered_m2(recipe: RecipeFacts, size: TakeOff) -> Fraction:
    """Return what is silvered of a pane: the largest zone of a recipe's silver steps; all of it where none says."""
    zones = [treated_area_m2(size, step) for step in recipe.steps if kind_of(step.kind).leaves == "silvered"]
    return max(zones, default=size.area_m2)


def _times_silvered(
    basis: Basis, recipe: str, sizes: Sequence[TakeOff], panes: Mapping[int, PanesPlanned]
) -> Fraction:
    """Return how often a recipe's started area is silvered: 1/y for lines under the rework plan, else once."""
    whole = again = Fraction(0)
    for size in sizes:
        if size.line.recipe == recipe:
            plan = panes[size.line.number]
            area = size.area_m2 * plan.panes_to_start
            whole += area
            again += area / plan.yield_share if plan.plan == "rework" else area
    return again / whole


def silver_balance(
    basis: Basis, mixes: Sequence[Mix], sizes: Sequence[TakeOff], panes: Mapping[int, PanesPlanned]
) -> SilverBalance:
    """Work out the silver of a job: in, on the ordered panes, kept, and the rest for the waste containers."""
    by_recipe: dict[str, Fraction] = {recipe: Fraction(0) for recipe in basis.recipes}
    kept = Fraction(0)
    for mix in mixes:
        grams = sum(
            (amount * basis.shelf.materials[key].silver_g_per_unit for key, amount in mix.material_amounts()),
            Fraction(0),
        )
        for recipe, share in mix.charged.items():
            by_recipe[recipe] += grams * share
        if mix.solution.keeps and mix.made_ml:
            kept += grams * mix.spare_ml / mix.made_ml
    with_rework = Fraction(0)
    for facts in basis.line_recipes():
        with_rework += by_recipe[facts.key] * _times_silvered(basis, facts.key, sizes, panes)
    film = sum(
        (film_g_per_m2(basis.recipes[size.line.recipe].film_nm) * silvered_m2(basis.recipes[size.line.recipe], size)
         * size.line.quantity
         for size in sizes if by_recipe[size.line.recipe] > 0), Fraction(0),
    )
    rest = with_rework - film - kept
    return SilverBalance(
        into_job_g=sum(by_recipe.values(), Fraction(0)), with_rework_g=with_rework, on_good_panes_g=film,
        kept_leftovers_g=kept, rest_g=rest if rest >= 0 else None,
    )
