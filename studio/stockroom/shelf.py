"""What is on the shelf: lots as the picker sees them, amounts on hand, promised and free."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import QuerySet, Sum

from studio.house.clock import house_zone, now
from studio.stockroom.models import Lot, Material, ReservedAmount
from studio.stockroom.picking import LotOnShelf


def lots_on_shelf(material_ids: Iterable[int]) -> dict[int, list[LotOnShelf]]:
    """Return every lot that holds something, by material id. Two queries."""
    by_id = Material.objects.only("shelf_life_days", "opened_life_days").in_bulk(list(material_ids))
    return _by_material(_there(Lot.objects.filter(material_id__in=by_id), by_id))


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
    wanted = set(material_ids)
    still = ReservedAmount.objects.filter(reservation__released_at=None).order_by("reservation_id", "pk")
    for pk, who, material, quantity in still.values_list(
        "reservation_id", "reservation__what_for", "material_id", "quantity",
    ):
        if pk != own_reservation and material in wanted:
            promised[material].append((who, quantity))
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


@dataclass(frozen=True, kw_only=True)
class OnShelf:
    """All materials, and the lots that hold something in the order of their ids: read once for a page that asks much.
    """

    materials: Sequence[Material]
    lots: Sequence[Lot]


def on_shelf() -> OnShelf:
    """Read the shelf. Two queries."""
    materials = list(Material.objects.all())
    return OnShelf(materials=materials, lots=sorted(lots_there(materials), key=lambda lot: lot.pk))


def lots_there(materials: Iterable[Material]) -> list[Lot]:
    """Return every lot that holds something, in the order of the lots, each with its level and the material as given.

    materials: all of them; each is read once, however many lots of it there are. One query.
    """
    by_id = {material.pk: material for material in materials}
    return _there(Lot.objects.all(), by_id)


def _there(rows: QuerySet[Lot], by_id: Mapping[int, Material]) -> list[Lot]:
    """Return lots that hold something, each with its level; none of a material that came since they were read."""
    there = rows.filter(level__on_hand__gt=0).select_related("level")
    lots = [lot for lot in there if lot.material_id in by_id]
    for lot in lots:
        lot.material = by_id[lot.material_id]
    return lots


def _by_material(lots: Iterable[Lot]) -> dict[int, list[LotOnShelf]]:
    shelf: dict[int, list[LotOnShelf]] = defaultdict(list)
    for lot in lots:
        shelf[lot.material_id].append(as_on_shelf(lot))
    return shelf


def standings(day: date) -> list[Standing]:
    """Return how every material stands. Three queries, whatever the number of rows."""
    materials = list(Material.objects.all())
    return standings_of(materials, lots_there(materials), day)


def standings_of(materials: Sequence[Material], lots: Iterable[Lot], day: date) -> list[Standing]:
    """Return how materials stand. lots: those that hold something, as `lots_there` has them. One query."""
    shelf = _by_material(lots)
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
