"""The silver account in grams: bought, on the shelf, on good glass, in containers, sent away, unaccounted."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.db.models import Count, Exists, OuterRef, Sum

from jobs.estimating.silver import film_g_per_m2
from jobs.models import PaneResult, Run
from studio.stockroom.models import Lot, StockMovement, WasteContainer


@dataclass(frozen=True, kw_only=True)
class SilverAccount:
    """Silver in grams. unaccounted is what the rest does not explain: drains, losses, films thinner or thicker."""

    bought: Fraction
    returned_to_suppliers: Fraction
    on_shelf: Fraction
    on_good_glass: Fraction
    in_containers: Fraction
    handed_over: Fraction
    came_back: Fraction
    corrected: Fraction

    @property
    def used(self) -> Fraction:
        """What left the shelf for the bench: runs, trials, discards and make-ups, less what counts put right."""
        return self.bought - self.returned_to_suppliers + self.corrected - self.on_shelf

    @property
    def unaccounted(self) -> Fraction:
        return self.used - self.on_good_glass - self.in_containers - self.handed_over


def silver_account() -> SilverAccount:
    """Return the account over everything so far. Five queries."""
    moved: dict[str, Fraction] = {}
    rows = StockMovement.objects.filter(lot__material__silver_g_per_unit__gt=0, lot__made_here=False).order_by()
    for kind, silver, total in rows.values_list("kind", "lot__material__silver_g_per_unit").annotate(
        total=Sum("quantity")
    ):
        moved[kind] = moved.get(kind, Fraction(0)) + Fraction(silver) * Fraction(total)
    on_shelf = sum((
        Fraction(silver) * Fraction(on_hand) for silver, on_hand in Lot.objects.filter(
            material__silver_g_per_unit__gt=0, made_here=False, level__on_hand__gt=0
        ).values_list("material__silver_g_per_unit", "level__on_hand")
    ), Fraction(0))
    with_silver = Run.objects.filter(Exists(StockMovement.objects.filter(
        posting=OuterRef("posting"), lot__material__silver_g_per_unit__gt=0)))
    glass = PaneResult.objects.filter(good=True, run__in=with_silver.order_by().values("pk")).order_by()
    on_glass = sum((
        film_g_per_m2(Fraction(film)) * Fraction(area) * panes
        for film, area, panes in glass.values_list("recipe_version__film_nm", "area_m2").annotate(panes=Count("pk"))
    ), Fraction(0))
    held = {True: Fraction(0), False: Fraction(0)}
    for handed_on, grams in WasteContainer.objects.values_list("handed_on", "entries__silver_g"):
        held[handed_on is not None] += Fraction(grams or Decimal(0))
    back = WasteContainer.objects.aggregate(total=Sum("returned_silver_g"))["total"]
    kinds = StockMovement.Kind
    return SilverAccount(
        bought=moved.get(kinds.RECEIPT, Fraction(0)), returned_to_suppliers=-moved.get(kinds.RETURN, Fraction(0)),
        on_shelf=on_shelf, on_good_glass=on_glass, in_containers=held[False], handed_over=held[True],
        came_back=Fraction(back or 0), corrected=moved.get(kinds.COUNT, Fraction(0)),
    )
