"""Count a storage place: a sheet as of one moment, what was counted, and the corrections, posted once.

The difference is counted less what the ledger held at the sheet's moment; it is added to what the lot holds now,
so that stock moved between print and posting is handled right.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import Q, QuerySet, Sum

from studio.house.clock import now
from studio.house.models import Person
from studio.kit.locks import tried_three_times
from studio.kit.rounding import plain
from studio.stockroom.ledger import LedgerError, Movement, lock_levels, post
from studio.stockroom.models import CountLine, CountSheet, Lot, Posting, StockMovement


def held_at(lots: QuerySet[Lot], moment: datetime) -> dict[int, Decimal]:
    """Return what lots held at a moment, by the ledger."""
    moved = StockMovement.objects.filter(lot__in=lots, posting__at__lte=moment)
    return dict(moved.order_by().values_list("lot").annotate(total=Sum("quantity")))


@transaction.atomic
def start_count(*, key: UUID, by: Person, place: str, hide_expected: bool, at: datetime | None = None) -> CountSheet:
    """Open a sheet for every lot of a place (all places without one) that holds something; once for each key."""
    known = CountSheet.objects.filter(form_key=key).first()
    if known is not None:
        return known
    moment = at or now()
    lots = Lot.objects.filter(Q(level__on_hand__gt=0), **({"material__storage_place": place} if place else {}))
    held = held_at(lots, moment)
    if not any(amount > 0 for amount in held.values()):
        raise LedgerError("Nothing stands there by the ledger: there is nothing to count.", "place")
    sheet = CountSheet.objects.create(form_key=key, by=by, place=place, hide_expected=hide_expected, as_of=moment)
    CountLine.objects.bulk_create([
        CountLine(sheet=sheet, lot_id=lot, expected=amount) for lot, amount in held.items() if amount > 0
    ])
    return sheet


@transaction.atomic
def note_counts(sheet: CountSheet, counted: Mapping[int, Decimal | None]) -> None:
    """Keep what was counted, by line id; None is not counted yet. Raises LedgerError for a posted sheet."""
    if CountSheet.objects.select_for_update().get(pk=sheet.pk).posting_id is not None:
        raise LedgerError("This count was posted: count again on a new sheet.")
    for line in sheet.lines.filter(pk__in=counted):
        line.counted = counted[line.pk]
        line.save(update_fields=["counted"])


@dataclass(frozen=True, kw_only=True)
class Difference:
    """A lot that was counted other than expected. value: money at the lot's unit cost with carriage."""

    line: CountLine
    amount: Decimal
    value: Decimal


def differences(sheet: CountSheet) -> list[Difference]:
    """Return what would be posted."""
    lines = sheet.lines.select_related("lot__material", "lot__level")
    found = [(line, line.counted - line.expected) for line in lines if line.counted is not None]
    return [
        Difference(line=line, amount=amount, value=amount * line.lot.unit_cost) for line, amount in found if amount
    ]


@tried_three_times
@transaction.atomic
def post_count(sheet: CountSheet, by: Person, at: datetime | None = None) -> CountSheet:
    """Post the corrections of a sheet, all or nothing, once. Raises LedgerError while a lot is not counted."""
    row = CountSheet.objects.select_for_update().get(pk=sheet.pk)
    if row.posting_id is not None:
        return row
    waiting = row.lines.filter(counted=None).count()
    if waiting:
        raise LedgerError(f"{waiting} lot{'s are' if waiting > 1 else ' is'} not counted yet.", "lines")
    found = differences(row)
    levels = lock_levels([one.line.lot_id for one in found])
    for one in found:
        if levels[one.line.lot_id].on_hand + one.amount < 0:
            raise LedgerError(
                f"{one.line.lot}: {plain(-one.amount)} {one.line.lot.material.stock_unit} are missing by the count, "
                "and it holds less than that now. Count it again.", "lines",
            )
    row.posting = post(
        key=uuid5(row.form_key, "posting"), kind=Posting.Kind.COUNT, by=by, at=at,
        why=f"Counted {row.place or 'everything'}", movements=[
            Movement(lot=one.line.lot, kind=StockMovement.Kind.COUNT, quantity=one.amount,
                     unit_cost=one.line.lot.unit_cost)
            for one in found
        ],
    )
    row.posted_at = at or now()
    row.save(update_fields=["posting", "posted_at"])
    return row
