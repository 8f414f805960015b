"""A quote says when costs have changed since; the pictures add up to the price; the outside door shows every new figure."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.core.management import call_command
from jsonschema import Draft202012Validator

from jobs.draft import draft_of
from jobs.drawings.price_pictures import cost_build_up, pictures_of
from jobs.estimating.price_contents import price_contents
from jobs.quotes.price_sentences import price_sentences
from jobs.quotes.pricing import price_order
from jobs.quotes.quoting import save_quote
from studio.house.clock import today
from studio.house.models import HouseRates
from studio.kit.currencies import show_money
from studio.whole.book.estimate_schema import estimate_schema
from tests import builders
from tests.jobs.orders.test_order_page import typed

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def page(at_owner, order):
    return at_owner.get(f"/jobs/{order.job.number}/").content.decode()


def test_a_quote_says_when_costs_have_changed_since(at_owner, workshop):
    order = workshop.order()
    quote = save_quote(order=order, by=workshop.owner, form_key=builders.key())
    assert "Costs have changed since" not in page(at_owner, order)
    builders.lot(workshop.silver, "500", workshop.owner, "S2", "1400")
    after = page(at_owner, order)
    assert "Costs have changed since Quote 1: today it would be" in after
    assert "Silver nitrate, a g" in after
    assert "1.4" in after
    now = price_order(draft_of(order), today())
    assert now.price.net > Fraction(quote.net)
    assert f"+{show_money(now.price.net - Fraction(quote.net), quote.currency)} against" in " ".join(after.split())
    rates = HouseRates.objects.get()
    rates.helper_per_hour = Decimal(48)
    rates.save()
    assert "Helper&#x27;s hour" in page(at_owner, order)
    assert "Save a new revision at today" in page(at_owner, order)


def test_a_back_that_names_no_paint_is_said_not_to_be_in_the_price_and_not_promised(at_owner, workshop):
    """Given a finish that is backed with nothing named: its hands are priced, the paint is not, and the quote says so."""
    unpainted = {"kind": "back", "how": "brush", "drying": "air", "minutes_per_pane": Decimal(3)}
    bare = builders.put_version_in_use(builders.recipe("Bare back", [*workshop.steps(), unpainted]), workshop.owner)
    order = workshop.order(workshop.line(recipe_version_id=bare.pk))
    said = "Bare back 1 names no solution: the back paint is not in the price."
    assert said in at_owner.get(f"/jobs/{order.job.number}/order/").content.decode()
    quote = save_quote(order=order, by=workshop.owner, form_key=builders.key())
    assert not [words for words in quote.wording["in_price"] if "painted" in words]
    assert "silvering and sealing, by hand" in quote.wording["in_price"]
    assert "the back paint of Bare back" in quote.wording["not_in_price"]
    assert "Not in the price: the back paint of Bare back." in at_owner.get(f"/quotes/{quote.pk}/").content.decode()
    plain = save_quote(order=workshop.order(), by=workshop.owner, form_key=builders.key())
    assert not plain.wording["unpriced"]
    assert "is not in the price" not in at_owner.get(f"/jobs/{plain.order.job.number}/order/").content.decode()


def test_pictures_add_up(workshop):
    estimate = price_order(draft_of(workshop.order(discount_amount=Decimal(7), discount_reason="friend")), today())
    bars = cost_build_up(estimate).bars
    assert sum(bar.amount for bar in bars[:-1]) == estimate.price.net == bars[-1].amount
    pictures = pictures_of(estimate, price_contents(estimate))
    assert [picture.title for picture in pictures] == [
        "From cost to price", "Net price of one pane, by how many are ordered", "What it may cost",
        "Net price, by the price of silver",
    ]
    silver = [bar.amount for bar in pictures[3].bars]
    assert silver == sorted(silver)
    for picture in pictures:
        assert all(Fraction(bar.x) + Fraction(bar.width) <= picture.width + 1 for bar in picture.bars)


def test_the_outside_door_shows_every_new_figure(workshop, tmp_path, capsys):
    path = tmp_path / "order.json"
    path.write_text(json.dumps({"lines": [{
        "size": "1010 x 710 mm", "joint": "5 mm", "quantity": 2, "finish": "Plain silver", "glass": "Clear 4 mm",
        "edge": "polished", "holes": "hole 10 mm at 50 x 60 mm", "match_group": "hall", "place": "1",
    }], "bought_in": [{"name": "toughening", "cost": "30", "kind": "toughening", "line": 1, "days": 5,
                       "markup_share": "0.15"}]}))
    call_command("estimate", str(path))
    shown = json.loads(capsys.readouterr().out)
    Draft202012Validator(estimate_schema()).validate(shown)
    line = shown["lines"][0]
    assert (line["opening_width_mm"], line["width_mm"], line["cut_width_mm"]) == ("1010", "1000", "1002")
    assert line["holes"][0]["from_left_on_the_back_mm"] == "950"
    assert shown["promise"]["hand_over_on"] >= (today() + timedelta(days=5)).isoformat()
    assert shown["timetable"]["loads"][0]["steps"][0]["starts_minute"] == "0"
    assert shown["cutting"][0]["fewest_sheets_possible"] == shown["cutting"][0]["sheets"]
    assert shown["glass"][0]["plan"][0]["cuts"]
    assert shown["crates"][0]["glass_kg"] == "14"


def test_the_panel_shows_plan_timetable_and_dates(at_owner, workshop):
    order = workshop.order(workshop.line(quantity=2))
    text = at_owner.post("/jobs/price-working/", typed(workshop, {"quantity": 2})).content.decode()
    for words in ("Cutting plan, drawn to scale", "No plan needs fewer", "Bench timetable", "after go-ahead: sample approved",
                  "Where it goes"):
        assert words in text
    sentences = price_sentences(price_order(draft_of(order), today()))
    assert sentences.drawings[0].steps[0].startswith("1: ")
    assert len(sentences.timeline.rows) == len(sentences.estimate.loads[sentences.estimate.basis.lines[0].recipe])


def test_mixing_stands_on_the_page_and_in_what_the_door_prints(at_owner, workshop, tmp_path, capsys):
    """Silver, reducer and sealer, a batch each at four minutes: eight before the load's silver, four for the job."""
    builders.rates(effective_from=today(), mixing_minutes_per_batch=Decimal(4))
    sent = typed(workshop, {"quantity": 1})
    text = " ".join(at_owner.post("/jobs/price-working/", sent).content.decode().split())
    assert "Mixing for the whole job" in text
    assert "3. mixing for silver" in text
    assert re.search(r">Mixing</th>.*?>12</td>", text)
    path = tmp_path / "order.json"
    path.write_text(json.dumps({"lines": [{
        "size": "610 x 915 mm", "quantity": 1, "finish": "Plain silver", "glass": "Clear 4 mm", "edge": "seamed"}]}))
    call_command("estimate", str(path))
    shown = json.loads(capsys.readouterr().out)
    Draft202012Validator(estimate_schema()).validate(shown)
    assert shown["lines"][0]["minutes_mixing"] == "12"
    assert shown["timetable"]["job_mixing_minutes"] == "4"
    assert [step["work_minutes"] for step in shown["timetable"]["loads"][0]["steps"] if step["only_mixing"]] == ["8"]
