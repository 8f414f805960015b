"""The order page: what was understood, refusals beside their fields, the live price, and the page without JavaScript."""

from __future__ import annotations

import re
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
    ({"size_text": "1,500 x 900 in"}, "could be 1500 or 1.500"),
    ({"size_text": "5000 x 900 mm"}, "does not fit the bench"),
    ({"quantity": "0"}, "At least 1."),
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


def test_a_small_size_without_a_unit_asks_which_and_one_press_answers(at_owner, workshop):
    """Given 60 x 90 in a studio that measures in mm: centimetres are as likely meant, and nothing is taken unasked."""
    data = typed(workshop, {"size_text": "60 x 90"}, {"size_text": "1200 x 800"})
    asked = at_owner.post("/jobs/new/", data)
    beside = error_beside(asked.content.decode(), "lines-0-size_text")
    assert asked.status_code == 422
    assert "No unit was typed: which is meant?" in beside
    assert re.findall(r">(60 x 90 [^<]+)</button>", beside) == ["60 x 90 mm", "60 x 90 cm", "60 x 90 in"]
    assert error_beside(asked.content.decode(), "lines-1-size_text") == ""  # no pane of this studio is in metres
    for unit, read in (("cm", "600 × 900 mm"), ("mm", "60 × 90 mm"), ("in", "1524 × 2286 mm")):
        [press] = re.findall(rf'formaction="([^"#]+/{unit}/)#line-1"', beside)
        answered = at_owner.post(press, data).content.decode()
        assert f'value="60 x 90 {unit}"' in answered
        assert re.search(rf'Read as </span>{read}\s', answered)
        assert error_beside(answered, "lines-0-size_text") == ""
        assert 'value="1200 x 800"' in answered
    assert at_owner.post(press.replace("/in/", "/parsec/"), data).status_code == 404
    assert not Order.objects.exists()


def test_a_unit_is_asked_only_where_none_was_typed_and_never_added_to_another(at_owner, workshop):
    written = typed(workshop, {"size_text": "60 x 90 cm"}, {"size_text": "60 x 90 mm"}, {"size_text": "24 3/8 x 36"})
    assert "No unit was typed" not in at_owner.post("/jobs/price-now/", written).content.decode()
    assert 'value="60 x 90 cm"' in at_owner.post("/jobs/lines/0/size-in/in/", written).content.decode()
    round_one = at_owner.post("/jobs/price-now/", typed(workshop, {"size_text": "61", "shape": "circle"}))
    assert "No unit was typed" in error_beside(round_one.content.decode(), "lines-0-size_text")


def test_names_that_a_row_cuts_off_stand_whole_below_it(at_owner, workshop):
    names = [f"Low-iron float for the long hall, {thick} mm" for thick in (4, 6)]
    lines = [{"glass": builders.glass(name).pk} for name in names]
    page = at_owner.post("/jobs/price-now/", typed(workshop, *lines, {})).content.decode()
    assert re.findall(r'class="note names">([^<]+)<', page) == names


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
        for word in ("Chemistry", "Glass", "Labour", "Overhead", "Margin", "Net", "What is in this price"):
            assert word in text
        assert "Silver nitrate" not in text  # the working is fetched when somebody opens it
        assert re.search(r'class="read">\s*<span class="hidden-words">Read as </span>610 × 915 mm\s', text)
    assert "Understood as 610 × 915 mm" in page.content.decode()
    drawn = at_owner.post("/jobs/price-now/", {**data, "drawn": "lines-0"}, headers=LIVE).content.decode()
    assert "Understood as 610 × 915 mm" in drawn  # the drawing of an open drawer
    assert not Order.objects.exists()


def test_what_is_in_the_price_comes_when_looked_at(at_owner, workshop):
    data = typed(workshop, {})
    live, page = at_owner.post("/jobs/price-now/", data, headers=LIVE), at_owner.post("/jobs/price-contents/", data)
    fetched = at_owner.post("/jobs/price-contents/", data, headers=LIVE)
    working = at_owner.post("/jobs/price-working/", data, headers=LIVE).content.decode()
    assert "Silver nitrate" in working
    assert "Panes to start" in working
    assert "If silver costs 10 % more" not in live.content.decode()
    for shown in (page, fetched):
        for words in ("If silver costs 10 % more", "10 × the quantity", "Cost, by luck with the panes", "has never been run"):
            assert words in shown.content.decode()
    assert "Correct the order first" in at_owner.post("/jobs/price-contents/", typed(workshop, {"size_text": "?"})).content.decode()


def test_one_bad_line_leaves_the_others_priced(at_owner, workshop):
    text = at_owner.post("/jobs/price-now/", typed(workshop, {}, {"size_text": "oops"}), headers=LIVE).content.decode()
    assert re.search(r'Not in this price until corrected\.\s*<span class="at-lines">Line\s+<a href="#line-2">2</a>', text)
    assert "“oops” was not understood" in error_beside(text, "lines-1-size_text")
    assert "Net" in text


def test_a_shortage_is_named(at_owner, workshop):
    text = at_owner.post("/jobs/price-now/", typed(workshop, {"quantity": "200", "route": "own"}), headers=LIVE)
    assert re.search(r'is-attention">chemistry</span>\s*[^<]*needed, [^<]* free, [^<]* short\.', text.content.decode())


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


def test_an_empty_last_row_stands_ready_and_is_no_mistake(at_owner, workshop):
    """It begins as the line above; an empty row between others is asked about, and nothing is lost by it."""
    empty = {"size_text": "", "quantity": "1", "edge": "polished"}
    assert at_owner.post("/jobs/new/", typed(workshop, {"edge": "polished"}, empty)).status_code == 302
    order = Order.objects.get()
    assert order.lines.count() == 1
    page = at_owner.get(f"/jobs/{order.job.number}/order/").content.decode()
    assert 'name="lines-TOTAL_FORMS" value="2"' in page
    assert page.count('<option value="polished" selected>') == 2
    between = at_owner.post("/jobs/new/", typed(workshop, {}, empty, {"size_text": "300 x 300 mm"}))
    assert between.status_code == 422
    assert "Fill this in" in error_beside(between.content.decode(), "lines-1-size_text")
    alone = at_owner.post("/jobs/new/", typed(workshop, {**empty, "quantity": "12"}))
    assert alone.status_code == 422  # twelve of something: not thrown away in silence


def test_a_removed_line_can_be_put_back_as_it_was(at_owner, workshop):
    lines = ({"size_text": "300 x 300 mm", "note": "left"}, {"size_text": "400 x 400 mm"})
    page = at_owner.post("/jobs/lines/0/remove/", typed(workshop, *lines)).content.decode()
    assert re.search(r'name="lines-0-DELETE" value="on"', page)
    assert 'value="300 x 300 mm"' in page
    assert re.search(r'Line <span data-number>1</span>.*?value="400 x 400 mm"', page, re.DOTALL)
    back = at_owner.post("/jobs/lines/0/put-back/", typed(workshop, {**lines[0], "DELETE": "on"}, lines[1]))
    assert "lines-0-DELETE" in back.content.decode()
    assert not re.search(r'name="lines-0-DELETE" value="on"', back.content.decode())
    assert back.content.decode().count('class="hidden-words">Price </span>') == 2  # both are priced again


def test_an_own_price_stands_beside_the_worked_out_one_and_below_cost_says_so(at_owner, workshop):
    data = typed(workshop, {"own_price_each": "1"}, {"size_text": "300 x 300 mm"})
    text = at_owner.post("/jobs/price-now/", data, headers=LIVE).content.decode()
    assert re.search(r'Sold below cost\.\s*<span class="at-lines">Line\s+<a href="#line-1">1</a>', text)
    assert "Below cost</strong>" in text
    assert re.search(r"own price; worked out €[\d.]+ each", text)
    assert "€2.00" in text  # two panes at one
    refused = at_owner.post("/jobs/new/", typed(workshop, {"own_price_each": "1.0055"})).content.decode()
    assert "The currency has 2 decimals" in error_beside(refused, "lines-0-own_price_each")
    assert re.search(r'class="drawer-of" open', refused)  # what is refused in a drawer is in sight
    assert at_owner.post("/jobs/new/", {**data, "key": str(uuid4())}).status_code == 302
    assert Order.objects.get().lines.first().own_price_each == 1


def test_the_same_in_another_finish_is_shown_and_taken(at_owner, workshop):
    dearer = [dict(step) for step in workshop.steps()]
    dearer[0]["minutes_per_pane"] = Decimal(30)
    slow = builders.put_version_in_use(builders.recipe("Slow silver", dearer), workshop.owner)
    data = typed(workshop, {}, {"size_text": "300 x 300 mm"})
    for address, headers in (("/jobs/lines/1/finishes/", LIVE), ("/jobs/lines/1/finishes/", {}),
                             ("/jobs/lines/finishes/", LIVE)):
        text = at_owner.post(address, data, headers=headers).content.decode()
        assert "Slow silver, version 1" in text
        assert re.search(r"€[\d.,]+ more</td>", text), address
        assert 'is-good">chosen' in text
    taken = at_owner.post(f"/jobs/lines/1/finishes/{slow.pk}/", data).content.decode()
    assert re.search(rf'name="lines-1-recipe_version".*?<option value="{slow.pk}" selected>', taken, re.DOTALL)
    first = taken.split('name="lines-0-recipe_version"')[1].split("</select>")[0]
    assert f'<option value="{workshop.recipe.pk}" selected>' in first
    nothing = at_owner.post("/jobs/lines/0/finishes/", typed(workshop, {"size_text": ""}), headers=LIVE)
    assert "Give the line its size" in nothing.content.decode()


def test_warnings_are_said_once_with_their_lines(at_owner, workshop):
    HouseRates.objects.update(two_person_kg=1)
    text = at_owner.post("/jobs/price-now/", typed(workshop, {}, {}, {"size_text": "700 x 900 mm"}), headers=LIVE)
    points = text.content.decode().split('class="points"')[1].split("</ul>")[0]
    assert points.count("two people, gloves") == 1
    assert "3 lines have panes above" in points
    assert re.findall(r'href="#line-(\d)"', points.split("3 lines have panes above")[1].split("</li>")[0]) == ["1", "2", "3"]


def test_the_browser_is_told_which_form_was_saved(at_owner, workshop):
    """What it kept of just that form, at that count of saves, is unsaved no longer."""
    data = typed(workshop, {})
    saved = at_owner.post("/jobs/new/", data)
    assert saved.cookies[f"saved-order-{data['key']}"].value == ""
    order = Order.objects.get()
    again = {**data, "saves": order.saves, "customer": order.customer_id}
    assert at_owner.post(f"/jobs/{order.job.number}/order/", again).cookies[f"saved-order-{data['key']}"].value == "1"
    refused = at_owner.post("/jobs/new/", typed(workshop, {"size_text": "oops"}))
    assert not [name for name in refused.cookies if name.startswith("saved-order")]


def test_sixty_lines_are_taken_whole(at_owner, workshop):
    answer = at_owner.post("/jobs/price-now/", typed(workshop, *({"size_text": f"{300 + at} x 400 mm", "preset_name": "",
                           "note": "", "place": "", "match_group": "", "holes_text": "", "joint_text": "", "written": "",
                           "area_text": "", "perimeter_text": "", "plan": "", "own_panes_to_start": "", "DELETE": "",
                           "oversize_method": "", "backing": ""} for at in range(60))), headers=LIVE)
    assert answer.status_code == 200
    assert "60-said" not in answer.content.decode()
    assert 'id="lines-59-said"' in answer.content.decode()


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
    assert "First change for Ada Fenwick now reads title “First change”." in late.content.decode()
    assert "Second change" in late.content.decode()
    order.refresh_from_db()
    assert (order.title, order.saves) == ("First change", 2)


def test_a_second_window_is_told_which_lines_differ_and_no_others(at_owner, workshop):
    """Given three lines, another window changed the second and struck out none: only what differs is named."""
    lines = [workshop.line(quantity=count, number=at) for at, count in enumerate((2, 3, 1), start=1)]
    order = workshop.order(*lines)
    address = f"/jobs/{order.job.number}/order/"
    stood = [{"quantity": 2}, {"quantity": 3}, {"quantity": 1}]
    own = {"title": order.title, "saves": 1, "customer": order.customer_id, "key": order.form_key}
    first = typed(workshop, stood[0], {"quantity": 5, "edge": "polished"}, stood[2], **own)
    assert at_owner.post(address, first).status_code == 302
    late = at_owner.post(address, typed(workshop, *stood, {"quantity": 4}, **own)).content.decode()
    told = "now reads line 2: 5 × 610 x 915 mm, Plain silver, version 1, edge “polished”; no line 4. Nothing was saved"
    assert told in late
    again = at_owner.post(address, typed(workshop, stood[0], **own)).content.decode()
    assert "now reads line 2: 5 × 610 x 915 mm" in again
    assert "line 3: 1 × 610 x 915 mm" in again
    assert "just what you typed" not in late + again
    same = at_owner.post(address, first).content.decode()
    assert "now reads just what you typed" in same


def test_a_saved_order_that_no_longer_works_says_why(at_owner, workshop):
    """The bench shrank since: the order can still be opened, and says what is wrong."""
    order = workshop.order()
    HouseRates.objects.update(bench_width_mm=400)
    for page in (f"/jobs/{order.job.number}/order/", f"/jobs/{order.job.number}/"):
        response = at_owner.get(page)
        assert response.status_code == 200
        assert "does not fit the bench" in response.content.decode()


def test_a_booked_order_stands_until_its_change_is_seen(at_owner, workshop):
    job = workshop.booked()
    before = list(job.order.lines.values_list("size_text", "quantity", "edge"))
    data = typed(workshop, {"quantity": 3}, saves=1, customer=job.order.customer_id, key=job.order.form_key)
    response = at_owner.post(f"/jobs/{job.number}/order/", data)
    assert "Nothing is saved yet" in response.content.decode()
    assert list(job.order.lines.values_list("size_text", "quantity", "edge")) == before
    assert job.order.quotes.count() == 1


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


@pytest.mark.parametrize("typed_hole", ["hole 35 mm at centre", "35 mm at centre", "35 mm in the middle"])
def test_a_hole_at_the_centre_is_placed_by_the_panes_size(at_owner, workshop, typed_hole):
    sent = typed(workshop, {"size_text": "600 x 900 mm", "holes_text": typed_hole})
    assert at_owner.post("/jobs/new/", sent).status_code == 302
    (hole,) = Order.objects.get().lines.get().holes
    assert (hole["kind"], hole["width_mm"], hole["from_left_mm"], hole["from_bottom_mm"]) == ("hole", "35", "300", "450")


def quantities(answer) -> list[tuple[str, bool]]:
    """Return each line's quantity, and whether it is marked as removed."""
    page = answer.content.decode()
    counts = dict(re.findall(r'name="lines-(\d+)-quantity" value="(\d*)"', page))
    gone = {at for at in counts if re.search(rf'name="lines-{at}-DELETE" value="on"', page)}
    return [(counts[at], at in gone) for at in sorted(counts, key=int)]


@pytest.mark.parametrize(("ordered", "halves"), [(8, ["4", "4"]), (7, ["4", "3"]), (1, ["1"])])
def test_half_of_a_line_becomes_a_line_of_its_own_and_goes_back(at_owner, workshop, ordered, halves):
    apart = at_owner.post("/jobs/lines/0/halve/", typed(workshop, {"quantity": ordered}))
    assert [count for count, _ in quantities(apart)][:len(halves)] == halves
    lines = [{"quantity": count} for count in halves] + [{"quantity": 5, "edge": "polished"}]
    together = at_owner.post("/jobs/lines/0/merge/", typed(workshop, *lines))
    assert quantities(together)[0] == (str(ordered), False)
    assert [gone for _, gone in quantities(together)][1:len(halves)] == [True] * (len(halves) - 1)
    assert ("5", False) in quantities(together)
