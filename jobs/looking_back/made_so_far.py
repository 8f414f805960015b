"""What was made well of a finish so far, and which lines of an estimate go beyond it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db.models import Count, Exists, Max, OuterRef, QuerySet, Subquery

from jobs.estimating.basis import LineFacts
from jobs.estimating.estimate import Estimate
from jobs.estimating.take_off import GLASS_KG_PER_M2_MM
from jobs.looking_back.going_bigger import MadeSoFar
from jobs.models import OrderLine, PaneResult, WorkTicket
from recipes.models import Finish, RecipeVersion, Trial
from studio.house.models import House
from studio.kit.typed_numbers import whole_number
from studio.kit.units import show_size


def made_so_far(finish: Finish, version: RecipeVersion | None = None) -> MadeSoFar:
    """Return the most that was made well of a finish, or of one of its versions alone. A fixed number of queries."""
    of: dict[str, Any] = {"recipe_version": version} if version else {"recipe_version__finish": finish}
    good = PaneResult.objects.filter(good=True, **of)
    largest = good.order_by("-area_m2", "pk").first()
    per_run = good.order_by().values("run").annotate(panes=Count("pk")).aggregate(most=Max("panes"))["most"]
    liked = Trial.objects.filter(verdict=Trial.Verdict.LIKED, **of).order_by()
    tried = max((Fraction(width) * Fraction(height) / 1_000_000
                 for width, height in liked.values_list("width_mm", "height_mm").distinct()), default=Fraction(0))
    mixed = WorkTicket.objects.filter(Exists(good.filter(run__ticket=OuterRef("pk")))).order_by("-largest_mix_ml")
    return MadeSoFar(
        largest_mix_ml=Fraction(mixed.values_list("largest_mix_ml", flat=True).first() or 0),
        largest_m2=Fraction(largest.area_m2) if largest else Fraction(0), most_panes=per_run or 0,
        largest_size=show_size(Fraction(largest.width_mm), Fraction(largest.height_mm), House.unit_preference())
        if largest else "",
        heaviest_kg=_heaviest(good) * GLASS_KG_PER_M2_MM, largest_trial_m2=tried,
    )


def _heaviest(good: QuerySet[PaneResult]) -> Fraction:
    """Return the most that a good pane's area times the thickness of its glass is, m² by mm. One query."""
    lines = OrderLine.objects.filter(order=OuterRef("run__ticket__job__order"), number=OuterRef("line_number"))
    of_glass = good.order_by().annotate(thick=Subquery(lines.values("glass__thickness_mm")[:1])).values_list("thick")
    return max((Fraction(area) * Fraction(thick or 0) for thick, area in of_glass.annotate(area=Max("area_m2"))),
               default=Fraction(0))


@dataclass(frozen=True, kw_only=True)
class Beyond:
    """Lines of one size, finish and glass that go beyond what the finish was ever made at; panes: of all of them.

    size: in mm, as it is asked for in an address; shown: as it is read.
    """

    finish: str
    code: str
    number: int
    glass: str
    size: str
    shown: str
    lines: list[int]
    panes: int


def beyond_what_was_made(estimate: Estimate) -> list[Beyond]:
    """Return the sizes of an estimate that go beyond what their finish was ever made at, in the order of its lines."""
    found: dict[tuple[str, str, str, Fraction, Fraction], list[LineFacts]] = {}
    for size in estimate.sizes:
        line, recipe = size.line, estimate.basis.recipes[size.line.recipe]
        if size.area_m2 > recipe.largest_good_m2 or line.quantity > recipe.most_good_in_a_run:
            found.setdefault((line.recipe, line.glass, line.shape, line.width_mm, line.height_mm), []).append(line)
    preference = House.unit_preference() if found else "metric"
    return [_beyond(estimate, lines, preference) for lines in found.values()]


def _beyond(estimate: Estimate, lines: list[LineFacts], preference: str) -> Beyond:
    first = lines[0]
    recipe = estimate.basis.recipes[first.recipe]
    code, _, number = recipe.key.rpartition("/")
    return Beyond(
        finish=recipe.finish, code=code, number=whole_number(number), glass=first.glass,
        size=show_size(first.width_mm, first.height_mm).replace("×", "x"),
        shown=show_size(first.width_mm, first.height_mm, preference, round_=first.shape == "circle"),
        lines=[line.number for line in lines],
        panes=sum(line.quantity for line in lines),
    )
