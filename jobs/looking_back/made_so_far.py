"""What was made well of a finish so far, and which lines of an estimate go beyond it."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from django.db.models import Count, Max

from jobs.estimating.estimate import Estimate
from jobs.estimating.take_off import GLASS_KG_PER_M2_MM
from jobs.looking_back.going_bigger import MadeSoFar
from jobs.models import OrderLine, PaneResult, WorkTicket
from jobs.work.ticketing import plan_of
from recipes.models import Finish, RecipeVersion, Trial
from studio.house.models import House
from studio.kit.units import show_size


def made_so_far(finish: Finish, version: RecipeVersion | None = None) -> MadeSoFar:
    """Return the most that was made well of a finish, or of one of its versions alone. A fixed number of queries."""
    of: dict[str, Any] = {"recipe_version": version} if version else {"recipe_version__finish": finish}
    good = PaneResult.objects.filter(good=True, **of)
    largest = good.order_by("-area_m2").first()
    per_run = good.order_by().values("run").annotate(panes=Count("pk")).aggregate(most=Max("panes"))["most"]
    thickness = {
        (job, line): thick for job, line, thick in OrderLine.objects.filter(
            order__job__tickets__run__pane_results__in=good
        ).values_list("order__job__pk", "number", "glass__thickness_mm").distinct()
    }
    heaviest = Fraction(0)
    for pane in good.select_related("run__ticket"):
        thick = thickness.get((pane.run.ticket.job_id, pane.line_number))
        heaviest = max(heaviest, Fraction(pane.area_m2) * Fraction(thick or 0) * GLASS_KG_PER_M2_MM)
    trials = Trial.objects.filter(verdict=Trial.Verdict.LIKED, **of)
    tried = max((Fraction(trial.width_mm) * Fraction(trial.height_mm) / 1_000_000 for trial in trials),
                default=Fraction(0))
    tickets = WorkTicket.objects.filter(run__pane_results__in=good).distinct()
    mixes = [mix.volume_ml for ticket in tickets for mix in plan_of(ticket).mixes if mix.mixed_for != "job"]
    return MadeSoFar(
        largest_mix_ml=max(mixes, default=Fraction(0)),
        largest_m2=Fraction(largest.area_m2) if largest else Fraction(0), most_panes=per_run or 0,
        largest_size=show_size(Fraction(largest.width_mm), Fraction(largest.height_mm), House.unit_preference())
        if largest else "",
        heaviest_kg=heaviest, largest_trial_m2=tried,
    )


def beyond_what_was_made(estimate: Estimate) -> list[dict[str, Any]]:
    """Return the lines of an estimate that go beyond what their finish was ever made at, for a link to that page."""
    found = []
    for size in estimate.sizes:
        recipe = estimate.basis.recipes[size.line.recipe]
        if size.area_m2 > recipe.largest_good_m2 or size.line.quantity > recipe.most_good_in_a_run:
            code, _, number = recipe.key.rpartition("/")
            found.append({"finish": recipe.finish, "code": code, "number": int(number), "line": size.line,
                          "glass": size.line.glass, "panes": size.line.quantity,
                          "size": show_size(size.line.width_mm, size.line.height_mm).replace("×", "x")})
    return found
