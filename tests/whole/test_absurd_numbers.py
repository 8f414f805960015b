"""What is absurd is asked about once at every door: beside its field, nothing saved, and taken with the tick."""

from __future__ import annotations

import json
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from jobs.models import RunEntry, SiteRecord, SwatchBook
from recipes.models import Trial
from studio.house.clock import today
from studio.stockroom.counts.counting import start_count
from studio.stockroom.forms import unusual_prices
from studio.stockroom.models import CountLine, Lot, Material, Offcut
from tests import builders
from tests.asking import error_beside, tick_beside
from tests.recipes.finishes.test_authoring import fields_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


@dataclass(frozen=True, kw_only=True)
class Door:
    """A form: its address, what is sent, the field asked about, what it says, and how to see what was saved."""

    address: str
    sent: dict[str, Any]
    field: str
    says: str
    saved: Any


def offcut(shop: Any, client: Any) -> Door:
    return Door(address="/stockroom/offcuts/", field="size", says="a side under 20 mm",
                sent={"material": shop.glass.pk, "size": "600 x 12 mm"}, saved=Offcut.objects.count)


def site(shop: Any, client: Any) -> Door:
    walls = dict.fromkeys(("width_low_mm", "width_middle_mm", "height_left_mm", "height_middle_mm", "height_right_mm"), "1010 mm")
    return Door(address=f"/jobs/{shop.order().job.number}/site/1/", field="width_high_mm", says="a side over 6 m",
                sent={**walls, "width_high_mm": "10100 mm", "measured_by": "Maud", "measured_on": today().isoformat(),
                      "saves": ""}, saved=SiteRecord.objects.count)


def swatch(shop: Any, client: Any) -> Door:
    return Door(address="/swatch-book/", field="large_size_text", says="A fraction is mostly inches",
                sent={"small_size_text": "300 x 300 mm", "large_size_text": "24 3/8 x 36mm", "saves": "1"},
                saved=lambda: SwatchBook.objects.filter(large_size_text="24 3/8 x 36mm").count())


def trial_pane(shop: Any, client: Any) -> Door:
    address = f"/finishes/{shop.recipe.finish.code}/{shop.recipe.number}/try/"
    fields = fields_of(client.get(address).content.decode(), "try")
    return Door(address=address, field="size_text", says="a side over 6 m",
                sent={**fields, "s3-dwell_minutes": "30 s", "size_text": "150 x 15000 mm"}, saved=Trial.objects.count)


def trial_glass(shop: Any, client: Any) -> Door:
    steps = shop.steps()
    steps[2] |= {"temperature_low_c": Decimal(18), "temperature_high_c": Decimal(24)}
    warm = builders.put_version_in_use(builders.recipe("Warm silver", steps), shop.owner)
    trial = builders.trial(warm, shop.owner)
    return Door(address=f"/finishes/trials/{trial.number}/conditions/", field="glass_c", says="is for 18 to 24 °C",
                sent={"glass_c": "12 °C", "saves": trial.saves},
                saved=lambda: Trial.objects.filter(glass_c=12).count())


def sheets(shop: Any, client: Any) -> Door:
    run = shop.run()
    return Door(address=reverse("jobs:record_glass", args=[run.pk, shop.glass.code]), field="sheets",
                says="ten times too much or more: the ticket says 1 sheets", sent={"sheets": "10"},
                saved=RunEntry.objects.count)


def count(shop: Any, client: Any) -> Door:
    sheet = start_count(key=builders.key(), by=shop.owner, place="", hide_expected=True)
    line = sheet.lines.get(lot=shop.silver_lot)
    return Door(address=f"/stockroom/counts/{sheet.pk}/", field=f"line-{line.pk}",
                says="5000 g is ten times what the book says or more", sent={f"line-{line.pk}": "5 kg"},
                saved=lambda: CountLine.objects.exclude(counted=None).count())


def lot_price(shop: Any, client: Any) -> Door:
    return Door(address=f"/stockroom/{shop.silver.code}/receive/", field="cost_with_carriage",
                says="€14 per g of Silver nitrate is ten times any price before or more: the highest was €1.4",
                sent={"lot_number": "S9", "amount": "500 g", "cost_with_carriage": "7000",
                      "received_on": today().isoformat()}, saved=Lot.objects.count)


def delivery_price(shop: Any, client: Any) -> Door:
    return Door(address="/stockroom/receive/", field="table", says="€14 per g of Silver nitrate is ten times any price",
                sent={"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value",
                      "table": "Silver nitrate,S9,500 g,7000"}, saved=Lot.objects.count)


def price_list(shop: Any, client: Any) -> Door:
    return Door(address="/stockroom/prices/", field="table", says="€14 per g of Silver nitrate is ten times any price",
                sent={"table": "material,list price\nSilver nitrate,14"},
                saved=lambda: Material.objects.get(pk=shop.silver.pk).list_price)


DOORS = [offcut, site, swatch, trial_pane, trial_glass, sheets, count, lot_price, delivery_price, price_list]


@pytest.mark.parametrize("door_of", DOORS, ids=lambda door: door.__name__)
def test_it_is_asked_once_beside_the_field_and_taken_with_the_tick(door_of, shop, at_owner):
    door = door_of(shop, at_owner)
    before = door.saved()
    asked = at_owner.post(door.address, {**door.sent, "key": builders.key()})
    page = asked.content.decode()
    assert asked.status_code == 422
    assert door.says in error_beside(page, door.field)
    assert door.sent[door.field] in page
    assert door.saved() == before
    meant = at_owner.post(door.address, {**door.sent, **tick_beside(page, door.field), "key": builders.key()})
    assert meant.status_code == 302, error_beside(meant.content.decode(), door.field)
    assert door.saved() != before


@pytest.mark.parametrize(("size", "sentence"), [
    ("600 x 1 mm", "no pane is under 2 mm"), ("600 x 30 m", "no pane is over 20 m"),
])
@pytest.mark.parametrize("door_of", [offcut, swatch, trial_pane], ids=lambda door: door.__name__)
def test_what_no_pane_has_is_refused_and_has_no_tick(door_of, size, sentence, shop, at_owner):
    door = door_of(shop, at_owner)
    refused = at_owner.post(door.address, {**door.sent, door.field: size, "key": builders.key()}).content.decode()
    assert sentence in error_beside(refused, door.field)
    assert tick_beside(refused, door.field) == {}


def test_a_material_is_asked_about_ten_years_and_a_price_ten_times_before(shop, at_owner):
    address = f"/stockroom/{shop.sugar.code}/edit/"
    form = at_owner.get(address).context["form"]
    sent = {field.html_name: "" if field.value() is None else field.value() for field in form} | {"saves": "1"}
    sent |= {"list_price": "10", "shelf_life_days": "3700", "pictograms": [], "reacts_as": ["reducer"]}
    sent = {name: value for name, value in sent.items() if value is not False}
    page = at_owner.post(address, sent).content.decode()
    assert "more than 10?" in error_beside(page, "shelf_life_days")
    assert "€10 per g of Dextrose is ten times any price before or more" in error_beside(page, "list_price")
    ticks = {**tick_beside(page, "shelf_life_days"), **tick_beside(page, "list_price")}
    assert at_owner.post(address, {**sent, **ticks}).status_code == 302
    assert Material.objects.get(pk=shop.sugar.pk).shelf_life_days == 3700
    beyond = at_owner.post(address, {**sent, "shelf_life_days": "40000"}).content.decode()
    assert "Nothing keeps for 110 years" in error_beside(beyond, "shelf_life_days")


@pytest.mark.parametrize(("price", "asked"), [
    ("9", "9 per g of Bismuth is ten times any price before or more: the highest was 0.9."), ("8.9", ""), ("0.06", ""),
    ("0.05", "0.05 per g of Bismuth is a tenth of any price before or less: the lowest was 0.5."), ("0", ""),
])
def test_a_price_is_asked_about_at_ten_times_and_a_tenth_of_what_was_paid(price, asked, owner):
    bismuth = builders.material("Bismuth", list_price=Decimal("0.9"))
    builders.lot(bismuth, "100", owner, cost="50")
    builders.lot(bismuth, "100", owner, cost="0")  # a gift compares with nothing
    assert unusual_prices([(bismuth, Fraction(price))]) == asked


@pytest.mark.parametrize(("size", "asked"), [
    ("24 3/8 x 36mm", "A fraction is mostly inches"), ("600 x 12 mm", "a side under 20 mm"),
    ("600 x 1 mm", "no pane is under 2 mm"),
])
def test_an_order_file_says_which_line_is_absurd_and_may_mean_it(size, asked, shop, tmp_path, capsys):
    line = {"size": size, "quantity": 1, "finish": "Plain silver", "glass": "Clear 4 mm", "edge": "seamed"}
    path = tmp_path / "order.json"
    path.write_text(json.dumps({"lines": [{**line, "size": "600 x 600 mm"}, line]}))
    with pytest.raises(CommandError, match=f"/lines/1: .*{asked}"):
        call_command("estimate", str(path))
    path.write_text(json.dumps({"lines": [{**line, "meant_so": True}]}))
    if "no pane" in asked:
        with pytest.raises(CommandError, match=asked):
            call_command("estimate", str(path))
    else:
        call_command("estimate", str(path))
        assert json.loads(capsys.readouterr().out)["lines"][0]["panes_to_start"] >= 1
