"""The stockroom as tables for spreadsheets, sent row by row, however many there are."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal

from django.http import Http404, StreamingHttpResponse
from django.views.decorators.http import require_safe

from studio.house.clock import now, today
from studio.house.http import DeskRequest, csv_stream
from studio.kit.access import allowed
from studio.kit.asking import by_key
from studio.kit.roles import May
from studio.kit.rounding import plain
from studio.stockroom.models import Lot, Material, StockMovement
from studio.stockroom.models.lots import KIND_IN_WORDS
from studio.stockroom.tables import csv_lines


@allowed(May.ORDERS)
@require_safe
def table(request: DeskRequest, name: str) -> StreamingHttpResponse:
    """A table of the stockroom as CSV: materials with prices, lots, movements."""
    tables: dict[str, Callable[[], Iterator[str]]] = {
        "materials": _materials_csv, "lots": _lots_csv, "movements": _movements_csv}
    if name not in tables:
        raise Http404
    return csv_stream(tables[name](), f"{name}-{now():%Y-%m-%d}.csv")


def _materials_csv() -> Iterator[str]:
    return csv_lines(
        ("material", "kind", "stock unit", "storage place", "reorder point", "pack size", "list price", "CAS number"),
        ((row.name, row.kind, row.stock_unit, row.storage_place, _figure(row.reorder_point), _figure(row.pack_size),
          _figure(row.list_price), row.cas_number) for row in Material.objects.all()),
    )


def _lots_csv() -> Iterator[str]:
    """Columns read back by a delivery: material, lot, amount, price, expires."""
    lots, day = Lot.objects.select_related("material", "level").iterator(), today()
    return csv_lines(
        ("material", "lot", "amount", "price", "expires", "supplier", "received", "on hand", "state"),
        (
            (
                lot.material.name,
                lot.lot_number,
                f"{plain(lot.quantity_received)} {lot.material.stock_unit}",
                plain(lot.cost_with_carriage),
                lot.expires_on_given or "",
                lot.supplier,
                lot.received_on,
                plain(lot.level.on_hand),
                lot.standing_on(day),
            )
            for lot in lots
        ),
    )


#: what a row of the movements is written from
_MOVED = ("posting__at", "lot__material__name", "lot__lot_number", "kind", "quantity", "lot__material__stock_unit",
          "unit_cost", "posting__why", "posting__by__username")


def _movements_csv() -> Iterator[str]:
    return csv_lines(
        ("at", "material", "lot", "kind", "moved", "unit", "unit cost", "why", "by"),
        ((at.isoformat(), material, lot, KIND_IN_WORDS.get(kind, kind), plain(quantity), unit, plain(cost), why, by)
         for at, material, lot, kind, quantity, unit, cost, why, by in by_key(StockMovement.objects.all(), *_MOVED)),
    )


def _figure(value: Decimal | None) -> str:
    return "" if value is None else plain(value)
