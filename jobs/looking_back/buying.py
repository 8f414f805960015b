"""The buying list: what booked and quoted jobs, reorder points and expiries need, by when, in whole packs."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db.models import OuterRef, Subquery

from jobs.models import Job, Quote, Run
from jobs.models.quotes import frozen_of
from jobs.quotes.frozen_plan import stock_of
from jobs.work.quote_states import counted as counted_of
from studio.kit.asking import among
from studio.stockroom.costing import unit_costs
from studio.stockroom.models import Lot, Material, Purchase, Reservation, ReservedAmount
from studio.stockroom.shelf import lots_on_shelf

SOON = timedelta(days=30)


@dataclass(kw_only=True)
class ToBuy:
    """One material to buy. Amounts in its stock unit; buy is in whole packs where a pack size is known."""

    material: Material
    usable: Decimal
    promised: Decimal = Decimal(0)
    quoted: Decimal = Decimal(0)
    expiring: Decimal = Decimal(0)
    awaited: Decimal = Decimal(0)
    by_when: date | None = None
    why: list[str] = field(default_factory=list)
    supplier: str = ""
    unit_cost: Decimal | None = None

    @property
    def short(self) -> Decimal:
        """Return what is missing for booked jobs and the reorder point, what expires soon not counted on."""
        floor = self.material.reorder_point or Decimal(0)
        return self.promised + floor - (self.usable - self.expiring) - self.awaited

    @property
    def buy(self) -> Decimal:
        missing = max(self.short, self.short + self.quoted) if self.quoted else self.short
        if missing <= 0:
            return Decimal(0)
        pack = self.material.pack_size
        if not pack:
            return missing
        return pack * Decimal((Fraction(missing) / Fraction(pack)).__ceil__())

    @property
    def packs(self) -> int | None:
        return int(self.buy / self.material.pack_size) if self.material.pack_size else None

    @property
    def cost(self) -> Decimal | None:
        return None if self.unit_cost is None else self.buy * self.unit_cost


def buying_list(day: date) -> list[ToBuy]:
    """Return what is to be bought, the most pressing first. Fixed queries; open quotes by their frozen plans."""
    materials = {material.pk: material for material in Material.objects.exclude(kind=Material.Kind.SOLUTION)}
    shelf = lots_on_shelf(materials)
    rows = {
        pk: ToBuy(
            material=material,
            usable=sum((lot.on_hand for lot in shelf[pk] if lot.usable_on(day)), Decimal(0)),
            expiring=sum((lot.on_hand for lot in shelf[pk] if lot.usable_on(day) and lot.expires_on is not None
                          and lot.expires_on <= day + SOON), Decimal(0)),
        )
        for pk, material in materials.items()
    }
    _booked(rows)
    _quoted(rows, day)
    for purchase in Purchase.objects.filter(lot=None, cancelled_because="", material__in=materials):
        rows[purchase.material_id].awaited += purchase.quantity
    _last_bought(rows, day)
    for row in rows.values():
        if row.expiring:
            row.why.append("expires within 30 days")
        if row.material.reorder_point is not None and row.usable - row.promised < row.material.reorder_point:
            row.why.append("below its reorder point")
    found = [row for row in rows.values() if row.buy > 0]
    return sorted(found, key=lambda row: (row.by_when or date.max, row.material.name))


def _booked(rows: dict[int, ToBuy]) -> None:
    still = Reservation.objects.filter(released_at=None).order_by().values("pk")
    due = dict(Job.objects.filter(reservation__in=still).order_by().values_list("reservation_id", "due_on"))
    further = Run.objects.filter(reservation__in=still).order_by()
    due |= dict(further.values_list("reservation_id", "ticket__job__due_on"))
    amounts = ReservedAmount.objects.filter(reservation__released_at=None)
    for material, reservation, what_for, quantity in amounts.values_list(
        "material_id", "reservation_id", "reservation__what_for", "quantity",
    ):
        row, due_on = rows.get(material), due.get(reservation)
        if row is None:
            continue
        row.promised += quantity
        row.why.append(what_for)
        if due_on is not None:
            row.by_when = min(row.by_when or due_on, due_on)


def _quoted(rows: dict[int, ToBuy], day: date) -> None:
    """Add what quotes that are open on a day would take, one of each order; what lapsed by then takes nothing."""
    codes = {row.material.code: row for row in rows.values()}
    of_order: dict[int, list[Quote]] = defaultdict(list)
    open_now = Job.objects.waiting().to_see(day).order_by().values("order")
    for quote in Quote.objects.filter(order__in=open_now).defer(*frozen_of()).order_by("number", "revision"):
        of_order[quote.order_id].append(quote)
    counted = filter(None, (counted_of(quotes, day) for quotes in of_order.values()))
    plans = Quote.objects.defer("basis", "figures", "wording", "choices")
    for quote in among(plans, "pk", [one.pk for one in counted]):
        for code, amount in stock_of(quote.plan).items():
            if code in codes:
                codes[code].quoted += amount


def _last_bought(rows: dict[int, ToBuy], day: date) -> None:
    suppliers: dict[int, str] = defaultdict(str)
    lots = Lot.objects.filter(material=OuterRef("pk"), made_here=False).exclude(supplier="")
    last = Subquery(lots.order_by("-received_on", "-pk").values("supplier")[:1])
    for material, supplier in Material.objects.filter(pk__in=list(rows)).order_by().annotate(
            last=last).exclude(last=None).values_list("pk", "last"):
        suppliers[material] = supplier
    costs = unit_costs([row.material for row in rows.values()], day)
    for pk, row in rows.items():
        row.supplier = suppliers[pk]
        row.unit_cost = costs[pk].unit_cost if pk in costs else None
