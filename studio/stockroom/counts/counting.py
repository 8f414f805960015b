"""Count a storage place: a sheet as of one moment, what was counted, and the corrections, saved once.

The difference is counted less what the ledger held at the sheet's moment; it is added to what the lot holds now,
so that stock moved between printing and saving is handled right.
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
        raise LedgerError("The ledger has nothing in that place: there is nothing to count.", "place")
    sheet = CountSheet.objects.create(form_key=key, by=by, place=place, hide_expected=hide_expected, as_of=moment)
    CountLine.objects.bulk_create([
        CountLine(sheet=sheet, lot_id=lot, expected=amount) for lot, amount in held.items() if amount > 0
    ])
    return sheet


@transaction.atomic
def record_counts(sheet: CountSheet, counted: Mapping[int, Decimal | None]) -> None:
    """Save what was counted, by line id; None is not counted yet. Raises LedgerError for a sheet that is saved."""
    if CountSheet.objects.select_for_update().get(pk=sheet.pk).posting_id is not None:
        raise LedgerError("This count is saved already: count again on a new sheet.")
    for line in sheet.lines.filter(pk__in=counted):
        line.counted = counted[line.pk]
        line.save(update_fields=["counted"])


@dataclass(frozen=True, kw_only=True)
class Difference:
    """A lot counted at another amount than expected. value: money at the lot's unit cost with carriage."""

    line: CountLine
    amount: Decimal
    value: Decimal


def differences(sheet: CountSheet) -> list[Difference]:
    """Return the corrections that the counts so far would make."""
    lines = sheet.lines.select_related("lot__material", "lot__level")
    amounts = [(line, line.counted - line.expected) for line in lines if line.counted is not None]
    return [
        Difference(line=line, amount=amount, value=amount * line.lot.unit_cost) for line, amount in amounts if amount
    ]


@tried_three_times
@transaction.atomic
def post_count(sheet: CountSheet, by: Person, at: datetime | None = None) -> CountSheet:
    """Save a sheet's corrections to the ledger, all or nothing, once. Raises LedgerError while a lot is not counted."""
    row = CountSheet.objects.select_for_update().get(pk=sheet.pk)
    if row.posting_id is not None:
        return row
    uncounted = row.lines.filter(counted=None).count()
    if uncounted:
        raise LedgerError(f"{uncounted} lot{'s are' if uncounted > 1 else ' is'} not counted yet.", "lines")
    corrections = differences(row)
    levels = lock_levels([difference.line.lot_id for difference in corrections])
    for difference in corrections:
        lot, missing = difference.line.lot, -difference.amount
        if levels[lot.pk].on_hand < missing:
            raise LedgerError(
                f"{lot}: {plain(missing)} {lot.material.stock_unit} are missing by the count, "
                "and it holds less than that now. Count it again.", "lines",
            )
    row.posting = post(
        key=uuid5(row.form_key, "posting"), kind=Posting.Kind.COUNT, by=by, at=at,
        why=f"Counted {row.place or 'everything'}", movements=[
            Movement(lot=difference.line.lot, kind=StockMovement.Kind.COUNT, quantity=difference.amount,
                     unit_cost=difference.line.lot.unit_cost)
            for difference in corrections
        ],
    )
    row.posted_at = at or now()
    row.save(update_fields=["posting", "posted_at"])
    return row
