"""What is done to a lot: opened, held, released, discarded, returned; each says why."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from studio.stockroom.ledger import LedgerError, NotEnough
from studio.stockroom.lots.keeping import discard, hold_lot, open_lot, release_lot, return_to_supplier
from studio.stockroom.models import Lot, LotEvent
from studio.whole.audit import audit
from tests import builders
from tests.stockroom.shop import on_hand

pytestmark = pytest.mark.django_db


def test_opening_shortens_the_expiry_by_the_materials_rule(shop, owner):
    shop.sugar.opened_life_days = 30
    shop.sugar.save()
    lot = shop.lots[2]
    assert Lot.objects.get(pk=lot.pk).expires_on is None
    key = builders.key()
    for _ in range(2):
        open_lot(key=key, lot=lot, by=owner, on=today())
    assert Lot.objects.select_related("material").get(pk=lot.pk).expires_on == today() + timedelta(days=30)
    with pytest.raises(LedgerError, match="opened on"):
        open_lot(key=builders.key(), lot=lot, by=owner, on=today())
    assert LotEvent.objects.count() == 1


def test_holding_says_why_and_nothing_is_picked(at_helper, shop, owner):
    lot = shop.silver_lot
    with pytest.raises(LedgerError, match="Say why"):
        hold_lot(key=builders.key(), lot=lot, by=owner, why=" ")
    at_helper.post(f"/stockroom/lots/{lot.pk}/hold/", {"why": "label torn", "saves": 1, "key": builders.key()})
    shop.booked()
    shown = at_helper.get(f"/stockroom/lots/{lot.pk}/").content.decode()
    assert "Held: label torn" in shown
    assert "puts these in doubt: job 1" in shown
    with pytest.raises(NotEnough):
        mix_ahead(key=builders.key(), by=owner, day=today(), volume_ml=Fraction(100), version=builders.solution(
            "Silver wash", {"material": shop.silver, "amount": 5, "unit": "g"}, {"material": shop.water}))
    release_lot(key=builders.key(), lot=lot, by=owner, why="assay came")
    with pytest.raises(LedgerError, match="not held"):
        release_lot(key=builders.key(), lot=lot, by=owner, why="again")
    assert [event.kind for event in lot.events.all()] == ["held", "released"]


def test_discarding_and_returning(at_helper, at_owner, shop, owner):
    lot, key = shop.silver_lot, builders.key()
    for _ in range(2):
        at_helper.post(f"/stockroom/lots/{lot.pk}/discard/", {"amount": "0.5 kg", "why": "spilt", "key": key})
    assert on_hand(lot) == 0
    with pytest.raises(LedgerError, match="holds 0 g"):
        discard(key=builders.key(), lot=lot, by=owner, amount=Decimal(1), why="more")
    assert at_helper.post(f"/stockroom/lots/{shop.lots[2].pk}/return/", {
        "amount": "1 g", "why": "wrong", "key": builders.key()}).status_code == 403
    return_to_supplier(key=builders.key(), lot=shop.lots[2], by=owner, amount=Decimal(10), why="wrong grade")
    assert on_hand(shop.lots[2]) == 990
    assert audit() == []
    assert "made safe first" not in at_owner.get(f"/stockroom/lots/{shop.lots[0].pk}/").content.decode()
