"""Receive a delivery: many lines at once, carriage shared over them to the smallest unit of money.

A line is read with its row and columns; what is wrong is listed with row, column and reason, and nothing is
saved until every line is right.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cache
from uuid import UUID, uuid5

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Count

from studio.exact import MONEY_DECIMALS, STOCK_DECIMALS, exactly
from studio.house.models import HouseRates, Person
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal, places, share_out
from studio.kit.typed_money import NoMoney, read_money
from studio.kit.typed_numbers import whole_number
from studio.kit.units import NotUnderstood, stock_amount
from studio.stockroom.ledger import LedgerError, receive, why_not_numbered, why_not_received
from studio.stockroom.models import Delivery, Material, Purchase
from studio.stockroom.tables import table_rows

COLUMNS = ("material", "lot", "amount", "price", "expires", "opened", "note")
#: the heads that a table may have, and the column that each means
HEADS = {
    "material": "material", "item": "material", "name": "material", "lot": "lot", "lot number": "lot", "batch": "lot",
    "amount": "amount", "quantity": "amount", "packs": "amount", "size": "amount", "price": "price", "cost": "price",
    "expires": "expires", "expiry": "expires", "use by": "expires", "opened": "opened", "note": "note",
}
_PACKS = re.compile(r"\s*(\d{1,4})\s*[x×*]\s*(.+)", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class WrongCell:
    """A cell that is wrong: its row as pasted, counted from 1, its column, and why."""

    row: int
    column: str
    why: str


@dataclass(frozen=True, kw_only=True)
class DeliveryLine:
    """A line that was understood: amount in the material's stock unit, price without carriage."""

    row: int
    material: Material
    lot_number: str
    amount: Decimal
    price: Decimal
    expires_on: date | None = None


def label_amount(text: str, material: Material) -> Decimal:
    """Read an amount as on the label: “500 g”, “1 US gal”, “12 x 32 US fl oz”, in the material's stock unit.

    Raises NotUnderstood.
    """
    found = _PACKS.fullmatch(text)
    packs, each = (whole_number(found[1]), found[2]) if found else (1, text)
    density = exactly(material.density_g_per_ml)
    amount = as_decimal(packs * stock_amount(each, material.stock_unit, density), STOCK_DECIMALS)
    if amount <= 0:
        raise NotUnderstood("Give an amount above nothing.")
    return amount


def read_table(text: str) -> tuple[list[DeliveryLine], list[WrongCell]]:
    """Read a pasted table or CSV. Without a head its columns are material, lot, amount, price, expires."""
    rows = table_rows(text)
    if not rows:
        return [], [WrongCell(row=1, column="", why="There are no lines yet.")]
    head, first = _head(rows[0])
    materials, currency = known_materials(), cache(_currency)
    lines, wrong = [], []
    for number, cells in enumerate(rows[first:], start=first + 1):
        if not any(cells):
            continue
        line, found = _line(number, dict(zip(head, cells, strict=False)), materials, currency)
        wrong += found
        if line is not None and not found:
            lines.append(line)
    wrong += _twice(lines)
    return lines, sorted(wrong, key=lambda cell: cell.row)


def _head(row: Sequence[str]) -> tuple[list[str], int]:
    named = [HEADS.get(cell.casefold(), "") for cell in row]
    if sum(bool(name) for name in named) >= 2:
        return named, 1
    return list(COLUMNS[:5]), 0


def _currency() -> str:
    return HouseRates.objects.values_list("currency", flat=True).first() or ""


def known_materials() -> dict[str, Material]:
    """Return every material by its name in small letters, and by its code."""
    known: dict[str, Material] = {}
    for material in Material.objects.all():
        known |= {material.name.casefold(): material, material.code: material}
    return known


def _line(
    row: int, cells: Mapping[str, str], materials: Mapping[str, Material], currency: Callable[[], str]
) -> tuple[DeliveryLine | None, list[WrongCell]]:
    wrong: list[WrongCell] = []

    def refuse(column: str, why: str) -> None:
        wrong.append(WrongCell(row=row, column=column, why=why))

    name = cells.get("material", "")
    material = materials.get(name.casefold())
    if material is None:
        refuse("material", f"There is no material “{name}”: add it first, or write its name as in the stockroom."
               if name else "Name the material.")
    elif refused := why_not_received(material):
        refuse("material", refused)
    if not cells.get("lot"):
        refuse("lot", "Give the lot number from the label.")
    elif taken := why_not_numbered(cells["lot"]):
        refuse("lot", taken)
    amount, price, expires = Decimal(0), Decimal(0), None
    if material is not None:
        try:
            amount = label_amount(cells.get("amount", ""), material)
        except DaybookError as refusal:
            refuse("amount", str(refusal))
    try:
        price = _price(cells.get("price", ""), currency)
    except DaybookError as refusal:
        refuse("price", str(refusal))
    if cells.get("expires"):
        try:
            expires = date.fromisoformat(cells["expires"])
        except ValueError:
            refuse("expires", f"“{cells['expires']}” is not a date: write it as 2027-03-31.")
    if wrong or material is None:
        return None, wrong
    return DeliveryLine(row=row, material=material, lot_number=cells["lot"], amount=amount, price=price,
                        expires_on=expires), []


def _price(text: str, currency: Callable[[], str]) -> Decimal:
    """Read a price as people write it: “£24.00”, “1,176.00”. Raises NoMoney."""
    if not text:
        raise NoMoney("Give the price of the whole line, net.")
    price = read_money(text, currency)
    if price < 0:
        raise NoMoney("A price is not below nothing.")
    return as_decimal(Fraction(price), MONEY_DECIMALS)


def _twice(lines: Sequence[DeliveryLine]) -> list[WrongCell]:
    seen: dict[str, int] = {}
    wrong = []
    for line in lines:
        key = line.lot_number.casefold()
        if key in seen:
            wrong.append(WrongCell(row=line.row, column="lot", why=f"The same lot is in row {seen[key]}: one number "
                                   "names one lot."))
        seen.setdefault(key, line.row)
    return wrong


def mass_g(line: DeliveryLine) -> Fraction:
    """Return what a line weighs. Raises LedgerError where its mass is not known."""
    material, amount = line.material, Fraction(line.amount)
    if material.stock_unit == Material.StockUnit.GRAM:
        return amount
    if material.stock_unit == Material.StockUnit.MILLILITRE and material.density_g_per_ml:
        return amount * Fraction(material.density_g_per_ml)
    if material.kind == Material.Kind.GLASS:
        area = Fraction(material.sheet_width_mm or 0) * Fraction(material.sheet_height_mm or 0) / 1_000_000
        return amount * area * Fraction(material.thickness_mm or 0) * 2500  # EN 572-1: 2.5 kg per m² and mm
    raise LedgerError(f"{material.name} has no mass: give it a density, or share the carriage by value.", "share_by")


def costs_with_carriage(
    lines: Sequence[DeliveryLine], carriage: Decimal, share_by: str, minor_digits: int = 2
) -> list[Decimal]:
    """Return each line's price with its share of the carriage, summing to the penny.

    Raises LedgerError, also for a carriage finer than the currency's minor unit, which no share could hold.
    """
    if (Fraction(carriage) / places(minor_digits)).denominator != 1:
        raise LedgerError(f"Carriage of {carriage}: the currency has {minor_digits} decimals.", "carriage")
    if share_by == Delivery.Share.MASS:
        weights = [mass_g(line) for line in lines]
    else:
        weights = [Fraction(line.price) for line in lines]
    if not any(weights):
        weights = [Fraction(1)] * len(lines)
    shares = share_out(Fraction(carriage), weights, places(minor_digits))
    return [as_decimal(Fraction(line.price) + share, MONEY_DECIMALS)
            for line, share in zip(lines, shares, strict=True)]


@transaction.atomic
def receive_delivery(
    *, key: UUID, by: Person, supplier: str, received_on: date, lines: Sequence[DeliveryLine],
    carriage: Decimal = Decimal(0), share_by: str = Delivery.Share.VALUE, reference: str = "", minor_digits: int = 2,
    awaited: Iterable[Purchase] = (),
) -> Delivery:
    """Receive a whole delivery, or nothing; once for each key. awaited: the orders that its lots close.

    Raises LedgerError, also for an order whose material is in no line.
    """
    known = Delivery.objects.filter(key=key).first()
    if known is not None:
        return known
    costs = costs_with_carriage(lines, carriage, share_by, minor_digits)
    delivery = Delivery(key=key, supplier=supplier, received_on=received_on, carriage=carriage, share_by=share_by,
                        reference=reference)
    delivery.full_clean()
    delivery.save()
    for line, cost in zip(lines, costs, strict=True):
        try:
            receive(
                key=uuid5(key, str(line.row)), by=by, material=line.material, lot_number=line.lot_number,
                quantity=line.amount, cost_with_carriage=cost, received_on=received_on, supplier=supplier,
                expires_on_given=line.expires_on, delivery=delivery,
            )
        except ValidationError as refused:
            raise LedgerError(f"Row {line.row}: {' '.join(refused.messages)}") from refused
    _close_orders(delivery, awaited)
    return delivery


def received_already(key: UUID) -> str:
    """Say that a form's delivery was received before, in a sentence; nothing where it was not."""
    known = Delivery.objects.filter(key=key).annotate(brought=Count("lots")).first()
    if known is None:
        return ""
    lots = "1 lot" if known.brought == 1 else f"{known.brought} lots"
    return (f"This delivery of {lots} from {known.supplier} was received already, on {known.received_on:%d %b %Y}: "
            "nothing was received twice.")


def _close_orders(delivery: Delivery, awaited: Iterable[Purchase]) -> None:
    """Close each order by a lot of its material in this delivery. Raises LedgerError where there is none."""
    lots = list(delivery.lots.order_by("pk"))
    chosen = [purchase.pk for purchase in awaited]
    rows = Purchase.objects.select_for_update(of=("self",)).select_related("material")
    for row in rows.filter(pk__in=chosen, lot=None, cancelled_because="").order_by("pk"):
        lot = next((lot for lot in lots if lot.material_id == row.material_id), None)
        if lot is None:
            raise LedgerError(
                f"The order of {row.material} is ticked, but no line holds it: add its line, or remove the tick.",
                field="awaited",
            )
        lots.remove(lot)
        row.lot = lot
        row.save(update_fields=["lot"])
