"""A note is pasted, looked at and confirmed on the page; then it is received whole, or not at all."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape

import pytest

from studio.house.clock import today
from studio.stockroom.models import Delivery, Lot, Material, Purchase
from studio.stockroom.starting.starting_shelf import pick_starting_shelf
from tests import builders

pytestmark = pytest.mark.django_db

NOTE = ("Marrow & Tule\nSilver nitrate 100 g, lot SN-44, 86.00, exp 05/2028\nPotassium hydroxide 2 x 500 g, lot K7, "
        "9.80\nHand cream 100 mL, lot H1, 4.00\nCarriage 6.90")


@pytest.fixture
def shelf(rates) -> None:
    pick_starting_shelf(["silver_nitrate", "potassium_hydroxide"])


def sent_back(html: str) -> dict[str, str]:
    """Return what the page's own form would send as it stands."""
    form = html[html.index('class="start-form note-form"'):]
    values = {}
    for name, value in re.findall(r'<input type="(?:text|hidden|date)" name="([\w-]+)" value="([^"]*)"', form):
        values[name] = unescape(value)
    for name, options in re.findall(r'<select name="([\w-]+)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'<option value="([^"]*)" selected', options)
        values[name] = unescape(chosen[1]) if chosen else ""
    return values


def pasted(client, text: str = NOTE) -> dict[str, str]:
    answer = client.post("/stockroom/receive/note/", {"note": text})
    assert answer.status_code == 200
    return sent_back(answer.content.decode())


def test_what_is_asked_is_answered_and_all_of_it_is_received(at_owner, shelf):
    values = pasted(at_owner)
    assert values["supplier"] == "Marrow & Tule"
    assert values["row-0-expires"] == "31 May 2028"
    assert values["row-1-price"] == values["row-2-good"] == "", "two packs and one price; an unknown good"
    refused = at_owner.post("/stockroom/receive/note/rows/", values)
    assert refused.status_code == 422
    assert "Give the price of the whole line" in refused.content.decode()
    assert "€19.60: €9.80 each" in refused.content.decode(), "the choices stand there again"
    assert not Lot.objects.exists()
    answered = {**values, "row-1-price": "19.60", "row-2-good": "-"}
    assert at_owner.post("/stockroom/receive/note/rows/", answered)["Location"] == "/stockroom/"
    lots = {lot.lot_number: lot for lot in Lot.objects.select_related("material")}
    assert set(lots) == {"SN-44", "K7"}
    assert lots["K7"].quantity_received == Decimal(1000)
    assert sum(lot.cost_with_carriage for lot in lots.values()) == Decimal("112.50")
    again = at_owner.post("/stockroom/receive/note/rows/", answered, follow=True).content.decode()
    assert "This delivery of 2 lots from Marrow &amp; Tule was received already, on" in again
    assert "SN-44-2" not in again, "it is no other lot: no next number is offered"
    assert Delivery.objects.count() == 1


def test_an_order_that_is_awaited_is_closed_by_the_note_that_brings_it(at_owner, shelf):
    nitrate = Material.objects.get(name="Silver nitrate")
    order = Purchase.objects.create(material=nitrate, quantity=Decimal(100), ordered_on=today(), supplier="Marrow",
                                    form_key=builders.key())
    text = "Supplier: Marrow\nSilver nitrate 100 g, lot SN-44, 86.00"
    assert "Silver nitrate, 100 g from Marrow" in at_owner.post("/stockroom/receive/note/", {"note": text}).content.decode()
    answer = at_owner.post("/stockroom/receive/note/rows/", {**pasted(at_owner, text), "awaited": [order.pk]})
    assert answer.status_code == 302
    order.refresh_from_db()
    assert order.lot.lot_number == "SN-44"


def test_one_wrong_row_keeps_all_of_it_out(at_owner, shelf):
    values = {**pasted(at_owner), "row-1-price": "19.60", "row-2-good": "-", "row-1-lot": "SN-44"}
    refused = at_owner.post("/stockroom/receive/note/rows/", values)
    assert refused.status_code == 422
    assert "one number names one lot" in refused.content.decode()
    assert not Delivery.objects.exists()


def test_a_hundredfold_price_is_asked_about_once(at_owner, shelf):
    Material.objects.update(list_price=Decimal("0.0001"))
    values = {**pasted(at_owner, "Supplier: Marrow\nSilver nitrate 100 g, lot SN-44, 86.00")}
    asked = at_owner.post("/stockroom/receive/note/rows/", values)
    assert asked.status_code == 422
    tick = re.search(r'name="(goods_meant_so)" value="(\w+)"', asked.content.decode())
    assert at_owner.post("/stockroom/receive/note/rows/", {**values, tick[1]: tick[2]}).status_code == 302


def test_a_note_without_goods_says_so_and_stays(at_owner, shelf):
    refused = at_owner.post("/stockroom/receive/note/", {"note": "Thank you for your order"})
    assert refused.status_code == 422
    assert "No line was read as a good" in refused.content.decode()
    assert "Thank you for your order" in refused.content.decode()


def test_a_helper_receives_no_note(at_helper, shelf):
    assert at_helper.get("/stockroom/receive/note/").status_code == 403
    assert at_helper.post("/stockroom/receive/note/rows/", {}).status_code == 403


def test_figures_are_typed_as_everywhere_and_less_than_nothing_is_refused(at_owner, shelf):
    values = {**pasted(at_owner), "row-1-price": "€19.60", "row-2-good": "-", "carriage": "6,90 €"}
    for field, wrong in (("row-1-price", "-19.60"), ("carriage", "-6.90"), ("row-1-price", "dear"), ("row-1-price", "1.250")):
        refused = at_owner.post("/stockroom/receive/note/rows/", {**values, field: wrong})
        assert refused.status_code == 422, wrong
        assert not Lot.objects.exists()
    assert at_owner.post("/stockroom/receive/note/rows/", values).status_code == 302
    assert sum(lot.cost_with_carriage for lot in Lot.objects.all()) == Decimal("112.50")


def test_a_credit_is_received_only_once_somebody_says_what_came(at_owner, shelf):
    values = pasted(at_owner, "Silver nitrate 100 g, lot SN-44, -86.00 credit\nPotassium hydroxide 500 g, lot K7, 9.80")
    values = {**values, "supplier": "Quay"}
    assert (values["row-0-good"], values.get("row-0-price", "")) == ("", "")
    assert at_owner.post("/stockroom/receive/note/rows/", values).status_code == 422
    assert at_owner.post("/stockroom/receive/note/rows/", {**values, "row-0-good": "-"}).status_code == 302
    assert [lot.lot_number for lot in Lot.objects.all()] == ["K7"]
