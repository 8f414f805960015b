"""Count a storage place: what was counted, with the moment each figure was written, and the corrections, saved once.

The difference is counted less what was there at the moment the figure was written: what the ledger held then, less what
was recorded on the bench as taken by then and is deducted later. It is added to what the lot holds now, so that what
moves before or after a figure is written is taken once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
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

#: a time is typed to the minute: so much earlier than the sheet is the sheet's own minute
TYPED_TO = timedelta(minutes=1)


@dataclass(frozen=True, kw_only=True)
class Taken:
    """An amount that left a lot at a moment, in its stock unit, and when the ledger took it; None: not yet."""

    lot_id: int
    amount: Decimal
    at: datetime
    posted_at: datetime | None


#: what the rooms above know of amounts taken: a call with lots' ids and a moment returns what left them before it was
#: posted, and was not posted by then
TAKEN_BEFORE_IT_IS_POSTED: list[Callable[[Collection[int], datetime], Iterable[Taken]]] = []


def held_at(lots: QuerySet[Lot], moment: datetime) -> dict[int, Decimal]:
    """Return what lots held at a moment, by the ledger."""
    moved = StockMovement.objects.filter(lot__in=lots, posting__at__lte=moment)
    return dict(moved.order_by().values_list("lot").annotate(total=Sum("quantity")))


def held_when_written(sheet: CountSheet, written: Mapping[int, datetime]) -> dict[int, Decimal]:
    """Return what each lot held at the moment its figure was written, by lot id. A fixed number of queries.

    written: that moment, by lot id.
    """
    if not written:
        return {}
    first, last = min(written.values()), max(written.values())
    at_first = held_at(Lot.objects.filter(counts__sheet=sheet), first)
    held = {lot: at_first.get(lot, Decimal(0)) for lot in written}
    moved = StockMovement.objects.filter(
        lot__counts__sheet=sheet, posting__at__gt=first, posting__at__lte=last).order_by()
    for lot, at, quantity in moved.values_list("lot", "posting__at", "quantity"):
        if lot in written and at <= written[lot]:
            held[lot] += quantity
    for source in TAKEN_BEFORE_IT_IS_POSTED:
        for taken in source(written.keys(), first):
            moment = written[taken.lot_id]
            if taken.at <= moment and (taken.posted_at is None or taken.posted_at > moment):
                held[taken.lot_id] -= taken.amount
    return {lot: max(amount, Decimal(0)) for lot, amount in held.items()}


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


def moment_written(sheet: CountSheet, typed: datetime) -> datetime:
    """Return when a figure was written. Raises LedgerError for a time before the sheet, or one still to come."""
    if typed > now() + TYPED_TO:
        raise LedgerError("That time is still to come: write when it was counted.", "written_at")
    if typed < sheet.as_of - TYPED_TO:
        raise LedgerError("The sheet was made after that: nothing was written on it before.", "written_at")
    return min(max(typed, sheet.as_of), now())


@transaction.atomic
def record_counts(
    sheet: CountSheet, counted: Mapping[int, Decimal | None], written: Mapping[int, datetime] | None = None,
) -> None:
    """Save what was counted, by line id; None is not counted yet. Raises LedgerError for a sheet that is saved.

    written: when each figure was written, by line id; without one a new figure was written now, and one that stood
    there before keeps its moment.
    """
    if CountSheet.objects.select_for_update().get(pk=sheet.pk).posting_id is not None:
        raise LedgerError("This count is saved already: count again on a new sheet.")
    moment, changed = now(), []
    for line in sheet.lines.filter(pk__in=counted):
        figure, at = counted[line.pk], (written or {}).get(line.pk)
        if figure == line.counted and at in (None, line.written_at):
            continue
        line.counted, line.written_at = figure, None if figure is None else at or moment
        changed.append(line)
    held = held_when_written(sheet, {line.lot_id: line.written_at for line in changed if line.written_at is not None})
    for line in changed:
        line.held_then = held.get(line.lot_id) if line.written_at is not None else None
        line.save(update_fields=["counted", "written_at", "held_then"])


@dataclass(frozen=True, kw_only=True)
class Difference:
    """A lot counted at another amount than expected. value: money at the lot's unit cost with carriage."""

    line: CountLine
    amount: Decimal
    value: Decimal


def differences(sheet: CountSheet) -> list[Difference]:
    """Return the corrections that the counts so far would make."""
    lines = sheet.lines.select_related("lot__material", "lot__level")
    amounts = [(line, line.counted - line.expected_then) for line in lines if line.counted is not None]
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
    lines = list(row.lines.all())
    levels = lock_levels([line.lot_id for line in lines])
    # asked again with the lots locked: a posting that was being written then is seen now
    held = held_when_written(row, {line.lot_id: line.written_at for line in lines if line.written_at is not None})
    for line in lines:
        if line.held_then != held[line.lot_id]:
            line.held_then = held[line.lot_id]
            line.save(update_fields=["held_then"])
    corrections = differences(row)
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
