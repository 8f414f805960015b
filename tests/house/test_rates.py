"""The rates page: today's row is edited, a later day begins a new one, older ones stay and say what changed."""

from __future__ import annotations

import html
import re
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.quotes.quoting import save_quote
from studio.house.clock import today
from studio.house.models import HouseRates
from studio.house.rates_forms import HELP
from studio.house.rates_words import NAMES
from studio.kit.typed_dates import show_day
from tests import builders

pytestmark = pytest.mark.django_db


def as_shown(client: Client, ask: str = "") -> dict[str, Any]:
    """Return what the page's form would send, untouched."""
    page = client.get(f"/studio/rates/{ask}").context
    form, edges, shown = page["form"], page["edges"], page["shown"]
    sent = {field.html_name: field.value() for field in form if field.value() is not None and not field.field.disabled}
    for row in (edges.management_form, *edges.forms):
        sent |= {field.html_name: "" if field.value() is None else field.value() for field in row}
    sent["effective_from"] = show_day(form["effective_from"].value())
    return {**sent, "saves": shown.saves if shown else "", "opened_day": page["opened_day"], "shown": page["opened_day"]}


def test_what_the_page_shows_saved_untouched_changes_nothing(at_owner, rates):
    before = HouseRates.objects.filter(pk=rates.pk).values().get()
    sent = as_shown(at_owner)
    assert (sent["helper_per_hour"], sent["tax_share"]) == ("€24.00", "20 %")
    assert at_owner.post("/studio/rates/", sent).status_code == 302
    new = HouseRates.objects.filter(effective_from=today()).values().get()
    assert {**new, "id": 0, "effective_from": 0} == {**before, "id": 0, "effective_from": 0}
    assert [edge.name for edge in HouseRates.on(today()).edge_types.all()] == ["seamed", "polished"]


def test_todays_rates_are_edited_and_older_ones_stay_with_what_changed(at_owner, rates):
    at_owner.post("/studio/rates/", {**as_shown(at_owner), "effective_from": "today", "margin_share": "32.5 %"})
    saved = at_owner.post("/studio/rates/", {**as_shown(at_owner), "margin_share": "33", "helper_per_hour": "€26.50",
                                             "edge-2-name": "bevelled", "edge-2-minutes_per_m": "11"})
    assert saved.status_code == 302
    assert HouseRates.objects.count() == 2, "today's row is edited, not doubled"
    assert HouseRates.on(today()).margin_share == Decimal("0.33")
    assert HouseRates.on(today() - timedelta(days=1)).margin_share == Decimal("0.35")
    page = at_owner.get("/studio/rates/").content.decode()
    for words in ("Margin: 35 % → 33 %", "Helper, an hour: €24.00 → €26.50", "Edge: bevelled 11 min a metre"):
        assert words in page


def test_a_later_day_begins_new_rates_which_can_be_changed_and_removed(at_owner, rates):
    at_owner.post("/studio/rates/", {**as_shown(at_owner), "effective_from": "in 3 weeks", "tax_share": "21"})
    day = today() + timedelta(days=21)
    assert HouseRates.on(day).tax_share == Decimal("0.21")
    assert HouseRates.on(today()).tax_share == Decimal("0.2")
    at_owner.post("/studio/rates/", {**as_shown(at_owner, f"?from={day}"), "tax_share": "22 %"})
    assert [row.tax_share for row in HouseRates.objects.all()] == [Decimal("0.22"), Decimal("0.2")]
    at_owner.post(f"/studio/rates/{HouseRates.on(day).pk}/remove/")
    kept = at_owner.post(f"/studio/rates/{rates.pk}/remove/", follow=True)
    assert "count already: they stay" in kept.content.decode()
    assert HouseRates.objects.get() == rates


def test_a_day_that_is_past_keeps_its_rates(at_owner, rates):
    for day in ("1 Jan 2020", "yesterday"):
        refused = at_owner.post("/studio/rates/", {**as_shown(at_owner), "effective_from": day, "tax_share": "9"})
        assert refused.status_code == 422
        assert "is past: what was priced then keeps its rates" in refused.content.decode()
    assert HouseRates.objects.get().tax_share == Decimal("0.2")


def test_first_rates_may_begin_on_any_day(at_owner, house):
    HouseRates.objects.all().delete()
    sent = as_shown(at_owner) | {"effective_from": "1 Jan 2026", "currency": "gbp", "edge-0-name": "as cut", "helper_per_hour": "£24"}
    answer = at_owner.post("/studio/rates/", {"margin_share": "35", **sent})
    assert answer.status_code == 302
    assert HouseRates.on(date(2026, 1, 1)).cover_share == Decimal("0.95"), "what it starts as is shown in percent"
    assert (HouseRates.on(date(2026, 1, 1)).currency, HouseRates.on(date(2026, 1, 1)).helper_per_hour) == ("GBP", Decimal(24))


@pytest.mark.parametrize(("wrong", "question"), [
    ({"margin_share": "0.35"}, "That is 0.35 %, which is unusual: is 35 % meant?"),
    ({"margin_share": "99.9 %"}, "That is 99.9 %, which is unusual"),
    ({"owner_per_hour": "€1,250"}, "That is €1,250.00, which is unusual"),
    ({"bench_width_mm": "99000"}, "That is 99000 mm, which is unusual: is it meant so?"),
    ({"bench_height_mm": "60"}, "That is 60 mm, which is unusual: are 60 cm meant?"),
    ({"cutting_minutes_per_pane": "500"}, "That is 500 minutes"), ({"quote_valid_days": "9999"}, "9999 days"),
    ({"edge-0-minutes_per_m": "600"}, "That is 600 minutes"), ({"edge-0-grinds_off_mm": "40"}, "That is 40 mm"),
    ({"two_person_kg": "900"}, "That is 900 kg"), ({"deposit_share": "0.5"}, "is 50 % meant?"),
])
def test_an_unusual_rate_is_asked_about_once(at_owner, rates, wrong, question):
    sent = as_shown(at_owner) | wrong
    asked = at_owner.post("/studio/rates/", sent)
    assert asked.status_code == 422
    page = html.unescape(asked.content.decode())
    assert question in page
    field = next(iter(wrong))
    name, mark = re.search(rf'name="({field}_meant_so)" value="([0-9a-f]+)"', page).groups()
    assert HouseRates.objects.count() == 1
    assert at_owner.post("/studio/rates/", sent | {name: mark}).status_code == 302
    assert at_owner.post("/studio/rates/", as_shown(at_owner)).status_code == 302, "what stands is not asked about"


def test_whoever_saves_second_is_shown_both(at_owner, rates):
    at_owner.post("/studio/rates/", as_shown(at_owner))
    opened = as_shown(at_owner)
    una = Client()
    una.force_login(builders.person("una", "owner"))
    assert una.post("/studio/rates/", {**opened, "margin_share": "40"}).status_code == 302
    late = at_owner.post("/studio/rates/", {**opened, "margin_share": "45 %"})
    assert late.status_code == 422
    assert "Margin 40 %" in late.content.decode()
    assert 'value="45 %"' in late.content.decode()
    assert HouseRates.on(today()).margin_share == Decimal("0.40")
    again = {**opened, "margin_share": "45 %", "saves": HouseRates.on(today()).saves, "opened_day": late.context["opened_day"]}
    assert at_owner.post("/studio/rates/", again).status_code == 302
    assert HouseRates.on(today()).margin_share == Decimal("0.45")


def test_rates_of_a_day_that_has_some_are_not_replaced_unseen(at_owner, rates):
    later = builders.rates(effective_from=today() + timedelta(days=9), margin_share=Decimal("0.5"))
    sent = {**as_shown(at_owner), "effective_from": show_day(later.effective_from), "margin_share": "30"}
    asked = at_owner.post("/studio/rates/", sent)
    assert "already, with Margin 50 %" in asked.content.decode()
    meant = {**sent, "opened_day": asked.context["opened_day"], "saves": later.saves}
    assert at_owner.post("/studio/rates/", meant).status_code == 302
    assert HouseRates.on(later.effective_from).margin_share == Decimal("0.30")


@pytest.mark.parametrize(("wrong", "said"), [
    ({"helper_per_hour": "$24"}, "not in the studio&#x27;s currency, EUR"), ({"helper_per_hour": "1.250"}, "may be 1.25 or 1,250"),
    ({"margin_share": "120"}, "At most 100 %."), ({"currency": "ZZZ"}, "“ZZZ” is no currency"),
    ({"edge-2-minutes_per_m": "4"}, "Name this edge"), ({"edge-2-name": "seamed"}, "stands there twice"),
    ({"edge-0-name": "", "edge-0-minutes_per_m": "", "edge-1-name": "", "edge-1-minutes_per_m": "", "edge-1-grinds_off_mm": ""},
     "Name at least one edge"),
    ({"effective_from": "soon"}, "not understood as a date"),
])
def test_what_is_wrong_is_said_and_what_was_typed_stays(at_owner, rates, wrong, said):
    sent = {**as_shown(at_owner), "overhead_per_bench_hour": "€77.77", **wrong}
    refused = at_owner.post("/studio/rates/", sent)
    assert refused.status_code == 422
    assert said in refused.content.decode()
    assert "€77.77" in refused.content.decode()
    assert HouseRates.objects.get() == rates


def test_the_currency_is_said_to_stay_before_anybody_types_another(at_owner, owner, rates):
    shop = builders.Workshop(owner)
    assert "Once a first quote is saved it no longer changes" in at_owner.get("/studio/rates/").content.decode()
    save_quote(order=shop.order(), by=owner, form_key=builders.key())
    page = at_owner.get("/studio/rates/")
    assert "Prices stand in EUR" in page.content.decode()
    assert page.context["form"].fields["currency"].disabled
    at_owner.post("/studio/rates/", {**as_shown(at_owner), "currency": "GBP"})
    assert HouseRates.on(today()).currency == "EUR"


def test_no_more_questions_with_more_rows(at_owner, rates, django_assert_num_queries):
    with CaptureQueriesContext(connection) as few:
        at_owner.get("/studio/rates/")
    for at in range(8):
        builders.rates(effective_from=date(2021, 1, 1 + at))
    with django_assert_num_queries(len(few)):
        at_owner.get("/studio/rates/")


def test_decimals_follow_from_the_currency():
    assert [HouseRates(currency=code).minor_digits for code in ("GBP", "JPY", "KWD")] == [2, 0, 3]


def test_every_rate_stands_in_one_group_with_a_line_of_help():
    columns = sorted({field.name for field in HouseRates._meta.fields} - {"id", "saves", "effective_from"})
    assert sorted(NAMES) == columns
    assert sorted({*HELP, "currency"}) == columns, "the currency's line depends on whether a price exists"
