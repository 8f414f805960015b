"""The order page: what was understood, refusals beside their fields, the live price, and the page without JavaScript."""

from __future__ import annotations

from decimal import Decimal
from uuid import uuid4

import pytest
from django.test.utils import CaptureQueriesContext

from jobs.models import Job, Order
from studio.house.models import House, HouseRates
from tests import builders
from tests.asking import error_beside, tick_beside

pytestmark = pytest.mark.django_db
LIVE = {"HX-Request": "true"}


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def typed(workshop, *lines, **more):
    """Return what a browser sends for an order of these lines."""
    data = {
        "customer": "", "new_customer": "Ada Fenwick", "title": "Hall mirror", "key": str(uuid4()), "saves": "",
        "discount": "", "discount_reason": "", "lines-TOTAL_FORMS": len(lines), "lines-INITIAL_FORMS": 0,
        "bought-TOTAL_FORMS": 1, "bought-INITIAL_FORMS": 0, "bought-0-name": "", "bought-0-cost": "", **more,
    }
    for number, line in enumerate(lines):
        values = {"shape": "rectangle", "size_text": "610 x 915 mm", "quantity": 2, "recipe_version": workshop.recipe.pk,
                  "glass": workshop.glass.pk, "route": "sheet", "edge": "seamed", **line}
        data |= {f"lines-{number}-{name}": value for name, value in values.items()}
    return data


def test_saving_an_order_makes_its_job(at_owner, workshop):
    data = typed(workshop, {"size_text": "24 3/8 x 36"}, {"shape": "circle", "size_text": "61cm", "edge": "polished"},
                 **{"bought-0-name": "frame", "bought-0-cost": "30", "discount": "5 %", "discount_reason": "friend"})
    for _ in range(2):  # sent twice, it is one order
        response = at_owner.post("/jobs/new/", data)
        assert response.status_code == 302
    order = Order.objects.get()
    first, second = order.lines.all()
    assert (first.size_text, str(first.width_mm)) == ("24 3/8 x 36", "619.125000")
    assert (second.width_mm, second.height_mm) == (610, 610)
    assert str(order.discount_share) == "0.050000"
    assert order.bought_in.get().name == "frame"
    assert response["Location"] == f"/jobs/{order.job.number}/"
    page = at_owner.get(f"/jobs/{order.job.number}/order/").content.decode()
    assert "Understood as 619.1 × 914.4 mm (24 3/8 × 36 in), 0.566 m², 5.7 kg a pane." in page


@pytest.mark.parametrize(("line", "sentence"), [
    ({"size_text": "24 parsecs x 36"}, "was not understood as a size"),
    ({"size_text": "610"}, "Write width × height"),
    ({"shape": "circle", "size_text": "610 x 915 mm"}, "A circle has one diameter"),
    ({"size_text": "1,500 x 900 mm"}, "could be 1500 or 1.500"),
    ({"size_text": "5000 x 900 mm"}, "does not fit the bench"),
    ({"quantity": "0"}, "greater than or equal to 1"),
    ({"route": "cut"}, "Give the price per m²"),
    ({"shape": "other", "size_text": "700 x 520 mm"}, "Give the area of this shape"),
    ({"shape": "other", "size_text": "700 x 520 mm", "area_text": "9 m2"}, "fit its bounding rectangle"),
    ({"own_panes_to_start": "99", "quantity": "2"}, "must lie between 2 and 40"),
])
def test_a_refusal_stands_beside_its_field_and_the_rest_stays(at_owner, workshop, line, sentence):
    response = at_owner.post("/jobs/new/", typed(workshop, line, title="A long story", note="left of the window"))
    page = response.content.decode()
    assert response.status_code == 422
    assert sentence in page
    assert "A long story" in page
    assert "left of the window" in page
    if "size_text" in line:
        assert f'value="{line["size_text"]}"' in page
    assert not Order.objects.exists()
    assert not Job.objects.exists()


def test_toughened_glass_is_not_cut_here(at_owner, workshop):
    tough = builders.glass("Tough 6 mm", treatment="toughened")
    response = at_owner.post("/jobs/new/", typed(workshop, {"glass": tough.pk}))
    assert response.status_code == 422
    assert "toughened glass cannot be cut from a sheet here" in response.content.decode()
    ground = at_owner.post("/jobs/new/", typed(workshop, {
        "glass": tough.pk, "route": "cut", "cut_price_per_m2": "60", "edge": "polished"}))
    assert "cannot be ground on toughened glass" in ground.content.decode()


def test_live_price_is_a_part_and_the_page_works_without_it(at_owner, workshop):
    data = typed(workshop, {})
    part = at_owner.post("/jobs/price-now/", data, headers=LIVE)
    page = at_owner.post("/jobs/price-now/", data)
    assert part.status_code == page.status_code == 200
    assert "HX-Request" in part["Vary"]
    assert not part.content.decode().lstrip().startswith("<!doctype")
    assert page.content.decode().lstrip().startswith("<!doctype")
    for shown in (part, page):
        text = shown.content.decode()
        for word in ("Chemistry", "Glass", "Labour", "Overhead", "Margin", "Silver nitrate", "What is in this price"):
            assert word in text
        assert "Understood as 610 × 915 mm" in text
    assert not Order.objects.exists()


def test_what_is_in_the_price_comes_when_looked_at(at_owner, workshop):
    data = typed(workshop, {})
    live, page = at_owner.post("/jobs/price-now/", data, headers=LIVE), at_owner.post("/jobs/price-now/", data)
    fetched = at_owner.post("/jobs/price-contents/", data, headers=LIVE)
    assert "If silver costs 10 % more" not in live.content.decode()
    for shown in (page, fetched):
        for words in ("If silver costs 10 % more", "10 × the quantity", "Cost, by luck with the panes", "has never been run"):
            assert words in shown.content.decode()
    assert "Correct the order first" in at_owner.post("/jobs/price-contents/", typed(workshop, {"size_text": "?"})).content.decode()


def test_one_bad_line_leaves_the_others_priced(at_owner, workshop):
    text = at_owner.post("/jobs/price-now/", typed(workshop, {}, {"size_text": "oops"}), headers=LIVE).content.decode()
    assert "Not in this price until corrected: line 2" in text
    assert 'id="id_lines-1-size_text_error" hx-swap-oob="true">“oops” was not understood' in text
    assert "Total" in text


def test_a_shortage_is_named(at_owner, workshop):
    text = at_owner.post("/jobs/price-now/", typed(workshop, {"quantity": "200", "route": "own"}), headers=LIVE)
    assert "Short in stock" in text.content.decode()
    assert "short</strong>" in text.content.decode()


def test_another_line_is_like_the_last(at_owner, workshop):
    page = at_owner.post("/jobs/lines/another/", typed(workshop, {"edge": "polished"}))
    assert 'name="lines-TOTAL_FORMS" value="2"' in page.content.decode()
    assert page.content.decode().count('<option value="polished" selected>') == 2


@pytest.mark.parametrize("address", ["/jobs/new/", "/jobs/price-now/", "/jobs/lines/another/", "/jobs/price-contents/"])
@pytest.mark.parametrize("wrong", [
    {"lines-TOTAL_FORMS": "many"}, {"key": "no key"}, {"lines-0-recipe_version": "999999"}, {"job": ""},
    {"lines-0-quantity": "9" * 40}, {"lines-0-size_text": "9" * 200}, {"discount": "-5"}, {"discount": "500 %"},
    {"lines-0-cut_price_per_m2": "NaN"}, {"bought-0-name": "frame", "bought-0-cost": "Infinity"},
    {"lines-0-size_text": "\x00 x 5"}, {"due_on": "soon"},
])
def test_nothing_typed_breaks_the_page(at_owner, workshop, address, wrong):
    response = at_owner.post(address, typed(workshop, {}, **wrong))
    assert response.status_code in (200, 302, 422)


def test_a_line_can_be_struck_out(at_owner, workshop):
    at_owner.post("/jobs/new/", typed(workshop, {}, {"size_text": "300 x 300 mm", "DELETE": "on"}))
    assert Order.objects.get().lines.count() == 1


def test_saving_over_somebody_else_is_refused_with_both(at_owner, workshop):
    order = workshop.order()
    data = typed(workshop, {}, title="First change", saves=1, customer=order.customer_id, key=order.form_key)
    address = f"/jobs/{order.job.number}/order/"
    assert at_owner.post(address, data).status_code == 302
    late = at_owner.post(address, {**data, "title": "Second change"})
    assert late.status_code == 422
    assert "First change for Ada Fenwick now reads 2 × 610 x 915 mm, Plain silver, version 1; title “First change”" in (
        late.content.decode())
    assert "Second change" in late.content.decode()
    order.refresh_from_db()
    assert (order.title, order.saves) == ("First change", 2)


def test_a_saved_order_that_no_longer_works_says_why(at_owner, workshop):
    """The bench shrank since: the order can still be opened, and says what is wrong."""
    order = workshop.order()
    HouseRates.objects.update(bench_width_mm=400)
    for page in (f"/jobs/{order.job.number}/order/", f"/jobs/{order.job.number}/"):
        response = at_owner.get(page)
        assert response.status_code == 200
        assert "does not fit the bench" in response.content.decode()


def test_a_booked_order_stands(at_owner, workshop):
    job = workshop.booked()
    data = typed(workshop, {}, saves=1, customer=job.order.customer_id, key=job.order.form_key)
    response = at_owner.post(f"/jobs/{job.number}/order/", data)
    assert response.status_code == 422
    assert "its order stands as it was" in response.content.decode()


def test_bare_numbers_follow_the_house(at_owner, workshop):
    House.objects.update(units="us")
    at_owner.post("/jobs/new/", typed(workshop, {"size_text": "24 x 36"}))
    assert str(Order.objects.get().lines.get().width_mm) == "609.600000"


def test_no_rates_no_price(at_owner, workshop):
    HouseRates.objects.all().delete()
    page = at_owner.get("/jobs/new/")
    assert page.status_code == 200


def test_queries_do_not_grow_with_rows(at_owner, workshop, django_assert_num_queries):
    """At three rows and at thirty alike."""
    from django.db import connection

    def queries(address):
        with CaptureQueriesContext(connection, ) as seen:
            assert at_owner.get(address).status_code == 200
        return len(seen)

    run = workshop.run(workshop.line(quantity=3))
    for _ in range(2):
        workshop.booked(workshop.line(quantity=1))
    pages = ["/", "/jobs/", f"/jobs/{run.ticket.job.number}/", f"/jobs/{workshop.order().job.number}/order/",
             f"/bench/{run.pk}/", "/bench/", "/stockroom/", "/finishes/", "/finishes/solutions/",
             "/stockroom/silver-nitrate/", f"/stockroom/lots/{workshop.silver_lot.pk}/"]
    few = {page: queries(page) for page in pages}
    for number in range(12):
        workshop.order()
        builders.lot(builders.material(f"Salt {number}"), "5", workshop.owner, f"N{number}")
        builders.lot(workshop.silver, "5", workshop.owner, f"S{number + 2}")
        builders.recipe(f"Finish {number}", [{"kind": "clean"}])
    for _ in range(6):
        workshop.booked(workshop.line(quantity=1))
    more = {page: queries(page) for page in pages}
    assert {page: count for page, count in more.items() if count > few[page]} == {}


@pytest.mark.parametrize(("size", "question", "width", "height"), [
    ("24 3/8 x 36mm", "A fraction is mostly inches", "24.375", "36"), ("19 x 900 mm", "under 20 mm", "19", "900"),
])
def test_an_unusual_size_is_asked_once_and_what_was_typed_stays(at_owner, workshop, size, question, width, height):
    data = typed(workshop, {"size_text": "610 x 915 mm"}, {"size_text": size, "route": "cut", "cut_price_per_m2": "90"})
    asked = at_owner.post("/jobs/new/", data)
    page = asked.content.decode()
    assert asked.status_code == 422
    assert not Order.objects.exists()
    assert question in page
    assert f'value="{size}"' in page
    assert tick_beside(page, "lines-0-size_text") == {}
    tick = tick_beside(page, "lines-1-size_text")
    assert at_owner.post("/jobs/new/", {**data, **dict.fromkeys(tick, "on")}).status_code == 422  # no such answer
    other = {"lines-1-size_text": "18 x 900 mm", "key": str(uuid4())}
    assert at_owner.post("/jobs/new/", {**data, **tick, **other}).status_code == 422  # another size is asked again
    live = at_owner.post("/jobs/price-now/", {**data, **tick}, headers=LIVE).content.decode()
    assert "checked" in error_beside(live, "lines-1-size_text")
    assert at_owner.post("/jobs/new/", {**data, **tick}).status_code == 302
    line = Order.objects.get().lines.last()
    assert (line.size_text, line.width_mm, line.height_mm) == (size, Decimal(width), Decimal(height))


def test_a_size_that_was_meant_is_not_asked_again_when_the_order_is_changed(at_owner, workshop):
    data = typed(workshop, {"size_text": "19 x 900 mm"})
    tick = tick_beside(at_owner.post("/jobs/new/", data).content.decode(), "lines-0-size_text")
    at_owner.post("/jobs/new/", {**data, **tick})
    order = Order.objects.get()
    address = f"/jobs/{order.job.number}/order/"
    again = {**data, "title": "Two strips", "saves": str(order.saves), "customer": order.customer_id}
    answer = at_owner.post(address, again)
    assert answer.status_code == 302, answer.content.decode()
    asked = at_owner.post(address, {**again, "lines-0-size_text": "18 x 900 mm", "saves": str(order.saves + 1)})
    assert asked.status_code == 422
    assert "under 20 mm" in asked.content.decode()


@pytest.mark.parametrize("size", ["7 m x 500 mm", "60cm x 900"])
def test_six_metres_are_asked_about(at_owner, workshop, size):
    page = at_owner.post("/jobs/new/", typed(workshop, {"size_text": size})).content.decode()
    assert "a side over 6 m: is the unit right?" in error_beside(page, "lines-0-size_text")
    assert tick_beside(page, "lines-0-size_text")


@pytest.mark.parametrize(("size", "sentence"), [
    ("25 m x 600 mm", "no pane is over 20 m"), ("1 x 600 mm", "no pane is under 2 mm"),
    ("36 in x 900", "no pane is over 20 m"),
])
def test_a_size_that_no_pane_has_is_refused_without_a_tick(at_owner, workshop, size, sentence):
    page = at_owner.post("/jobs/new/", typed(workshop, {"size_text": size})).content.decode()
    assert sentence in error_beside(page, "lines-0-size_text")
    assert tick_beside(page, "lines-0-size_text") == {}
    assert not Order.objects.exists()


def test_metres_by_a_bare_number_is_a_pane_of_millimetres(at_owner, workshop):
    at_owner.post("/jobs/new/", typed(workshop, {"size_text": "1.2m x 400"}))
    line = Order.objects.get().lines.get()
    assert (line.width_mm, line.height_mm) == (1200, 400)
