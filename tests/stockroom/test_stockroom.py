"""The stockroom at work: received, opened, held, counted, discarded, made up, put into waste; each rule refuses in words."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from io import BytesIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from recipes.models import Solution
from recipes.solutions.mixing_ahead import CannotBeKept, keep_leftover, mix_ahead
from recipes.solutions.rules import NeverStored
from studio.house.clock import now, today
from studio.stockroom.counts.counting import note_counts, post_count, start_count
from studio.stockroom.deliveries.receiving import cost_with_carriages, read_table, receive_delivery
from studio.stockroom.hazards import PAIRS_THAT_ENDANGER
from studio.stockroom.labels.sizes import SIZES, sheets
from studio.stockroom.ledger import LedgerError, Movement, NotEnough, post
from studio.stockroom.lots.keeping import discard, hold_lot, open_lot, release_lot, return_to_supplier
from studio.stockroom.models import Delivery, Lot, LotEvent, Posting, Purchase, StockMovement, WasteContainer
from studio.stockroom.outlook import days_of_cover, endangered, level_chart, used_a_day
from studio.stockroom.storage import Stored, stored_together
from studio.stockroom.tables import as_csv, guarded
from studio.stockroom.waste.containers import WasteRefused, contents, hand_over, put_in, silver_returned
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def on_hand(lot: Lot) -> Decimal:
    return Lot.objects.get(pk=lot.pk).level.on_hand


def use(lot: Lot, amount: str, by) -> Posting:
    return post(key=builders.key(), kind="run", by=by, movements=[
        Movement(lot=lot, kind="use", quantity=-Decimal(amount), unit_cost=lot.unit_cost)])


# Receiving -------------------------------------------------------------------------------------------------------------

def test_a_pasted_delivery_is_read_as_on_the_labels(shop):
    lines, wrong = read_table(
        "Material\tLot\tAmount\tPrice\tExpiry\n"
        "Silver nitrate\tS9\t500 g\t712.40\t2029-01-31\n"
        "Ammonia 28 %\tA9\t12 x 32 fl oz\t96\n"
        "Dextrose\tD9\t2 lb\t9.50\n"
        "ammonia 28 %\tA10\t900 g\t12\n"
    )
    assert wrong == []
    # 12 × 32 US fl oz (NIST SP 811); 900 g at 0.9 g/mL
    assert [line.amount for line in lines] == [Decimal(500), Decimal("11356.235"), Decimal("907.185"), Decimal(1000)]
    assert (lines[0].price, str(lines[0].expires_on)) == (Decimal("712.4"), "2029-01-31")


def test_wrong_rows_are_listed_and_nothing_is_posted(at_owner, shop):
    table = ("Silver nitrate,S1,500 g,700\nMoon dust,M1,5 g,3\nDextrose,,2 lb,9\nDextrose,D2,some,9\nDextrose,D3,1 kg,dear\n"
             "Dextrose,D4,1 kg,9,soon\nAmmonia 28 %,A2,32 oz,9\nDextrose,D5,1 kg,9\nDextrose,D5,1 kg,9\n")
    _, wrong = read_table(table)
    assert [(one.row, one.column) for one in wrong] == [
        (1, "lot"), (2, "material"), (3, "lot"), (4, "amount"), (5, "price"), (6, "expires"), (7, "amount"), (9, "lot")]
    answer = at_owner.post("/stockroom/receive/", {"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value",
                                                   "table": table, "key": builders.key()})
    assert answer.status_code == 422
    shown = answer.content.decode()
    for told in ("Row 2, material: “Moon dust” is no material here", "write “fl oz”", "Row 9, lot: The same lot stands in row 8"):
        assert told in shown
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
    assert sum(cost_with_carriages(lines, carriage, "value")) == sum(prices) + carriage


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


def test_what_was_ordered_is_closed_by_the_delivery_it_came_in(at_owner, shop):
    ordered = Purchase.objects.create(material=shop.silver, quantity=Decimal(500), ordered_on=today(), supplier="Quay",
                                      form_key=builders.key())
    offered = at_owner.get(f"/stockroom/receive/?awaited={ordered.pk}").content.decode()
    assert "Silver nitrate\t\t500 g\t" in offered
    sent = {"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value", "awaited": [ordered.pk],
            "table": "Dextrose,D9,1 kg,9\n", "key": builders.key()}
    refused = at_owner.post("/stockroom/receive/", sent)
    assert (refused.status_code, Delivery.objects.count()) == (422, 0)
    assert "Silver nitrate is ticked as come, but is in no line" in refused.content.decode()
    assert at_owner.post("/stockroom/receive/", sent | {"table": "Dextrose,D9,1 kg,9\nSilver nitrate,S9,500 g,700\n"}).status_code == 302
    ordered.refresh_from_db()
    assert ordered.lot.lot_number == "S9"
    assert 'name="awaited"' not in at_owner.get("/stockroom/receive/").content.decode()


def test_the_lots_table_can_be_received_again(at_owner, shop):
    table = at_owner.get("/stockroom/tables/lots.csv").content.decode()
    Lot.objects.all()  # the same lots are there: every row is refused for that alone
    _, wrong = read_table(table)
    assert {one.column for one in wrong} == {"lot"}
    fresh = table.replace(",S1,", ",S77,").replace(",W1,", ",W77,").replace(",A1,", ",A77,").replace(",D1,", ",D77,") \
        .replace(",C1,", ",C77,").replace(",G1,", ",G77,")
    lines, wrong = read_table(fresh)
    assert wrong == []
    assert {(line.material.name, line.amount, line.price) for line in lines} == {
        (lot.material.name, lot.quantity_received, lot.cost_with_carriage) for lot in Lot.objects.select_related("material")}


@pytest.mark.parametrize(("cell", "safe"), [
    ("=1+1", "'=1+1"), ("+cmd", "'+cmd"), ("@SUM(A1)", "'@SUM(A1)"), ("-2+3", "'-2+3"), ("\tx", "'\tx"), ("-3.5", "-3.5"),
    ("plain", "plain"), (None, ""), (Decimal("-1"), "-1"),
])
def test_no_cell_runs_in_a_spreadsheet(cell, safe):
    assert guarded(cell) == safe
    assert as_csv(["a"], [[cell]]).startswith("a\r\n")


def test_a_price_list_goes_out_and_comes_back(at_owner, shop):
    table = at_owner.get("/stockroom/tables/materials.csv").content.decode()
    assert "0 materials changed" in at_owner.post("/stockroom/prices/", {"table": table}, follow=True).content.decode()
    changed = "material,list price,reorder point,storage place,anything\nSilver nitrate,1.55,150,oxidisers,x\nDextrose,,,,\n"
    looked = at_owner.post("/stockroom/prices/look/", {"table": changed}).content.decode()
    assert "1.55" in looked
    at_owner.post("/stockroom/prices/", {"table": changed})
    shop.silver.refresh_from_db()
    assert (shop.silver.list_price, shop.silver.reorder_point, shop.silver.storage_place) == (Decimal("1.55"), 150, "oxidisers")
    for wrong, told in (("material,list price\nMoon,1\n", "Row 2, material"), ("material,list price\nDextrose,dear\n", "“dear” is no number"),
                        ("a,b\n1,2\n", "The first row must name"), ("", "Paste the table")):
        refused = at_owner.post("/stockroom/prices/", {"table": wrong})
        assert refused.status_code == 422
        assert told in refused.content.decode()


def test_a_count_goes_out_as_a_table_and_comes_back(at_helper, shop, owner):
    from django.core.files.uploadedfile import SimpleUploadedFile

    sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=False)
    table = at_helper.get(f"/stockroom/counts/{sheet.pk}/?as=csv").content.decode()
    filled = "\r\n".join(row if at == 0 or not row else row + row.split(",")[2] for at, row in enumerate(table.split("\r\n")))
    filled = filled.replace("500 g,500 g", "500 g,488 g")
    answer = at_helper.post(f"/stockroom/counts/{sheet.pk}/", {"table": SimpleUploadedFile("c.csv", filled.encode(), "text/csv")})
    assert answer.status_code == 302
    assert not sheet.lines.filter(counted=None).exists()
    assert sheet.lines.get(lot=shop.silver_lot).counted == 488


# What is done to a lot ------------------------------------------------------------------------------------------------

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


# Counting -------------------------------------------------------------------------------------------------------------

def test_a_count_is_as_of_its_own_time(shop, owner):
    """500 g at the sheet's moment; 20 g are used before it is posted; 497 g counted then: 3 g were missing, 477 remain."""
    sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=True)
    line = sheet.lines.get(lot=shop.silver_lot)
    discard(key=builders.key(), lot=shop.silver_lot, by=owner, amount=Decimal(20), why="spilt")
    note_counts(sheet, {one.pk: one.expected for one in sheet.lines.all()})
    note_counts(sheet, {line.pk: Decimal(497)})
    for _ in range(2):
        post_count(sheet, owner)
    assert on_hand(shop.silver_lot) == 477
    assert StockMovement.objects.filter(kind="count correction").get().quantity == -3
    assert audit() == []
    with pytest.raises(LedgerError, match="was posted"):
        note_counts(sheet, {line.pk: Decimal(1)})


def test_a_count_that_cannot_be_is_refused(shop, owner):
    sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=False)
    with pytest.raises(LedgerError, match="not counted yet"):
        post_count(sheet, owner)
    note_counts(sheet, {one.pk: one.expected for one in sheet.lines.all()})
    note_counts(sheet, {sheet.lines.get(lot=shop.silver_lot).pk: Decimal(0)})
    use(shop.silver_lot, "20", owner)
    with pytest.raises(LedgerError, match="holds less than that now"):
        post_count(sheet, owner)
    assert not Posting.objects.filter(kind="count").exists()
    with pytest.raises(LedgerError, match="nothing to count"):
        start_count(key=builders.key(), by=owner, place="the moon", hide_expected=True)


def test_a_blind_sheet_does_not_tell(at_helper, at_owner, shop, owner):
    for hide_expected, told in ((True, False), (False, True)):
        sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=hide_expected)
        text = "".join(page.extract_text() for page in PdfReader(BytesIO(
            at_helper.get(f"/stockroom/counts/{sheet.pk}/sheet.pdf").content)).pages)
        assert ("500 g" in text) is told
        assert ("500 g" in at_helper.get(f"/stockroom/counts/{sheet.pk}/").content.decode()) is told
    line = sheet.lines.get(lot=shop.silver_lot)
    bad = at_helper.post(f"/stockroom/counts/{sheet.pk}/", {f"line-{line.pk}": "a lot"})
    assert bad.status_code == 422
    assert "was not understood" in bad.content.decode()
    all_of_them = {f"line-{one.pk}": f"{one.expected} {one.lot.material.stock_unit}" for one in sheet.lines.select_related("lot__material")}
    at_helper.post(f"/stockroom/counts/{sheet.pk}/", all_of_them | {f"line-{line.pk}": "0.49 kg"})
    refused = at_helper.post(f"/stockroom/counts/{sheet.pk}/post/", all_of_them | {f"line-{line.pk}": "0.49 kg"})
    assert refused.status_code == 403
    assert on_hand(shop.silver_lot) == 500
    assert "14.00" in at_owner.get(f"/stockroom/counts/{sheet.pk}/").content.decode()  # 10 g at 700 / 500 g
    at_owner.post(f"/stockroom/counts/{sheet.pk}/post/", all_of_them | {f"line-{line.pk}": "0.49 kg"})
    assert on_hand(shop.silver_lot) == 490


# Making up -------------------------------------------------------------------------------------------------------------

def test_made_up_ahead_it_carries_its_cost_and_its_expiry(at_helper, shop, owner):
    """Reducer: 9 g of dextrose and water in a litre. 500 mL take 4.5 g at 9 / 1000 a g and 500 mL at 50 / 100,000 a mL."""
    key = builders.key()
    for _ in range(2):
        lot = mix_ahead(key=key, by=owner, version=shop.reducer, volume_ml=Fraction(500), day=today())
    assert (lot.quantity_received, lot.cost_with_carriage) == (Decimal(500), Decimal("0.2905"))
    assert lot.expires_on == (now() + timedelta(days=1)).date()
    assert on_hand(shop.lots[2]) == Decimal("995.5")
    assert lot.made.solution_version == shop.reducer
    assert audit() == []
    answer = at_helper.post("/finishes/solutions/reducer/1/mix-ahead/", {"volume": "1 L", "key": builders.key()}, follow=True)
    assert "is on the shelf" in answer.content.decode()
    too_much = at_helper.post("/finishes/solutions/reducer/1/mix-ahead/", {"volume": "900 L", "key": builders.key()}, follow=True)
    assert "Nothing was mixed" in too_much.content.decode()


def test_ammoniacal_silver_is_never_made_up_whoever_asks(at_owner, shop, owner):
    for version in (shop.silver_part, builders.solution("Hidden", {"nested": shop.silver_part, "amount": 100}, {"material": shop.water},
                                                      keeps_minutes=None)):
        with pytest.raises(NeverStored):
            mix_ahead(key=builders.key(), by=owner, version=version, volume_ml=Fraction(100), day=today())
        with pytest.raises(NeverStored):
            keep_leftover(key=builders.key(), by=owner, version=version, volume_ml=Fraction(1), mixed_at=now(), why="left")
    once = builders.solution("Once", {"material": shop.water}, keeps_minutes=None)
    with pytest.raises(CannotBeKept):
        mix_ahead(key=builders.key(), by=owner, version=once, volume_ml=Fraction(100), day=today())
    assert "Mix ahead" not in at_owner.get("/finishes/solutions/silver-part/1/").content.decode()
    assert not Lot.objects.filter(made_here=True).exists()
    assert Solution.objects.get(name="Silver part").material is None


def test_a_nested_solution_is_drawn_from_its_lot_of_just_that_version(shop, owner):
    stock = builders.solution("Tin stock", {"material": shop.sugar, "amount": 60, "unit": "g"}, {"material": shop.water})
    wash = builders.solution("Wash", {"nested": stock, "amount": 20}, {"material": shop.water})
    made = mix_ahead(key=builders.key(), by=owner, version=stock, volume_ml=Fraction(100), day=today())
    mix_ahead(key=builders.key(), by=owner, version=wash, volume_ml=Fraction(1000), day=today())
    assert on_hand(made) == 80
    sugar = on_hand(shop.lots[2])
    mix_ahead(key=builders.key(), by=owner, version=wash, volume_ml=Fraction(5000), day=today())  # 100 mL: the lot holds less
    assert on_hand(made) == 80
    assert on_hand(shop.lots[2]) == sugar - 6
    other = builders.SolutionVersion.objects.create(solution=stock.solution, number=2, keeps_minutes=Decimal(1440))
    builders.Ingredient.objects.create(solution_version=other, number=1, material=shop.water, make_up=True, unit="mL")
    outer = builders.solution("Outer wash", {"nested": other, "amount": 20}, {"material": shop.water})
    mix_ahead(key=builders.key(), by=owner, version=outer, volume_ml=Fraction(1000), day=today())
    assert on_hand(made) == 80  # of another version: not taken
    assert audit() == []


# Waste -----------------------------------------------------------------------------------------------------------------

@pytest.fixture
def drum(db):
    return WasteContainer.objects.create(name="S-1", meant_for="silver-bearing rinse", opened_on=today() - timedelta(days=40))


@pytest.mark.parametrize("pair", [one for one in PAIRS_THAT_ENDANGER if "waste" in one.stops], ids=lambda one: one.name)
def test_pairs_that_endanger_never_meet_in_a_container(owner, drum, pair):
    first, second = sorted(pair.first)[0], sorted(pair.second)[0]
    put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=[first], volume_ml=Decimal(100))
    with pytest.raises(WasteRefused) as refusal:
        put_in(key=builders.key(), container=drum, by=owner, what="more", agents=[second], volume_ml=Decimal(100))
    assert pair.source in str(refusal.value)
    assert drum.entries.count() == 1


def test_nothing_ammoniacal_goes_in_before_it_is_made_safe(at_helper, owner, drum, house):
    both = ["silver_salt", "ammonia"]
    with pytest.raises(WasteRefused, match="before it is made safe"):
        put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=both, volume_ml=Decimal(100))
    sent = {"what": "First rinse of job 4", "volume": "1.5 L", "silver": "2.4", "agents": both, "key": builders.key()}
    assert at_helper.post(f"/stockroom/waste/{drum.pk}/put-in/", sent).status_code == 422
    for _ in range(2):
        assert at_helper.post(f"/stockroom/waste/{drum.pk}/put-in/", sent | {"made_safe": "on"}).status_code == 302
    held = contents(drum.entries.all())
    assert (held.volume_ml, held.silver_g) == (1500, Decimal("2.4"))
    assert [pair.name for pair in held.cautions] == ["silver salt and ammonia"]


def test_a_container_is_handed_over_and_silver_comes_back(at_owner, at_helper, owner, drum, house):
    house.waste_days_open = 30
    house.save()
    assert "the house's limit is 30" in at_owner.get("/stockroom/waste/").content.decode()
    put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=["silver_salt"], volume_ml=Decimal(100), silver_g=Decimal(3))
    with pytest.raises(WasteRefused, match="after a container was handed over"):
        silver_returned(drum, on=today(), grams=Decimal(1))
    assert at_helper.post(f"/stockroom/waste/{drum.pk}/hand-over/", {"handed_on": today().isoformat(), "handed_to": "Me"}).status_code == 403
    at_owner.post(f"/stockroom/waste/{drum.pk}/hand-over/", {"handed_on": today().isoformat(), "handed_to": "Ebb Refiners", "saves": 2})
    drum.refresh_from_db()
    with pytest.raises(WasteRefused, match="was handed over"):
        put_in(key=builders.key(), container=drum, by=owner, what="late", agents=[], volume_ml=Decimal(1))
    with pytest.raises(WasteRefused, match="already"):
        hand_over(drum, on=today(), to="Again")
    silver_returned(drum, on=today(), grams=Decimal("2.2"))
    shown = at_owner.get("/stockroom/silver-account/").content.decode()
    assert "2.2 g came back" in shown


# Storage, labels, outlook -----------------------------------------------------------------------------------------------

def test_what_must_stand_apart(at_helper, at_owner, shop):
    found = stored_together([
        Stored(name="Acid", place="Cabinet 1", agents=frozenset({"acid"})), Stored(name="Liver", place="cabinet 1", agents=frozenset({"sulfide"})),
        Stored(name="Lye", place="Cabinet 1", agents=frozenset({"caustic"})), Stored(name="Lye 2", place="Elsewhere", agents=frozenset({"caustic"})),
        Stored(name="Unplaced", place="", agents=frozenset({"acid"})),
    ])
    assert [(one.first, one.second, one.stops) for one in found] == [("Acid", "Liver", True), ("Acid", "Lye", False)]
    assert all(one.pair.source in one.sentence for one in found)
    for row, agents in ((shop.silver, ["silver_salt"]), (shop.ammonia, ["ammonia"])):
        row.storage_place, row.reacts_as = "one shelf", agents
        row.save()
    assert "should not share a place" in at_helper.get("/stockroom/storage/").content.decode()
    assert "should not share a place" in at_helper.get("/stockroom/").content.decode()
    shop.sugar.reacts_as, shop.sugar.storage_place = ["ammonia"], "one shelf"
    shop.sugar.save()
    looked = at_owner.post("/stockroom/receive/look/", {"supplier": "Q", "received_on": today().isoformat(), "share_by": "value",
                                                   "table": "Dextrose,D9,1 kg,9\n", "key": builders.key()})
    assert "Dextrose and Silver nitrate stand together in one shelf" in looked.content.decode()


def test_the_deadly_are_stopped_when_received_and_when_moved(at_owner, shop, owner):
    bleach = builders.material("Bleach", "mL", reacts_as=["hypochlorite"], storage_place="low shelf")
    shop.ammonia.storage_place = "low shelf"
    shop.ammonia.save()
    sent = {"supplier": "Q", "received_on": today().isoformat(), "share_by": "value", "table": "Bleach,B1,1 L,9\n", "key": builders.key()}
    stopped = at_owner.post("/stockroom/receive/", sent)
    assert stopped.status_code == 422
    assert "chloramines" in stopped.content.decode()
    assert not bleach.lots.exists()
    bleach.storage_place = "elsewhere"
    bleach.save()
    assert at_owner.post("/stockroom/receive/", sent).status_code == 302
    moved = at_owner.post("/stockroom/bleach/edit/", {"name": "Bleach", "kind": "chemical", "stock_unit": "mL", "liquid": "on", "saves": 1,
                                                      "reacts_as": ["hypochlorite"], "storage_place": "Low shelf"})
    assert moved.status_code == 422
    assert "chloramines" in moved.content.decode()
    bleach.refresh_from_db()
    assert bleach.storage_place == "elsewhere"


@pytest.mark.parametrize("size", SIZES.values(), ids=lambda size: size.key)
def test_labels_fit_their_page(at_helper, shop, size):
    shop.silver.pictograms, shop.silver.signal_word = ["GHS03", "GHS05", "GHS09"], "Danger"
    shop.silver.hazard_statements = ["H272", "H314", "H410"]
    shop.silver.save()
    pages = {"A4": (210, 297), "letter": (215.9, 279.4), "roll": (size.width, size.height)}
    width, height = pages[size.page]
    assert size.left + size.across * (size.columns - 1) + size.width <= width
    assert size.top + size.down * (size.rows - 1) + size.height <= height
    lots = "&".join(f"lot={lot.pk}" for lot in Lot.objects.all())
    pdf = PdfReader(BytesIO(at_helper.get(f"/stockroom/labels/labels.pdf?{lots}&size={size.key}&start=1").content))
    assert len(pdf.pages) == -(-Lot.objects.count() // size.a_page)
    assert abs(float(pdf.pages[0].mediabox.width) / 72 * 25.4 - width) < 0.5
    text = " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)
    assert text.count("Lot ") == Lot.objects.count()
    assert "DANGER" in text.upper()


@given(st.integers(0, 50), st.sampled_from(sorted(SIZES)), st.integers(-3, 60))
def test_every_label_is_laid_once(count, key, start):
    size = SIZES[key]
    laid = sheets(list(range(1, count + 1)), size, start)
    assert [one for page in laid for one in page if one is not None] == list(range(1, count + 1))
    assert all(len(page) <= size.a_page for page in laid)


def test_the_outlook_of_the_shelf(at_owner, shop, owner):
    use(shop.silver_lot, "90", owner)
    assert used_a_day(now())[shop.silver.pk] == 1
    assert days_of_cover(Decimal(410), Fraction(1)) == 410
    assert days_of_cover(Decimal(410), None) is None
    Lot.objects.filter(pk=shop.silver_lot.pk).update(expires_on_given=today() + timedelta(days=5))
    shop.booked()
    (one,) = endangered(today())
    assert one.what_for == ("job 1",)
    shown = at_owner.get("/stockroom/").content.decode()
    assert "promised to job 1" in shown
    assert "worth" in shown
    assert "<svg" in at_owner.get(f"/stockroom/{shop.silver.code}/").content.decode()


def test_a_level_over_time_steps_as_it_moved():
    day = today()
    chart = level_chart([(day - timedelta(days=10), Decimal(100)), (day - timedelta(days=5), Decimal(-40))], day, Decimal(20))
    assert (chart.highest, chart.first, chart.last) == (100, day - timedelta(days=10), day)
    assert chart.line[1] == (12, 2)  # up to the top on the first day
    assert chart.line[-1][1] == 25 - 23 * Fraction(60, 100)
    assert level_chart([], day, None) is None


def test_queries_do_not_grow_with_rows(at_owner, shop, owner):
    def more() -> None:
        for name in ("X", "Y", "Z"):
            row = builders.material(f"{name}{builders.key()}"[:30], reacts_as=["caustic"], storage_place="here")
            lot = builders.lot(row, "50", owner, "L1", expires_on_given=today() + timedelta(days=3))
            hold_lot(key=builders.key(), lot=lot, by=owner, why="looked at")
            drum = WasteContainer.objects.create(name=str(builders.key())[:30], meant_for="rinse", opened_on=today())
            put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=[], volume_ml=Decimal(1))
            put_in(key=builders.key(), container=first_drum, by=owner, what="rinse", agents=[], volume_ml=Decimal(1))

    def queries(address: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert at_owner.get(address).status_code == 200
        return len(seen)

    first_drum = WasteContainer.objects.create(name="first", meant_for="rinse", opened_on=today())
    more()
    sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=False)
    addresses = ("/stockroom/", "/stockroom/storage/", "/stockroom/waste/", f"/stockroom/waste/{first_drum.pk}/", "/stockroom/labels/",
                 "/stockroom/counts/", f"/stockroom/counts/{sheet.pk}/", "/stockroom/buying/", "/stockroom/silver-account/",
                 "/stockroom/receive/", "/stockroom/tables/lots.csv", "/stockroom/tables/movements.csv", "/stockroom/tables/materials.csv")
    for address in addresses:
        at_owner.get(address)
    few = {address: queries(address) for address in addresses}
    more()
    more()
    start_count(key=builders.key(), by=owner, place="", hide_expected=False)
    assert {address: queries(address) for address in addresses} == few
