"""What is done to lots on the shelf: opened, held, released, discarded, returned. Each says who, when and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from studio.house.clock import now
from studio.house.models import Person
from studio.kit.locks import check_opened, tried_three_times
from studio.kit.rounding import plain
from studio.stockroom.ledger import LedgerError, Movement, lock_levels, post
from studio.stockroom.models import Lot, LotEvent, Posting, StockMovement


@dataclass(frozen=True, kw_only=True)
class Touched:
    """Something that a held lot touched or may have touched, and where it is seen. settled: how, or nothing."""

    words: str
    address: str
    stands_open: bool
    settled: str = ""


#: rooms above say what a held lot touched or may have touched
TOUCHED_BY_LOT: list[Callable[[Lot], list[Touched]]] = []

#: rooms above say why a held lot is not released, in a sentence; nothing where it may be
STAYS_HELD: list[Callable[[Lot], str]] = []

#: rooms above say what is done to a lot before any of it is discarded or returned, in a sentence; nothing where nothing
NOT_OUT: list[Callable[[Lot], str]] = []

#: rooms above do what must follow at once when a lot is released, or refuse it: who releases it, and why
RELEASED: list[Callable[[Lot, Person, str], None]] = []


def _event_of(key: UUID) -> LotEvent | None:
    return LotEvent.objects.filter(key=key).first()


@transaction.atomic
def open_lot(
    *, key: UUID, lot: Lot, by: Person, on: date, at: datetime | None = None, saves: int | None = None
) -> LotEvent:
    """Record that a lot was opened: it now expires by its own date or once its opened life is over, the earlier.

    Raises LedgerError, or ChangedMeanwhile when it was saved since the form was opened.
    """
    known = _event_of(key)
    if known is not None:
        return known
    row = Lot.objects.select_for_update(of=("self",)).get(pk=lot.pk)
    if row.opened_on is not None:
        raise LedgerError(f"{row} was opened on {row.opened_on:%d %b %Y} already.", "opened_on")
    if on < row.received_on:
        raise LedgerError("A lot cannot be opened before it was received.", "opened_on")
    check_opened(row, saves, _in_words(row), "Send it again to open it all the same.")
    row.opened_on = on
    row.save(update_fields=["opened_on", "saves"])
    return LotEvent.objects.create(key=key, lot=row, kind=LotEvent.Kind.OPENED, at=at or now(), by=by)


def _in_words(lot: Lot) -> str:
    """Return a lot's state in words, for somebody who saw another."""
    state = f"held, because “{lot.hold_reason}”" if lot.state == Lot.State.HELD else lot.get_state_display()
    return f"{state}, {f'opened {lot.opened_on:%d %b %Y}' if lot.opened_on else 'not opened'}"


def hold_lot(
    *, key: UUID, lot: Lot, by: Person, why: str, at: datetime | None = None, saves: int | None = None
) -> LotEvent:
    """Hold a lot: nothing is picked from it until it is released. Raises LedgerError or ChangedMeanwhile."""
    return _state(key, lot, by, why, LotEvent.Kind.HELD, at, saves)


def release_lot(
    *, key: UUID, lot: Lot, by: Person, why: str, at: datetime | None = None, saves: int | None = None
) -> LotEvent:
    """Release a held lot: it is picked from again. Raises LedgerError or ChangedMeanwhile."""
    return _state(key, lot, by, why, LotEvent.Kind.RELEASED, at, saves)


@transaction.atomic
def _state(
    key: UUID, lot: Lot, by: Person, why: str, kind: str, at: datetime | None, saves: int | None
) -> LotEvent:
    known = _event_of(key)
    if known is not None:
        return known
    reason = why.strip()[:200]
    row = Lot.objects.select_for_update(of=("self",)).get(pk=lot.pk)
    holds = kind == LotEvent.Kind.HELD
    if not reason:
        raise LedgerError(f"Say why it is {'held' if holds else 'released'}.", "why")
    if holds == (row.state == Lot.State.HELD):
        raise LedgerError(f"{row} is {'held already' if holds else 'not held'}.", "why")
    stays = "" if holds else next(filter(None, (why_not(row) for why_not in STAYS_HELD)), "")
    if stays:
        raise LedgerError(f"{row} stays held: {stays}", "why")
    check_opened(row, saves, _in_words(row), f"Send it again to {'hold' if holds else 'release'} it all the same.")
    row.state, row.hold_reason = (Lot.State.HELD, reason) if holds else (Lot.State.USABLE, "")
    row.save(update_fields=["state", "hold_reason", "saves"])
    for follow in () if holds else RELEASED:
        follow(row, by, reason)
    return LotEvent.objects.create(key=key, lot=row, kind=kind, at=at or now(), by=by, why=reason)


def discard(*, key: UUID, lot: Lot, by: Person, amount: Decimal, why: str, at: datetime | None = None) -> Posting:
    """Discard an amount of a lot. Held and expired lots may be discarded. Raises LedgerError."""
    return _out(key, lot, by, amount, why, Posting.Kind.DISCARD, StockMovement.Kind.DISCARD, at)


def return_to_supplier(
    *, key: UUID, lot: Lot, by: Person, amount: Decimal, why: str, at: datetime | None = None
) -> Posting:
    """Return an amount of a lot to its supplier. Raises LedgerError."""
    return _out(key, lot, by, amount, why, Posting.Kind.RETURN, StockMovement.Kind.RETURN, at)


@tried_three_times
@transaction.atomic
def _out(
    key: UUID, lot: Lot, by: Person, amount: Decimal, why: str, kind: str, movement: str, at: datetime | None
) -> Posting:
    known = Posting.objects.filter(key=key).first()
    if known is not None:
        return known
    if not why.strip():
        raise LedgerError("Say why.", "why")
    if amount <= 0:
        raise LedgerError("Give an amount above nothing.", "amount")
    level = lock_levels([lot.pk])[lot.pk]
    first = next(filter(None, (why_not(lot) for why_not in NOT_OUT)), "")
    if first:
        raise LedgerError(first, "amount")
    if level.on_hand < amount:
        holds = f"{plain(level.on_hand)} {lot.material.stock_unit}"
        raise LedgerError(f"{lot} holds {holds}: nothing was saved.", "amount")
    return post(key=key, kind=kind, by=by, why=why.strip()[:200], at=at, movements=[
        Movement(lot=lot, kind=movement, quantity=-amount, unit_cost=lot.unit_cost)
    ])
