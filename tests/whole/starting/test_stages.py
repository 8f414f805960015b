"""The stages of the first day stand as the book does; each form saves alone, or says beside the field what is wrong."""

from __future__ import annotations

import html
import re
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client

from studio.house.clock import today
from studio.house.models import House, HouseRates
from studio.stockroom.models import Material
from studio.whole.starting.forms import PutInUseForm
from studio.whole.starting.stages import DONE, KEYS, NOW, stages
from tests import builders

pytestmark = pytest.mark.django_db

RATES = {"helper_per_hour": "18", "owner_per_hour": "£38", "overhead_per_bench_hour": "", "margin_share": "35 %",
         "minimum_charge": "1.250,50", "tax_name": "VAT", "tax_share": "20"}
HANDS = {"hands": "2", "benches": "1", "bench": "1400 x 900 mm", "bench_hours": "6.5 h", "hours": "8-16:30",
         "days": ["monday", "thursday"]}


@pytest.fixture
def new_studio(db) -> House:
    house = House.objects.create(name="Lark Lane Glass", time_zone="Europe/London")
    HouseRates.objects.create(effective_from=today(), currency="GBP")
    return house


def states() -> dict[str, str]:
    return {stage.key: stage.state for stage in stages()}


def test_the_first_that_is_missing_is_now(new_studio):
    assert states() == {"studio": DONE, "rates": NOW, **dict.fromkeys(KEYS[2:], "to come")}
    House.objects.update(hours_monday="09:00-17:00")
    assert states()["hands"] == DONE, "what was done out of order is done"
    assert states()["rates"] == NOW
    House.objects.update(hours_monday="")
    assert states()["hands"] == "to come", "what is taken away again is missing again"


def test_each_stage_is_open_to_its_owner_alone_and_leads_on(at_owner, at_helper, new_studio):
    assert at_owner.get("/start/")["Location"] == "/start/rates/"
    for key in KEYS:
        assert at_owner.get(f"/start/{key}/").status_code == 200
        assert at_helper.get(f"/start/{key}/").status_code == 403
    assert at_owner.get("/start/nothing/").status_code == 404
    assert "Go on setting up" in at_owner.get("/").content.decode()
    assert "Go on setting up" not in at_helper.get("/").content.decode()


def test_a_studio_without_rates_is_led_to_them(at_owner, new_studio):
    HouseRates.objects.all().delete()
    assert at_owner.get("/start/rates/")["Location"] == "/studio/rates/"


def opened(client: Client, stage: str) -> dict[str, str]:
    """Return what a stage's page carries hidden, as it is opened."""
    page = client.get(f"/start/{stage}/").content.decode()
    return {name: mark for name, mark in re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page)
            if name != "csrfmiddlewaretoken"}


def send(client: Client, stage: str, values: dict[str, Any]) -> HttpResponse:
    return client.post(f"/start/{stage}/", opened(client, stage) | values)


def meant_so(refused: HttpResponse, field: str) -> dict[str, str]:
    """Return the tick that a refused page offers beside a field."""
    question = re.search(rf'name="({field}_meant_so)" value="([0-9a-f]+)"', refused.content.decode())
    assert question, "nothing is asked"
    return {question[1]: question[2]}


def test_rates_are_saved_as_they_are_typed(at_owner, new_studio):
    assert send(at_owner, "rates", RATES)["Location"] == "/start/hands/"
    row = HouseRates.objects.get()
    assert (row.helper_per_hour, row.owner_per_hour, row.minimum_charge) == (18, 38, Decimal("1250.50"))
    assert (row.margin_share, row.tax_share, row.overhead_per_bench_hour) == (Decimal("0.35"), Decimal("0.2"), 0)
    assert states()["rates"] == DONE


def test_rates_of_an_earlier_day_stay_dated_with_their_edges(at_owner, new_studio):
    HouseRates.objects.update(effective_from=date(2020, 1, 1))
    HouseRates.objects.get().edge_types.create(name="seamed", minutes_per_m=2)
    send(at_owner, "rates", RATES)
    newest, before = HouseRates.objects.all()
    assert (newest.effective_from, before.effective_from) == (today(), date(2020, 1, 1))
    assert before.helper_per_hour == 0
    assert [edge.name for edge in newest.edge_types.all()] == [edge.name for edge in before.edge_types.all()]


@pytest.mark.parametrize(("field", "typed", "said"), [
    ("helper_per_hour", "", "Fill this in"), ("helper_per_hour", "0", "An hour costs something"),
    ("owner_per_hour", "a lot", "was not understood as money"), ("margin_share", "100", "below 100 %"),
    ("minimum_charge", "90.505", "may be 90.505 or 90,505: write which"), ("tax_share", "-3", "is no percentage"),
])
def test_a_wrong_rate_is_said_and_what_was_typed_stays(at_owner, new_studio, field, typed, said):
    refused = send(at_owner, "rates", RATES | {field: typed})
    assert refused.status_code == 422
    assert said in refused.content.decode()
    assert 'value="1.250,50"' in refused.content.decode() or field == "minimum_charge"
    assert HouseRates.objects.get().helper_per_hour == 0


@pytest.mark.parametrize(("field", "typed", "question", "kept"), [
    ("margin_share", "0.35", "That is 0.35 %, which is unusual: is 35 % meant?", Decimal("0.0035")),
    ("margin_share", "1 %", "is 100 % meant?", Decimal("0.01")),
    ("margin_share", "99.9", "That is 99.9 %, which is unusual: is it meant so?", Decimal("0.999")),
    ("margin_share", "80", "That is 80 %", Decimal("0.8")),
    ("owner_per_hour", "1250", "That is £1,250.00, which is unusual", 1250),
    ("helper_per_hour", "0.24", "That is £0.24", Decimal("0.24")),
    ("overhead_per_bench_hour", "950", "That is £950.00", 950),
    ("minimum_charge", "90000", "That is £90,000.00", 90_000), ("tax_share", "0.2", "is 20 % meant?", Decimal("0.002")),
])
def test_an_unusual_rate_is_asked_about_once(at_owner, new_studio, field, typed, question, kept):
    refused = send(at_owner, "rates", RATES | {field: typed})
    assert refused.status_code == 422
    assert question in refused.content.decode()
    assert HouseRates.objects.get().helper_per_hour == 0, "nothing is saved before it is answered"
    answered = RATES | {field: typed} | meant_so(refused, field)
    assert send(at_owner, "rates", answered).status_code == 302
    assert getattr(HouseRates.objects.get(), field) == kept
    assert send(at_owner, "rates", RATES | {field: typed}).status_code == 302, "what stands is not asked about again"


def test_money_of_a_currency_of_small_coins_is_asked_by_its_own_worth(at_owner, new_studio):
    HouseRates.objects.update(currency="JPY")
    sent = RATES | {"helper_per_hour": "1500", "owner_per_hour": "3800", "minimum_charge": "9000"}
    assert send(at_owner, "rates", sent).status_code == 302
    assert "unusual" in send(at_owner, "rates", sent | {"owner_per_hour": "38"}).content.decode()


@pytest.mark.parametrize(("field", "typed", "question"), [
    ("bench", "5 x 5 mm", "That is a bench of 5 × 5 mm, which is unusual: is the unit right?"),
    ("bench", "60 x 40", "is 60 × 40 cm meant? Then write the unit."),
    ("bench", "99 m x 1 m", "That is a bench of 99000 × 1000 mm"), ("bench_hours", "30 min", "That is 30 min"),
    ("bench_hours", "9 h", "and the working hours, 08:00-16:30, are 510 min: more than they hold?"),
    ("hours", "8:00-8:20", "That is 08:00-08:20, an unusual day"),
])
def test_an_unusual_bench_or_day_is_asked_about_once(at_owner, new_studio, field, typed, question):
    sent = HANDS | {field: typed} | ({"bench_hours": "15 min"} if field == "hours" else {})
    refused = send(at_owner, "hands", sent)
    assert refused.status_code == 422
    assert question in html.unescape(refused.content.decode())
    assert HouseRates.objects.get().bench_width_mm == 1000
    answers = meant_so(refused, field) | (meant_so(refused, "bench_hours") if field == "hours" else {})
    assert send(at_owner, "hands", sent | answers).status_code == 302


def test_a_bench_is_read_in_the_studios_own_units(at_owner, new_studio):
    House.objects.update(units="us")
    assert send(at_owner, "hands", HANDS | {"bench": "48 x 30"}).status_code == 302
    assert HouseRates.objects.get().bench_width_mm == Decimal("1219.2")


@pytest.mark.parametrize(("typed", "kept"), [
    ("9am to 5pm", "09:00-17:00"), ("9-5", "09:00-17:00"), ("9:00–17:00", "09:00-17:00"), ("8.30 - 5", "08:30-17:00"),
])
def test_hours_are_read_as_people_write_them(at_owner, new_studio, typed, kept):
    assert send(at_owner, "hands", HANDS | {"hours": typed}).status_code == 302
    assert House.objects.get().hours_monday == kept


@pytest.mark.parametrize(("stage", "first", "second", "shown", "look"), [
    ("rates", RATES, RATES | {"margin_share": "40"}, "Margin 35 %", lambda: HouseRates.objects.get().margin_share),
    ("hands", HANDS, HANDS | {"benches": "3"}, "Benches 1", lambda: HouseRates.objects.get().benches),
    ("hands", HANDS, HANDS | {"hours": "9-15:30"}, "hours monday “08:00-16:30”",
     lambda: House.objects.get().hours_monday),
])
def test_a_stage_open_in_two_tabs_is_not_overwritten_unseen(at_owner, new_studio, stage, first, second, shown, look):
    carried = opened(at_owner, stage)
    send(at_owner, stage, first)
    before = look()
    refused = at_owner.post(f"/start/{stage}/", carried | second)
    assert refused.status_code == 422
    said = html.unescape(refused.content.decode())
    assert "You changed this in another window" in said
    assert shown in said
    assert look() == before
    now = dict(re.findall(r'<input type="hidden" name="(opened[^"]+)" value="([^"]*)"', said))
    assert at_owner.post(f"/start/{stage}/", now | second).status_code == 302, "seen and meant, it replaces"
    assert look() != before


def test_two_stages_in_two_tabs_are_not_in_each_others_way(at_owner, new_studio):
    rates, hands = opened(at_owner, "rates"), opened(at_owner, "hands")
    assert at_owner.post("/start/rates/", rates | RATES).status_code == 302
    assert at_owner.post("/start/hands/", hands | HANDS).status_code == 302
    assert HouseRates.objects.get().margin_share == Decimal("0.35")


def test_a_price_entered_in_another_tab_is_shown_before_it_is_replaced(at_owner, new_studio):
    sent = {"silver_nitrate-tick": "on", "silver_nitrate-pack": "100 g", "silver_nitrate-price": "86"}
    carried = opened(at_owner, "materials")
    at_owner.post("/start/materials/", carried | sent)
    refused = at_owner.post("/start/materials/", carried | sent | {"silver_nitrate-price": "90"})
    assert refused.status_code == 422
    assert "was entered or changed, and has £0.8600 a g" in html.unescape(refused.content.decode())
    assert Material.objects.get().list_price == Decimal("0.86")
    assert send(at_owner, "materials", sent | {"silver_nitrate-price": "90"}).status_code == 302
    assert Material.objects.get().list_price == Decimal("0.9")


def test_a_procedure_written_in_another_tab_is_shown_and_kept(new_studio):
    House.objects.update(making_safe_procedure="Sheet 4, above the sink.")
    form = PutInUseForm({"making_safe_procedure": "Another one entirely.", "cautions_read": "on"},
                        house=House.objects.get())
    assert "Sheet 4, above the sink." in str(form.non_field_errors())
    assert House.objects.get().making_safe_procedure == "Sheet 4, above the sink."


def test_hands_bench_and_days(at_owner, new_studio):
    send(at_owner, "hands", HANDS)
    row, house = HouseRates.objects.get(), House.objects.get()
    assert (row.hands, row.bench_width_mm, row.bench_height_mm, row.bench_day_minutes) == (2, 1400, 900, 390)
    assert (house.hours_monday, house.hours_tuesday, house.hours_thursday) == ("08:00-16:30", "", "08:00-16:30")


def test_hours_that_differ_from_day_to_day_are_not_made_alike(at_owner, new_studio):
    House.objects.update(hours_monday="09:00-17:00", hours_friday="09:00-13:00")
    assert "differ from day to day" in at_owner.get("/start/hands/").content.decode()
    send(at_owner, "hands", HANDS)
    assert House.objects.get().hours_friday == "09:00-13:00"


def test_materials_are_entered_with_their_prices_and_left_where_they_stand(at_owner, new_studio):
    sent = {"silver_nitrate-tick": "on", "silver_nitrate-pack": "100 g", "silver_nitrate-price": "£86.00",
            "clear_4-tick": "on", "clear_4-pack": "3210 x 2250 mm", "clear_4-price": "84", "paint": "solvent"}
    assert send(at_owner, "materials", sent)["Location"] == "/start/delivery/"
    silver, glass = Material.objects.get(name="Silver nitrate"), Material.objects.get(kind="glass sheet")
    assert (silver.list_price, silver.pack_size) == (Decimal("0.86"), 100)
    assert (glass.name, glass.sheet_width_mm, glass.list_price) == ("Clear float 4 mm", 3210, 84)
    paint = Material.objects.get(name="Mirror backing paint")
    assert "solvent" in paint.known_classes
    send(at_owner, "materials", sent | {"silver_nitrate-price": "90"})
    assert Material.objects.get(name="Silver nitrate").list_price == Decimal("0.9")
    assert Material.objects.count() == 3
    assert states()["materials"] == DONE


def test_a_pack_that_cannot_be_read_keeps_all_of_it_out(at_owner, new_studio):
    refused = send(at_owner, "materials", {
        "dextrose-tick": "on", "dextrose-pack": "1 kg", "silver_nitrate-tick": "on", "silver_nitrate-pack": "a jar"})
    assert refused.status_code == 422
    assert "“a jar” was not understood" in refused.content.decode()
    assert not Material.objects.exists()
    nothing = send(at_owner, "materials", {})
    assert "Nothing is ticked" in nothing.content.decode()


def test_today_asks_the_book_of_no_more_stages_as_it_grows(at_owner, new_studio, django_assert_max_num_queries):
    builders.material("Silver nitrate")
    with django_assert_max_num_queries(8):
        stages()
