"""A price list goes out as a table and comes back changed."""

from __future__ import annotations

from decimal import Decimal

import pytest

pytestmark = pytest.mark.django_db


def test_a_price_list_goes_out_and_comes_back(at_owner, shop):
    table = at_owner.get("/stockroom/tables/materials.csv").getvalue().decode()
    assert "Materials changed: 0." in at_owner.post("/stockroom/prices/", {"table": table}, follow=True).content.decode()
    changed = "material,list price,reorder point,storage place,anything\nSilver nitrate,1.55,150,oxidisers,x\nDextrose,,,,\n"
    looked = at_owner.post("/stockroom/prices/check/", {"table": changed}).content.decode()
    assert "1.55" in looked
    at_owner.post("/stockroom/prices/", {"table": changed})
    shop.silver.refresh_from_db()
    assert (shop.silver.list_price, shop.silver.reorder_point, shop.silver.storage_place) == (Decimal("1.55"), 150, "oxidisers")
    for wrong, sentence in (("material,list price\nMoon,1\n", "Row 2, material"), ("material,list price\nDextrose,dear\n", "“dear” is not a number"),
                        ("a,b\n1,2\n", "The first row must name"), ("", "Paste the table")):
        refused = at_owner.post("/stockroom/prices/", {"table": wrong})
        assert refused.status_code == 422
        assert sentence in refused.content.decode()
