"""Taking a lot in by hand: units as on the label, once, and refusals that keep what was typed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest

from studio.stockroom.ledger import LedgerError
from studio.stockroom.models import Lot, LotLevel
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def acid(house):
    return builders.material("Acid", "mL", density_g_per_ml=Decimal("1.19"))


def typed(**more):
    return {"lot_number": "A7", "supplier": "Test Chemicals", "amount": "1 L", "cost_with_carriage": "18.20",
            "received_on": "2026-06-01", "expires_on": "", "key": str(uuid4()), **more}


@pytest.mark.parametrize(("amount", "millilitres"), [("1 L", "1000"), ("1.19 kg", "1000"), ("8 US fl oz", "236.588")])
def test_units_as_on_the_label(at_owner, acid, amount, millilitres):
    data = typed(amount=amount)
    for _ in range(2):
        assert at_owner.post("/stockroom/acid/receive/", data).status_code == 302
    lot = Lot.objects.get()
    assert (lot.quantity_received, lot.received_on) == (Decimal(millilitres), date(2026, 6, 1))
    assert LotLevel.objects.get().on_hand == lot.quantity_received
    assert audit() == []


@pytest.mark.parametrize(("wrong", "sentence"), [
    ({"amount": "a drop"}, "was not understood"), ({"amount": "0 mL"}, "Give an amount above nothing"),
    ({"cost_with_carriage": "-1"}, "At least 0."), ({"lot_number": ""}, "Fill this in"),
])
def test_a_refusal_keeps_what_was_typed(at_owner, acid, wrong, sentence):
    response = at_owner.post("/stockroom/acid/receive/", typed(**wrong))
    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert "Test Chemicals" in response.content.decode()
    assert not Lot.objects.exists()


def test_a_lot_number_is_taken_once(at_owner, acid):
    at_owner.post("/stockroom/acid/receive/", typed())
    again = at_owner.post("/stockroom/acid/receive/", typed())
    assert again.status_code == 422
    assert Lot.objects.count() == 1


def test_receiving_is_the_owners(at_helper, acid):
    assert at_helper.post("/stockroom/acid/receive/", typed()).status_code == 403
    assert "Receive a lot" not in at_helper.get("/stockroom/acid/").content.decode()


def test_ammoniacal_silver_is_received_by_nobody(house, owner):
    bath = builders.material("Bath", "mL", reacts_as=["silver_salt", "ammonia"])
    with pytest.raises(LedgerError, match="no lot of it is received"):
        builders.lot(bath, "500", owner)
