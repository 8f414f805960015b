"""Slips of the hand through the pages of receive, order and a pasted delivery: taken, or a sentence beside the field."""

from __future__ import annotations

import os
from uuid import uuid4

import pytest

from studio.house.clock import today
from studio.stockroom.models import Lot, WasteContainer
from tests import builders
from tests.asking import error_beside
from tests.jobs.orders.test_order_page import typed
from tests.kit.typos import SEEN, typos

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


#: a whole list goes through the readers themselves; HYPOTHESIS_PROFILE=exploring sends three times as many through the pages
THINNER = 1 if os.environ.get("HYPOTHESIS_PROFILE") == "exploring" else 3


def a_spread(kind: str, each: int) -> list[str]:
    """Return every so-many-th slip, so that all rules are met, and what broke pages once."""
    return list(dict.fromkeys([*typos(kind)[::each * THINNER], "5 kg", "5²", "1.5 sheets", "9" * 13, "1e40000000", "1\x002", "1/0"]))


def answered(client, path, data, beside="", **more):
    """Post a form; return whether it was taken, once it was taken or refused in words."""
    answer = client.post(path, data, **more)
    assert answer.status_code in (200, 302, 422), (answer.status_code, data)
    if answer.status_code == 422 and beside and "There is a letter in it that cannot be kept" not in (page := answer.content.decode()):
        assert error_beside(page, beside).strip() or "Nothing is saved yet" in page, (beside, data)
    return answer.status_code == 302


@pytest.mark.parametrize("unit", ["g", "mL", "sheet", "each"])
def test_an_amount_received(at_owner, shop, unit):
    material = {"g": shop.sugar, "mL": shop.water, "sheet": shop.glass}.get(unit) or builders.material("Brush", "each", kind="consumable")
    taken = 0
    for at, text in enumerate(a_spread({"g": "mass", "mL": "volume"}.get(unit, "sheets"), 4)):
        before = Lot.objects.count()
        received = answered(at_owner, f"/stockroom/{material.code}/receive/", {
            "lot_number": f"T{at}", "supplier": "Ridley", "amount": text, "cost_with_carriage": "12.50", "received_on": "today", "key": str(uuid4()),
        }, beside="amount")
        taken += received
        assert Lot.objects.count() == before + received, text
    assert taken > 0


@pytest.mark.parametrize(("field", "kind"), [("cost_with_carriage", "money"), ("received_on", "date"), ("expires_on", "date"), ("lot_number", "count")])
def test_what_else_is_received_with_it(at_owner, shop, field, kind):
    for at, text in enumerate(a_spread(kind, 6)):
        answered(at_owner, f"/stockroom/{shop.sugar.code}/receive/", {
            "lot_number": f"U{field}{at}", "supplier": "Ridley", "amount": "500 g", "cost_with_carriage": "12.50", "received_on": "today", "key": str(uuid4()),
            field: text,
        }, beside=field)


@pytest.mark.parametrize(("field", "kind"), [("size_text", "size"), ("quantity", "count")])
def test_a_line_of_an_order(at_owner, shop, field, kind):
    for text in a_spread(kind, 9):
        answered(at_owner, "/jobs/new/", typed(shop, {field: text}))


@pytest.mark.parametrize(("field", "kind"), [("discount", "money"), ("due_on", "date"), ("bought-0-cost", "money")])
def test_what_else_an_order_says(at_owner, shop, field, kind):
    for text in a_spread(kind, 12):
        answered(at_owner, "/jobs/new/", typed(shop, {}, **{"discount_reason": "friend", "bought-0-name": "frame", "bought-0-cost": "30", field: text}))


@pytest.mark.parametrize("material", ["Dextrose", "Distilled water", "glass"])
def test_a_pasted_delivery(at_owner, shop, material):
    name = shop.glass.name if material == "glass" else material
    for at, text in enumerate(dict.fromkeys([*a_spread("sheets" if material == "glass" else "mass", 6), *SEEN[::5 * THINNER]])):
        for line in (f"{name}\tV{at}\t{text}\t12.50", f"{name}\tV{at}\t500 g\t{text}", f"{name}\tV{at}\t500 g\t12.50\t{text}"):
            answered(at_owner, "/stockroom/receive/", {"supplier": "Ridley", "received_on": "today", "carriage": "0", "share_by": "value", "table": line,
                                                       "key": str(uuid4())})
        answered(at_owner, "/stockroom/receive/note/", {"note": f"Ridley Chemicals\n{text} {name} lot V{at} £12.50\n2 x {text} {name} @ {text}\nCarriage {text}"})


@pytest.mark.parametrize("what", ["glass", "sugar", "water"])
def test_what_is_ordered_taken_and_thrown_away(at_owner, shop, what):
    material = getattr(shop, what)
    lot = Lot.objects.filter(material=material).first()
    container = WasteContainer.objects.create(name="S-1", meant_for="rinse", opened_on=today())
    for text in a_spread("sheets" if what == "glass" else "mass", 7):
        for path, data, field in (
            ("/stockroom/buying/ordered/", {"material": material.pk, "supplier": "Ridley", "amount": text}, "amount"),
            ("/stockroom/buying/ordered/", {"material": material.pk, "supplier": "Ridley", "amount": "5", "due_on": text}, "due_on"),
            (f"/stockroom/lots/{lot.pk}/discard/", {"why": "spilt", "amount": text, "saves": ""}, ""),
            (f"/stockroom/lots/{lot.pk}/return/", {"why": "wrong", "amount": text, "saves": ""}, ""),
            (f"/stockroom/waste/{container.pk}/put-in/", {"what": "rinse", "volume": text, "silver": "0", "none_apply": "on"}, "volume"),
            (f"/stockroom/waste/{container.pk}/put-in/", {"what": "rinse", "volume": "1 L", "silver": text, "ph": text}, "silver"),
            ("/stockroom/prices/check/", {"table": f"{material.name}\t{text}\t12.50\n{material.name}\t1 kg\t{text}"}, ""),
            ("/stockroom/offcuts/", {"material": shop.glass.pk, "size": text, "place": "rack"}, "size"),
        ):
            answered(at_owner, path, {**data, "key": str(uuid4())}, beside=field)


@pytest.mark.parametrize(("field", "kind"), [("amount", "money"), ("due_on", "date"), ("note", "count")])
def test_money_that_is_asked_for(at_owner, shop, field, kind):
    job = shop.booked()
    for text in a_spread(kind, 9):
        sent = {"amount": "1.00", "due_on": "", "note": "", "key": str(uuid4()), field: text}
        answered(at_owner, f"/jobs/{job.number}/requests/deposit/", sent, beside=f"ask-deposit-{field}")


@pytest.mark.parametrize("field", ["first", "last"])
def test_the_days_of_a_closed_month(at_owner, shop, field):
    for text in a_spread("date", 9):
        answer = at_owner.get("/jobs/money/month/tax/", {"first": "1 Jan 2026", "last": "today", field: text})
        assert answer.status_code in ((400,) if "\0" in text else (200, 422)), text
