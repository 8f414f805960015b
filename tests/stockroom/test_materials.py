"""Materials entered in the app: what is made of one is checked again when it changes."""

from __future__ import annotations

from decimal import Decimal

import pytest

from studio.stockroom.models import Material
from tests import builders

pytestmark = pytest.mark.django_db


def test_a_material_is_entered_and_used(at_owner, house):
    answer = at_owner.post("/stockroom/new/", {
        "name": "Tin(II) chloride dihydrate", "kind": "chemical", "stock_unit": "g", "formula": "SnCl2", "hydrate": "dihydrate",
        "cas_number": "10025-69-1", "reacts_as": ["tin_salt"], "pictograms": ["GHS05", "GHS07"], "signal_word": "Danger",
        "hazard_statements": ["H314"], "assay_share": "98.5 %", "list_price": "0.18", "silver_g_per_unit": ""})
    row = Material.objects.get()
    assert answer["Location"] == f"/stockroom/{row.code}/"
    assert (row.reacts_as, row.list_price, row.silver_g_per_unit) == (["tin_salt"], Decimal("0.18"), 0)
    assert row.assay_share == Decimal("0.985")
    assert 'value="98.5 %"' in at_owner.get(f"/stockroom/{row.code}/edit/").content.decode()


@pytest.mark.parametrize(("more", "sentence"), [
    ({"cas_number": "7761-88-7"}, "check digit does not fit"), ({"reacts_as": ["silver_salt", "ammonia"]}, "never stored"),
    ({"kind": "glass sheet", "stock_unit": "sheet"}, "give its size, thickness"), ({"name": ""}, "required"),
    ({"sheet_width_mm": "wide"}, "was not understood as a length"), ({"density_g_per_ml": "0"}, "density_above_zero"),
    ({"assay_share": "37"}, "at most 100 %"),
])
def test_a_refusal_keeps_what_was_typed(at_owner, house, more, sentence):
    sent = {"name": "Odd thing", "kind": "chemical", "stock_unit": "g", "storage_place": "dry shelf", **more}
    answer = at_owner.post("/stockroom/new/", sent)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert "dry shelf" in answer.content.decode()
    assert not Material.objects.exists()


def test_what_is_made_of_a_material_is_checked_again(at_owner, rates):
    """Sugar that turns out to hold ammonia would put ammoniacal silver on the shelf: refused, and nothing changes."""
    silver = builders.material("Silver nitrate", reacts_as=["silver_salt"])
    odd, water = builders.material("Odd sugar"), builders.material("Water", "mL")
    builders.solution("Kept", {"material": silver, "amount": 5, "unit": "g"}, {"material": odd, "amount": 5, "unit": "g"},
                      {"material": water})
    sent = {"name": "Odd sugar", "kind": "chemical", "stock_unit": "g", "saves": odd.saves, "reacts_as": ["ammonia"]}
    answer = at_owner.post("/stockroom/odd-sugar/edit/", sent)
    assert answer.status_code == 422
    assert "never stored and never mixed ahead" in answer.content.decode()
    odd.refresh_from_db()
    assert (odd.reacts_as, odd.saves) == ([], 1)
    assert at_owner.post("/stockroom/odd-sugar/edit/", sent | {"reacts_as": ["reducer"]}).status_code == 302
    stale = at_owner.post("/stockroom/odd-sugar/edit/", sent | {"reacts_as": []})
    assert "Odd sugar now reads reacts as reducer" in stale.content.decode()


def test_a_helper_enters_none(at_helper, house):
    assert at_helper.get("/stockroom/new/").status_code == 403
