"""What is on the shelf: lots as the picker sees them, amounts on hand, promised and free."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Sum

from studio.house.clock import house_zone, now
from studio.stockroom.models import Lot, Material, ReservedAmount
from studio.stockroom.picking import LotOnShelf


def lots_on_shelf(material_ids: Iterable[int]) -> dict[int, list[LotOnShelf]]:
    """Return every lot that holds something, by material id. One query."""
    shelf: dict[int, list[LotOnShelf]] = defaultdict(list)
    lots = Lot.objects.filter(material_id__in=list(material_ids), level__on_hand__gt=0)
    for lot in lots.select_related("material", "level"):
        shelf[lot.material_id].append(as_on_shelf(lot))
    return shelf


def as_on_shelf(lot: Lot, at: datetime | None = None) -> LotOnShelf:
    """Return a lot as the picker sees it at a moment; now, where none is given."""
    return LotOnShelf(
        lot_id=lot.pk, lot_number=lot.lot_number, on_hand=lot.level.on_hand, expires_on=lot.expires_on,
        opened_on=lot.opened_on, received_on=lot.received_on, held=lot.state == Lot.State.HELD,
        hold_reason=lot.hold_reason, seen_at=at or now(),
        discard_at=None if lot.discard_at is None else lot.discard_at.astimezone(house_zone()),
    )


@dataclass(frozen=True, kw_only=True)
class Shortage:
    """A material of which not enough is free. Amounts in its stock unit."""

    material: Material
    needed: Decimal
    usable: Decimal
    promised: Decimal
    promised_to: tuple[str, ...]

    @property
    def free(self) -> Decimal:
        return max(self.usable - self.promised, Decimal(0))

    @property
    def short(self) -> Decimal:
        return self.needed - self.free


def promised_amounts(
    material_ids: Iterable[int], own_reservation: int | None = None
) -> dict[int, list[tuple[str, Decimal]]]:
    """Return to whom how much of each material is promised. own_reservation: one that does not count (a job's own)."""
    promised: dict[int, list[tuple[str, Decimal]]] = defaultdict(list)
    rows = ReservedAmount.objects.filter(material_id__in=list(material_ids), reservation__released_at=None)
    if own_reservation is not None:
        rows = rows.exclude(reservation_id=own_reservation)
    for row in rows.select_related("reservation").order_by("reservation_id"):
        promised[row.material_id].append((row.reservation.what_for, row.quantity))
    return promised


def shortages(needed: dict[int, Decimal], day: date, own_reservation: int | None = None) -> list[Shortage]:
    """Return what is short of the needed amounts by material id: usable on the day, less what is promised to others."""
    shelf, promised = lots_on_shelf(needed), promised_amounts(needed, own_reservation)
    short = []
    for material in Material.objects.filter(pk__in=needed):
        usable = sum((lot.on_hand for lot in shelf[material.pk] if lot.usable_on(day)), Decimal(0))
        promises = promised[material.pk]
        shortage = Shortage(
            material=material, needed=needed[material.pk], usable=usable,
            promised=sum((amount for _, amount in promises), Decimal(0)),
            promised_to=tuple(who for who, _ in promises),
        )
        if shortage.short > 0:
            short.append(shortage)
    return short


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How a material stands: on hand (all lots), usable today, promised and free."""

    material: Material
    on_hand: Decimal
    usable: Decimal
    promised: Decimal

    @property
    def free(self) -> Decimal:
        return self.usable - self.promised

    @property
    def wants_buying(self) -> bool:
        """Say whether more is promised than usable, or the reorder point is passed."""
        return self.is_short or self.below_reorder_point

    @property
    def below_reorder_point(self) -> bool:
        return self.material.reorder_point is not None and self.free < self.material.reorder_point

    @property
    def is_short(self) -> bool:
        """Say whether more is promised than is usable."""
        return self.free < 0


def standings(day: date) -> list[Standing]:
    """Return how every material stands. Three queries, whatever the number of rows."""
    materials = list(Material.objects.all())
    shelf = lots_on_shelf(material.pk for material in materials)
    promised = dict(
        ReservedAmount.objects.filter(reservation__released_at=None).values_list("material").order_by("material")
        .annotate(total=Sum("quantity"))
    )
    return [
        Standing(
            material=material,
            on_hand=sum((lot.on_hand for lot in shelf[material.pk]), Decimal(0)),
            usable=sum((lot.on_hand for lot in shelf[material.pk] if lot.usable_on(day)), Decimal(0)),
            promised=promised.get(material.pk, Decimal(0)),
        )
        for material in materials
    ]
