"""What a material costs for estimating: the last received lot's unit cost with carriage, else its list price."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Exists, OuterRef

from studio.stockroom.models import Lot, Material, StockMovement


@dataclass(frozen=True, kw_only=True)
class KnownCost:
    """Money per stock unit, where it comes from and from when."""

    unit_cost: Decimal
    source: str
    on: date | None


def unit_costs(materials: Iterable[Material], as_of: date) -> dict[int, KnownCost]:
    """Return what each material costs per stock unit on a day, by material id; unpriced ones are left out.

    The last received lot counts whatever its state, unless its receipt was reversed in
    full (ties: the one entered later); lots mixed here never set a unit cost.
    """
    materials = list(materials)
    reversed_receipt = StockMovement.objects.filter(
        lot=OuterRef("pk"), kind=StockMovement.Kind.RECEIPT, reverses__isnull=False
    )
    lots = Lot.objects.filter(material__in=materials, made_here=False, received_on__lte=as_of)
    newest = lots.exclude(Exists(reversed_receipt)).order_by("received_on", "pk")
    costs = {
        material.pk: KnownCost(unit_cost=material.list_price, source="list price", on=None)
        for material in materials if material.list_price is not None
    }
    for lot in newest:  # later lots overwrite earlier ones
        costs[lot.material_id] = KnownCost(
            unit_cost=lot.unit_cost, source=f"lot {lot.lot_number}", on=lot.received_on
        )
    return costs
