"""What tests of the stockroom ask and do most: what a lot holds, and using some of it."""

from __future__ import annotations

from decimal import Decimal

from studio.stockroom.ledger import Movement, post
from studio.stockroom.models import Lot, Posting
from tests import builders


def on_hand(lot: Lot) -> Decimal:
    return Lot.objects.get(pk=lot.pk).level.on_hand


def use(lot: Lot, amount: str, by) -> Posting:
    return post(key=builders.key(), kind="run", by=by, movements=[
        Movement(lot=lot, kind="use", quantity=-Decimal(amount), unit_cost=lot.unit_cost)])
