"""The stockroom as tables for spreadsheets."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from django.http import Http404, HttpResponse
from django.views.decorators.http import require_safe

from studio.house.clock import now
from studio.house.http import DeskRequest, csv_response
from studio.kit.access import owner_only
from studio.kit.rounding import plain
from studio.stockroom.models import Lot, Material, StockMovement
from studio.stockroom.tables import as_csv


@owner_only
@require_safe
def table(request: DeskRequest, name: str) -> HttpResponse:
    """A table of the stockroom as CSV: materials with prices, lots, movements."""
    tables: dict[str, Callable[[], str]] = {"materials": _materials_csv, "lots": _lots_csv, "movements": _movements_csv}
    if name not in tables:
        raise Http404
    return csv_response(tables[name](), f"{name}-{now():%Y-%m-%d}.csv")


def _materials_csv() -> str:
    return as_csv(
        ("material", "kind", "stock unit", "storage place", "reorder point", "pack size", "list price", "CAS number"),
        ((row.name, row.kind, row.stock_unit, row.storage_place, _figure(row.reorder_point), _figure(row.pack_size),
          _figure(row.list_price), row.cas_number) for row in Material.objects.all()),
    )


def _lots_csv() -> str:
    """Columns read back by a delivery: material, lot, amount, price, expires."""
    lots = Lot.objects.select_related("material", "level")
    return as_csv(
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
                lot.state,
            )
            for lot in lots
        ),
    )


def _movements_csv() -> str:
    rows = StockMovement.objects.select_related("posting__by", "lot__material").order_by("pk")
    return as_csv(
        ("at", "material", "lot", "kind", "moved", "unit", "unit cost", "why", "by"),
        ((row.posting.at.isoformat(), row.lot.material.name, row.lot.lot_number, row.kind_in_words, plain(row.quantity),
          row.lot.material.stock_unit, plain(row.unit_cost), row.posting.why, row.posting.by.username)
         for row in rows),
    )


def _figure(value: Decimal | None) -> str:
    return "" if value is None else plain(value)
