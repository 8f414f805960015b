"""A pasted delivery: read as on the labels, carriage shared, all of it or nothing."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import given
from hypothesis import strategies as st

from studio.house.clock import today
from studio.stockroom.deliveries.receiving import costs_with_carriage, read_table, receive_delivery
from studio.stockroom.ledger import LedgerError
from studio.stockroom.models import Delivery, Lot, Purchase
from studio.whole.audit import audit
from tests import builders
from tests.asking import error_beside, tick_beside

pytestmark = pytest.mark.django_db


def test_a_pasted_delivery_is_read_as_on_the_labels(shop):
    lines, wrong = read_table(
        "Material\tLot\tAmount\tPrice\tExpiry\n"
        "Silver nitrate\tS9\t500 g\t712.40\t2029-01-31\n"
        "Ammonia 28 %\tA9\t12 x 32 US fl oz\t96\n"
        "Dextrose\tD9\t2 lb\t9.50\n"
        "ammonia 28 %\tA10\t900 g\t12\n"
    )
    assert wrong == []
    # 12 × 32 US fl oz (NIST SP 811); 900 g at 0.9 g/mL
    assert [line.amount for line in lines] == [Decimal(500), Decimal("11356.235"), Decimal("907.185"), Decimal(1000)]
    assert (lines[0].price, str(lines[0].expires_on)) == (Decimal("712.4"), "2029-01-31")


def test_prices_are_read_as_money_is_everywhere(shop):
    lines, wrong = read_table("material\tlot\tamount\tprice\n" + "\n".join(
        f"Dextrose\tP{at}\t1 kg\t{price}" for at, price in enumerate(("€24.00", "1,176.00", "1176,5", "24 EUR", "0"))))
    assert wrong == []
    assert [line.price for line in lines] == [Decimal(24), Decimal(1176), Decimal("1176.5"), Decimal(24), 0]
    _, wrong = read_table("Dextrose;P1;1 kg;£24.00\nDextrose;P2;1 kg;-3\nDextrose;P3;1 kg;1.176\nDextrose;P4;1 kg;")
    assert [cell.column for cell in wrong] == ["price"] * 4
    assert [cell.why.partition(":")[0] for cell in wrong] == [
        "“£24.00” is not in the studio's currency, EUR", "A price is not below nothing.", "“1.176” may be 1.176 or 1,176",
        "Give the price of the whole line, net."]


def test_wrong_rows_are_listed_and_nothing_is_saved(at_owner, shop):
    table = ("Silver nitrate,S1,500 g,700\nMoon dust,M1,5 g,3\nDextrose,,2 lb,9\nDextrose,D2,some,9\nDextrose,D3,1 kg,dear\n"
             "Dextrose,D4,1 kg,9,soon\nAmmonia 28 %,A2,32 oz,9\nDextrose,D5,1 kg,9\nDextrose,D5,1 kg,9\n")
    _, wrong = read_table(table)
    assert [(mistake.row, mistake.column) for mistake in wrong] == [
        (1, "lot"), (2, "material"), (3, "lot"), (4, "amount"), (5, "price"), (6, "expires"), (7, "amount"), (9, "lot")]
    answer = at_owner.post("/stockroom/receive/", {"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value",
                                                   "table": table, "key": builders.key()})
    assert answer.status_code == 422
    shown = answer.content.decode()
    for sentence in ("Row 2, material: There is no material “Moon dust”", "“US fl oz”", "Row 9, lot: The same lot is in row 8"):
        assert sentence in shown
    assert "Moon dust,M1,5 g,3" in shown
    assert not Delivery.objects.exists()


@pytest.mark.parametrize(("share", "costs"), [
    # 10.00 over prices 100, 50, 1: 6.62, 3.31, 0.07 by largest remainder; over 500 g, 900 g, 1000 g of it
    ("value", ["106.62", "53.31", "1.07"]), ("mass", ["102.08", "53.75", "5.17"]),
])
def test_carriage_is_shared_to_the_penny(shop, owner, share, costs):
    lines, _ = read_table("Silver nitrate,S9,500 g,100\nAmmonia 28 %,A9,1000 mL,50\nDextrose,D9,1000 g,1\n")
    delivery = receive_delivery(key=builders.key(), by=owner, supplier="Quay", received_on=today(), lines=lines,
                                carriage=Decimal(10), share_by=share)
    assert [lot.cost_with_carriage for lot in delivery.lots.order_by("pk")] == [Decimal(cost) for cost in costs]
    assert audit() == []


@given(st.lists(st.decimals(0, 500, places=2), min_size=1, max_size=8), st.decimals(0, 99, places=2))
def test_cost_with_carriages_sum_to_prices_and_carriage(prices, carriage):
    from studio.stockroom.deliveries.receiving import DeliveryLine

    lines = [DeliveryLine(row=n, material=None, lot_number=str(n), amount=Decimal(1), price=price) for n, price in enumerate(prices)]
    assert sum(costs_with_carriage(lines, carriage, "value")) == sum(prices) + carriage


def test_a_delivery_counts_once_and_by_mass_needs_a_mass(shop, owner):
    lines, _ = read_table("Silver nitrate,S9,500 g,100\n")
    key = builders.key()
    both = [receive_delivery(key=key, by=owner, supplier="Quay", received_on=today(), lines=lines) for _ in range(2)]
    assert both[0] == both[1]
    assert Lot.objects.filter(lot_number="S9").count() == 1
    lines, _ = read_table("Clear sealer,C9,500 mL,20\n")
    with pytest.raises(LedgerError, match="Clear sealer has no mass"):
        receive_delivery(key=builders.key(), by=owner, supplier="Quay", received_on=today(), lines=lines,
                         carriage=Decimal(5), share_by="mass")
    assert not Lot.objects.filter(lot_number="C9").exists()


def test_a_delivery_sent_again_by_the_browsers_back_is_said_to_be_there(at_owner, shop):
    sent = {"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value", "key": builders.key(),
            "table": "Dextrose,D9,1 kg,9\n"}
    assert at_owner.post("/stockroom/receive/", sent).status_code == 302
    again = at_owner.post("/stockroom/receive/", sent, follow=True).content.decode()
    assert "This delivery of 1 lot from Quay was received already, on" in again
    assert "D9-2" not in again
    other = at_owner.post("/stockroom/receive/", sent | {"key": builders.key()}).content.decode()
    assert f"Dextrose has a lot D9 already, received on {today():%d %b %Y}" in other
    assert Lot.objects.filter(lot_number__startswith="D9").count() == 1


def test_what_was_ordered_is_closed_by_the_delivery_it_came_in(at_owner, shop):
    ordered = Purchase.objects.create(material=shop.silver, quantity=Decimal(500), ordered_on=today(), supplier="Quay",
                                      form_key=builders.key())
    offered = at_owner.get(f"/stockroom/receive/?awaited={ordered.pk}").content.decode()
    assert "Silver nitrate\t\t500 g\t" in offered
    sent = {"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value", "awaited": [ordered.pk],
            "table": "Dextrose,D9,1 kg,9\n", "key": builders.key()}
    refused = at_owner.post("/stockroom/receive/", sent)
    assert (refused.status_code, Delivery.objects.count()) == (422, 0)
    assert "The order of Silver nitrate is ticked, but no line holds it" in refused.content.decode()
    assert at_owner.post("/stockroom/receive/", sent | {"table": "Dextrose,D9,1 kg,9\nSilver nitrate,S9,500 g,700\n"}).status_code == 302
    ordered.refresh_from_db()
    assert ordered.lot.lot_number == "S9"
    assert 'name="awaited"' not in at_owner.get("/stockroom/receive/").content.decode()


def test_the_lots_table_can_be_received_again(at_owner, shop):
    table = at_owner.get("/stockroom/tables/lots.csv").getvalue().decode()
    Lot.objects.all()  # the same lots are there: every row is refused for that alone
    _, wrong = read_table(table)
    assert {mistake.column for mistake in wrong} == {"lot"}
    fresh = table.replace(",S1,", ",S77,").replace(",W1,", ",W77,").replace(",A1,", ",A77,").replace(",D1,", ",D77,") \
        .replace(",C1,", ",C77,").replace(",G1,", ",G77,")
    lines, wrong = read_table(fresh)
    assert wrong == []
    assert {(line.material.name, line.amount, line.price) for line in lines} == {
        (lot.material.name, lot.quantity_received, lot.cost_with_carriage) for lot in Lot.objects.select_related("material")}


@pytest.mark.parametrize("as_file", [False, True])
def test_a_delivery_a_hundred_times_any_before_is_asked_once(at_owner, shop, as_file):
    """The largest silver nitrate so far was 500 g: 50 kg is a slip of the unit until somebody says that it is not."""
    lines = "Silver nitrate,S9,50 kg,70000\nDextrose,D9,1 kg,9\n"
    sent = {"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value", "key": builders.key()}
    first = sent | ({"file": SimpleUploadedFile("lines.csv", lines.encode())} if as_file else {"table": lines})
    asked = at_owner.post("/stockroom/receive/", first)
    page = asked.content.decode()
    assert (asked.status_code, Delivery.objects.count()) == (422, 0)
    assert "50.0 kg of Silver nitrate is 100 times any delivery before" in error_beside(page, "table")
    assert "the largest was 500 g" in error_beside(page, "table")
    assert "Silver nitrate,S9,50 kg,70000" in page
    tick = tick_beside(page, "table")
    more = lines.replace("50 kg", "60 kg")
    assert at_owner.post("/stockroom/receive/", sent | tick | {"table": more}).status_code == 422
    returned = lines.replace("\n", "\r\n")  # as a browser sends it
    assert at_owner.post("/stockroom/receive/", sent | tick | {"table": returned}).status_code == 302
    assert Delivery.objects.get().lots.count() == 2


def test_less_than_a_hundred_times_and_a_first_delivery_are_asked_nothing(at_owner, shop):
    builders.material("Moon dust")
    sent = {"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value", "key": builders.key(),
            "table": "Silver nitrate,S9,49.9 kg,69000\nMoon dust,M1,900 kg,90000\n"}
    assert at_owner.post("/stockroom/receive/", sent).status_code == 302


def test_one_lot_a_hundred_times_any_before_is_asked_too(at_owner, shop):
    address = f"/stockroom/{shop.silver.code}/receive/"
    sent = {"lot_number": "S9", "amount": "50 kg", "cost_with_carriage": "70000", "received_on": today().isoformat(),
            "key": builders.key()}
    asked = at_owner.post(address, sent)
    assert asked.status_code == 422
    assert "100 times any delivery before" in error_beside(asked.content.decode(), "amount")
    assert not Lot.objects.filter(lot_number="S9").exists()
    assert at_owner.post(address, sent | tick_beside(asked.content.decode(), "amount")).status_code == 302
    assert Lot.objects.get(lot_number="S9").quantity_received == 50_000
