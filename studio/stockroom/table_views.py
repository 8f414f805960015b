"""The stockroom as tables for spreadsheets, sent row by row, however many there are."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal

from django.http import Http404, StreamingHttpResponse
from django.views.decorators.http import require_safe

from studio.exact import MONEY_DECIMALS, RATIO_DECIMALS, STOCK_DECIMALS, as_kept, plain_of
from studio.house.clock import now, today
from studio.house.http import DeskRequest, csv_stream
from studio.kit.access import allowed
from studio.kit.asking import HELD, among, by_key, in_heaps
from studio.kit.roles import May
from studio.kit.rounding import plain
from studio.stockroom.models import Lot, Material, Posting, StockMovement
from studio.stockroom.models.lots import KIND_IN_WORDS, gone
from studio.stockroom.models.materials import LONG
from studio.stockroom.shelf import lots_there
from studio.stockroom.tables import csv_lines, guarded, written_lines


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
    day = today()
    standing = {lot.pk: lot.standing_on(day) for lot in lots_there(Material.objects.defer(*LONG))}
    lots = Lot.objects.values_list(
        "pk", "material__name", "lot_number", as_kept("quantity_received"), "material__stock_unit",
        as_kept("cost_with_carriage"), "expires_on_given", "supplier", "received_on", as_kept("level__on_hand"))
    return csv_lines(
        ("material", "lot", "amount", "price", "expires", "supplier", "received", "on hand", "state"),
        (
            (material, number, f"{plain_of(amount, STOCK_DECIMALS)} {unit}", plain_of(price, MONEY_DECIMALS),
             expires or "", supplier, received, plain_of(there, STOCK_DECIMALS), standing.get(pk) or gone(number))
            for pk, material, number, amount, unit, price, expires, supplier, received, there in lots.iterator()
        ),
    )


#: what a row of the movements is written from, beside its posting and its lot
_MOVED = ("posting_id", "lot_id", "kind", as_kept("quantity"), as_kept("unit_cost"))


def _movements_csv() -> Iterator[str]:
    return written_lines(
        ("at", "material", "lot", "kind", "moved", "unit", "unit cost", "why", "by"), _movement_rows())


def _movement_rows() -> Iterator[Sequence[str]]:
    """Yield the movements, some thousand at a time: of those, each posting and each lot is read and written once."""
    for heap in in_heaps(by_key(StockMovement.objects.all(), *_MOVED), HELD):
        postings = {
            posting.pk: (posting.at.isoformat(), guarded(posting.why), guarded(posting.by.username)) for posting in
            among(Posting.objects.select_related("by").only("at", "why", "by__username"), "pk",
                  (posting for posting, *_ in heap))}
        lots = {
            lot.pk: (guarded(lot.material.name), guarded(lot.lot_number), lot.material.stock_unit) for lot in
            among(Lot.objects.select_related("material").only("lot_number", "material__name", "material__stock_unit"),
                  "pk", (lot for _, lot, *_ in heap))}
        for posting, lot, kind, quantity, cost in heap:
            at, why, by = postings[posting]
            material, number, unit = lots[lot]
            yield (at, material, number, KIND_IN_WORDS.get(kind, kind), plain_of(quantity, STOCK_DECIMALS), unit,
                   plain_of(cost, RATIO_DECIMALS), why, by)


def _figure(value: Decimal | None) -> str:
    return "" if value is None else plain(value)
