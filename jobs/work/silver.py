"""The silver that finished runs took, and what of it stands on the panes they passed."""

from __future__ import annotations

from fractions import Fraction

from jobs.estimating.silver import film_g_per_m2
from jobs.models import PaneResult, Run
from studio.kit.asking import among
from studio.stockroom.models import StockMovement


def silver_of_runs(runs: list[Run]) -> dict[str, Fraction]:
    """Return grams of silver that finished runs took, on the panes they passed, and the rest: to recovery."""
    took = Fraction(0)
    ids = [run.pk for run in runs]
    for moved in among(StockMovement.objects.select_related("lot__material"), "posting__run", ids):
        took -= Fraction(moved.quantity) * Fraction(moved.lot.material.silver_g_per_unit)
    on_glass = sum((
        film_g_per_m2(Fraction(pane.recipe_version.film_nm)) * Fraction(pane.area_m2)
        for pane in among(PaneResult.objects.filter(good=True).select_related("recipe_version"), "run_id", ids)
    ), Fraction(0)) if took > 0 else Fraction(0)
    return {"took": took, "on_glass": on_glass, "rest": took - on_glass}
