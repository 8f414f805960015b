"""A delivery that was typed wrong is undone and received again: its number, its order and its questions are free."""

from __future__ import annotations

from decimal import Decimal
from importlib import import_module

import pytest
from django.apps import apps

from studio.house.clock import today
from studio.stockroom.lots.keeping import discard
from studio.stockroom.models import Lot, Posting, Purchase
from studio.stockroom.undoing import undo_posting
from studio.stockroom.undone_receipts import undone_number
from studio.whole.audit import audit
from tests import builders
from tests.stockroom.shop import on_hand

pytestmark = pytest.mark.django_db


def delivered(client, amount: str, **more) -> Lot:
    answer = client.post("/stockroom/receive/", {
        "supplier": "Quay", "received_on": today().isoformat(), "share_by": "value", "key": builders.key(),
        "table": f"Dextrose,ZZ1,{amount},9\n", **more})
    assert answer.status_code == 302, answer.content.decode()
    return Lot.objects.latest("pk")


def receipt(lot: Lot) -> Posting:
    return lot.movements.get(kind="receipt", reverses=None).posting


def undone(client, lot: Lot, key=None):
    return client.post(f"/stockroom/postings/{receipt(lot).pk}/undo/", {"key": key or builders.key(), "why": "grams"})


def test_a_lot_with_a_wrong_amount_is_received_again_under_the_number_of_its_label(at_owner, shop):
    wrong = delivered(at_owner, "5 kg")
    before = at_owner.get(f"/stockroom/postings/{receipt(wrong).pk}/undo/").content.decode()
    assert "The number ZZ1 is free again" in before
    undone(at_owner, wrong)
    alone = at_owner.get(f"/stockroom/lots/{wrong.pk}/").content.decode()
    assert "The number ZZ1 is free" in alone
    right = delivered(at_owner, "500 g")
    assert (right.lot_number, right.pk != wrong.pk, on_hand(right)) == ("ZZ1", True, 500)
    wrong.refresh_from_db()
    assert (wrong.lot_number, on_hand(wrong)) == ("ZZ1 (undone)", 0)
    assert wrong.standing_on(today()) == "undone"
    pages = [at_owner.get(address).content.decode() for address in
             (f"/stockroom/lots/{wrong.pk}/", f"/stockroom/{wrong.material.code}/", "/find/?q=ZZ1")]
    assert all("undone" in page and "used up" not in page for page in pages)
    scanned = at_owner.get(f"/stockroom/lots/{wrong.pk}/").content.decode()
    assert f'href="/stockroom/lots/{right.pk}/"' in scanned, "the label that was printed leads to the lot of today"
    assert "was lot ZZ1 until then" in scanned
    assert "Its receipt was undone" not in at_owner.get(f"/stockroom/lots/{right.pk}/").content.decode()
    undone(at_owner, right)
    right.refresh_from_db()
    assert right.lot_number == "ZZ1 (undone 2)"
    assert audit() == []


def test_the_order_that_an_undone_delivery_closed_is_awaited_again(at_owner, shop):
    order = Purchase.objects.create(material=shop.sugar, quantity=Decimal(500), ordered_on=today(), supplier="Quay",
                                    form_key=builders.key())
    lot = delivered(at_owner, "5 kg", awaited=[order.pk])
    assert "The order of 500 g Dextrose is awaited again" in at_owner.get(
        f"/stockroom/postings/{receipt(lot).pk}/undo/").content.decode()
    undone(at_owner, lot)
    order.refresh_from_db()
    assert order.lot is None
    again = delivered(at_owner, "500 g", awaited=[order.pk])
    order.refresh_from_db()
    assert order.lot == again


def test_undo_pressed_twice_answers_twice_alike_and_another_time_refuses(at_owner, shop):
    lot = delivered(at_owner, "5 kg")
    key = builders.key()
    answers = [undone(at_owner, lot, key) for _ in range(2)]
    assert [(answer.status_code, answer["Location"]) for answer in answers] == [(302, f"/stockroom/lots/{lot.pk}/")] * 2
    assert on_hand(lot) == 0
    refused = undone(at_owner, lot)
    assert refused.status_code == 422
    assert "undone already" in refused.content.decode()


def test_an_undone_slip_does_not_make_the_next_one_usual(at_owner, shop):
    slip = {"amount": "500 kg", "supplier": "Quay", "lot_number": "Q1", "cost_with_carriage": "9",
            "received_on": today().isoformat(), "expires_on": ""}
    address = f"/stockroom/{shop.sugar.code}/receive/"
    asked = at_owner.post(address, slip | {"key": builders.key()})
    assert "100 times any delivery" in asked.content.decode()
    undone(at_owner, delivered(at_owner, "", table="Dextrose,ZZ1,50 kg,90\n"))
    assert "100 times any delivery" in at_owner.post(address, slip | {"key": builders.key()}).content.decode()


def test_a_whole_delivery_is_undone_at_once_or_one_lot_of_it_and_the_page_says_which(at_owner, shop):
    table = "Dextrose,ZZ1,5 kg,45\nDextrose,ZZ2,500 g,4.50\nDextrose,ZZ3,500 g,4.50\n"
    last = delivered(at_owner, "", table=table, carriage="6")
    lots = {lot.lot_number: lot for lot in last.delivery.lots.all()}
    page = at_owner.get(f"/stockroom/postings/{receipt(last).pk}/undo/").content.decode()
    assert "came with 2 other lots of Quay" in " ".join(page.split())
    assert "carriage of €6.00 is shared over them" in " ".join(page.split())
    undone(at_owner, lots["ZZ2"])
    assert [on_hand(lots[number]) for number in ("ZZ1", "ZZ2", "ZZ3")] == [5000, 0, 500], "the others stay"
    discard(key=builders.key(), lot=lots["ZZ3"], by=shop.owner, amount=Decimal(10), why="spilt")
    slip = {"key": builders.key(), "why": "another studio's", "whole": "on"}
    refused = at_owner.post(f"/stockroom/postings/{receipt(lots['ZZ1']).pk}/undo/", slip)
    assert refused.status_code == 422
    assert "lot ZZ3 only 490 g is left" in refused.content.decode()
    assert [on_hand(lots[number]) for number in ("ZZ1", "ZZ3")] == [5000, 490], "all of it or nothing"
    slip |= {"whole": ""} | {"key": builders.key()}
    again = delivered(at_owner, "", table="Dextrose,Y1,1 kg,9\nDextrose,Y2,1 kg,9\n")
    for _ in range(2):  # pressed twice
        answer = at_owner.post(f"/stockroom/postings/{receipt(again).pk}/undo/", slip)
    assert answer.status_code == 302
    assert "The numbers Y2, Y1 are free again" in at_owner.get(answer["Location"]).content.decode()
    assert {on_hand(lot) for lot in again.delivery.lots.all()} == {0}
    assert audit() == []


def test_receipts_undone_before_give_their_numbers_back_by_the_upgrade(shop, owner):
    kept, gone = builders.lot(shop.sugar, "10", owner, "J7"), builders.lot(shop.sugar, "10", owner, "J8")
    order = Purchase.objects.create(material=shop.sugar, quantity=Decimal(10), ordered_on=today(), form_key=builders.key())
    undo_posting(key=builders.key(), posting=receipt(gone), by=owner, why="slip")
    Lot.objects.filter(pk=gone.pk).update(lot_number="J8")
    Purchase.objects.filter(pk=order.pk).update(lot=gone)
    import_module("studio.stockroom.migrations.0016_an_undone_receipt_gives_its_number_back").give_back(apps, None)
    assert set(Lot.objects.filter(pk__in=(kept.pk, gone.pk)).values_list("lot_number", flat=True)) == {"J7", "J8 (undone)"}
    assert Purchase.objects.get().lot is None


def test_a_long_number_stays_within_its_field():
    assert undone_number("x" * 40, set()) == f"{'x' * 31} (undone)"
    assert undone_number("A7", {"a7 (undone)"}) == "A7 (undone 2)"
