"""What a material costs for estimating: the last received lot's unit cost with carriage, else its list price."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import OuterRef, Subquery

from studio.stockroom.models import Lot, Material
from studio.stockroom.undone_receipts import but_undone


@dataclass(frozen=True, kw_only=True)
class KnownCost:
    """Money per stock unit, where it comes from and from when."""

    unit_cost: Decimal
    source: str
    on: date | None


def unit_costs(materials: Iterable[Material], as_of: date) -> dict[int, KnownCost]:
    """Return what each material costs per stock unit on a day, by material id; unpriced ones are left out.

    The last received lot counts whatever its state, unless its receipt was reversed in
    full (ties: the one entered later); lots mixed here never set a unit cost. One query, which reads a lot a material.
    """
    materials = list(materials)
    lots = Lot.objects.filter(material=OuterRef("pk"), made_here=False, received_on__lte=as_of)
    last = but_undone(lots).order_by("-received_on", "-pk").values("pk")[:1]
    mine = Material.objects.filter(pk__in=[material.pk for material in materials]).order_by()
    costs = {
        material.pk: KnownCost(unit_cost=material.list_price, source="list price", on=None)
        for material in materials if material.list_price is not None
    }
    for lot in Lot.objects.filter(pk__in=mine.annotate(last=Subquery(last)).values("last")).order_by():
        costs[lot.material_id] = KnownCost(
            unit_cost=lot.unit_cost, source=f"lot {lot.lot_number}", on=lot.received_on
        )
    return costs
