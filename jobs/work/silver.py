"""The silver that runs took, what of it stands on the panes they passed, and what of it was kept."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from jobs.estimating.silver import film_g_per_m2
from jobs.models import KeptLeftover, PaneResult, Run
from jobs.work.bench import GOOD, BenchState, taken_from_lots, used_amounts
from recipes.models import RecipeVersion
from studio.kit.asking import among
from studio.stockroom.made_here import silver_in, what_is_in
from studio.stockroom.models import Lot, Material, StockMovement


def _silver(amounts: Iterable[tuple[Lot, Fraction]]) -> Fraction:
    """Return grams of silver in amounts of lots, those made here as well."""
    rows = list(amounts)
    inside = what_is_in([lot for lot, _ in rows])
    return sum((amount * (silver_in(lot, inside.get(lot.pk)) or 0) for lot, amount in rows), Fraction(0))


def silver_of_runs(runs: list[Run]) -> dict[str, Fraction]:
    """Return grams of silver that finished runs took, on the panes they passed, kept as leftovers, and the rest: to
    recovery.
    """
    ids = [run.pk for run in runs]
    moved = among(StockMovement.objects.select_related("lot__material"), "posting__run", ids)
    took = _silver((movement.lot, -Fraction(movement.quantity)) for movement in moved)
    on_glass = sum((
        film_g_per_m2(Fraction(pane.recipe_version.film_nm)) * Fraction(pane.area_m2)
        for pane in among(PaneResult.objects.filter(good=True).select_related("recipe_version"), "run_id", ids)
    ), Fraction(0)) if took > 0 else Fraction(0)
    leftovers = among(KeptLeftover.objects.select_related("lot__material"), "run_id", ids)
    kept = _silver((row.lot, Fraction(row.volume_ml)) for row in leftovers)
    return {"took": took, "on_glass": on_glass, "kept": kept, "rest": took - on_glass - kept}


def silver_at_the_bench(state: BenchState) -> Fraction:
    """Return grams of silver that an open run has taken so far, less what stands on the panes judged good."""
    used = used_amounts(state)
    took = sum((
        Fraction(material.silver_g_per_unit) * Fraction(used[material.code])
        for material in Material.objects.filter(code__in=used)
    ), Fraction(0))
    taken = taken_from_lots(state)
    lots = Lot.objects.filter(pk__in=taken).select_related("material")
    took += _silver((lot, Fraction(taken[lot.pk])) for lot in lots)
    if not took:
        return took
    finishes = {pane.recipe.rpartition("/")[0] for pane in state.plan.panes}
    films = {row.key: Fraction(row.film_nm) for row in RecipeVersion.objects.filter(
        finish__code__in=finishes).select_related("finish")}
    planned = {pane.label: pane for pane in state.plan.panes}
    return took - sum((
        film_g_per_m2(films.get(planned[pane.label].recipe, Fraction(0))) * planned[pane.label].area_m2
        for pane in state.panes if pane.outcome == GOOD
    ), Fraction(0))
