"""Sizes out of an e-mail: read into lines to confirm, marked where not understood, never guessed."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from jobs.models import CustomerChoices, Order
from jobs.orders.pasted_sizes import read_pasted
from studio.kit.units import parse_size
from tests import builders
from tests.jobs.orders.test_order_page import typed

INCH = Fraction(254, 10)


def only(text: str, unit: str = "mm"):
    """Return the one line of a text as quantity, shape, width and height in mm."""
    read = read_pasted(text, unit)
    assert not read.marked, read.marked
    (line,) = read.lines
    size = parse_size(line.size_text, unit)
    return line.quantity, line.shape, size.width_mm, size.height_mm


@pytest.mark.parametrize(("text", "quantity", "shape", "width", "height"), [
    ("3 @ 24 3/8 x 36", 3, "rectangle", 24 * INCH + 3 * INCH / 8, 36 * INCH),
    ("2 no. 600x900mm", 2, "rectangle", 600, 900),
    ("one round 30in", 1, "circle", 30 * INCH, 30 * INCH),
    ("2 x 600 x 900", 2, "rectangle", 600, 900),
    ("610 × 915 mm (4 off)", 4, "rectangle", 610, 915),
    ("610 x 915 mm, qty: 4", 4, "rectangle", 610, 915),
    ("two ovals 20\" x 30\"", 2, "ellipse", 20 * INCH, 30 * INCH),
    ("900mm (h) x 600mm (w)", 1, "rectangle", 600, 900),
    ("600w x 900h mm", 1, "rectangle", 600, 900),
    ("2' 0⅜\" x 3'", 1, "rectangle", 24 * INCH + 3 * INCH / 8, 36 * INCH),
    ("a pair of 12 x 40 in", 2, "rectangle", 12 * INCH, 40 * INCH),
    ("3 x ø600mm", 3, "circle", 600, 600),
    ("600mmx900mm 3 pcs", 3, "rectangle", 600, 900),
    ("60 by 91,5 cm", 1, "rectangle", 600, 915),
    ("> - 5 pieces 300 x 300 mm", 5, "rectangle", 300, 300),
    ("1) 610 x 915 mm", 1, "rectangle", 610, 915),
    ("2 @ 1.2m x 400", 2, "rectangle", 1200, 400),
])
def test_what_people_write(text, quantity, shape, width, height):
    assert only(text) == (quantity, shape, width, height)


@pytest.mark.parametrize(("text", "why"), [
    ("600 x 900 x 6", "count or a thickness"),
    ("24 x 36", "write the unit"),
    ("call me on 07700 900123", "No width"),
    ("arched 500 x 900", "needs its area"),
    ("1,500 x 900 mm", "could be 1500 or 1.500"),
    ("5 600 x 900", "What is “5”"),
    ("2 @ 600 x 900 mm (3 off)", "more than once"),
    ("0 x 600 x 900", "third figure"),
    ("round 600 x 900 mm", "one diameter"),
    ("9000 @ 600 x 900 mm", "between 1 and 500"),
    ("600 x 900 mm by Friday 12", "What is “12”"),
    ("24 3/8 x 36mm", "is all of it in mm?"),
    ("1.2m x 40", "write the unit of both"),
    ("2 @ 19 x 900 mm", "under 20 mm"),
    ("60cm x 900", "over 6 m"),
])
def test_what_is_in_doubt_is_marked_and_never_guessed(text, why):
    read = read_pasted(text)
    assert not read.lines
    assert why in read.marked[0].why
    assert read.marked[0].written == text


def test_a_whole_email():
    read = read_pasted(
        "Hi there,\nas we said: 3 @ 24 3/8 x 36, 2 no. 600x900mm low iron, one round 30in\n"
        "and 4 @ twelve bananas 7\n\nKind regards\nWilla"
    )
    assert [(line.quantity, line.shape) for line in read.lines] == [(3, "rectangle"), (2, "rectangle"), (1, "circle")]
    assert read.lines[1].note == "low iron"
    assert [passage.written for passage in read.marked] == ["and 4 @ twelve bananas 7"]
    assert read.passed_over == ("Hi there", "Kind regards", "Willa")


def test_a_unit_said_for_all():
    read = read_pasted("All sizes in inches\n24 x 36\n2 @ 12 x 48\n1 @ 600 x 900mm")
    sizes = [parse_size(line.size_text, "mm") for line in read.lines]
    assert [(size.width_mm, size.height_mm) for size in sizes] == [
        (24 * INCH, 36 * INCH), (12 * INCH, 48 * INCH), (600, 900)]


@given(st.text(alphabet="0123456789 x@/.,'\"()mincqtyround:\n-ø⅜&", max_size=400))
def test_no_figure_is_lost_whatever_is_written(text):
    """Every digit typed stands in a line's own words or in a mark; and reading comes to an end."""
    read = read_pasted(text)
    figures = sorted(re.sub(r"\D", "", "".join(passage.written for passage in (*read.lines, *read.marked))))
    bare = [re.sub(r"^[>\s]*(?:(?:\d{1,2}[.)]|[-*•·])\s+)?", "", row) for row in text.splitlines()]
    assert figures == sorted(re.sub(r"\D", "", "".join(bare)))


@given(st.integers(1, 60), st.integers(61, 3000), st.integers(61, 3000),  # a count as large as a side is in doubt
       st.sampled_from(["{n} @ {w} x {h} mm", "{n} no. {w}x{h}mm", "{w} x {h} mm ({n} off)", "{n} x {w} x {h} mm",
                        "{w}mm x {h}mm qty {n}", "{n} pieces {h} high x {w} wide mm"]))
def test_what_is_written_in_a_known_way_is_read_so(n, w, h, form):
    assert only(form.format(n=n, w=w, h=h)) == (n, "rectangle", w, h)


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


@pytest.mark.django_db
def test_pasted_sizes_become_lines_to_confirm(at_owner, workshop):
    text = "3 @ 24 3/8 x 36, 2 no. 600x900mm\none round 30in\n600 x 900 x 6"
    sent = typed(workshop, {"size_text": "", "edge": "polished"}, pasted=text)
    page = at_owner.post("/jobs/lines/pasted/", sent).content.decode()
    assert 'name="lines-TOTAL_FORMS" value="3"' in page
    assert "Read from “2 no. 600x900mm”" in page
    assert page.count('<option value="polished" selected>') == 3
    assert "<mark>600 x 900 x 6</mark>" in page
    assert ">\n600 x 900 x 6</textarea>" in page or ">600 x 900 x 6</textarea>" in page
    assert not Order.objects.exists()


@pytest.mark.django_db
def test_lines_are_duplicated_moved_and_chosen_alike(at_owner, workshop):
    def sizes(page):
        return re.findall(r'name="lines-\d+-size_text" value="([^"]*)"', page.content.decode())

    lines = ({"size_text": "300 x 300 mm", "edge": "polished"}, {"size_text": "400 x 400 mm"})
    assert sizes(at_owner.post("/jobs/lines/0/duplicate/", typed(workshop, *lines))) == [
        "300 x 300 mm", "300 x 300 mm", "400 x 400 mm"]
    assert sizes(at_owner.post("/jobs/lines/0/down/", typed(workshop, *lines))) == [
        "400 x 400 mm", "300 x 300 mm"]
    assert sizes(at_owner.post("/jobs/lines/0/up/", typed(workshop, *lines))) == [
        "300 x 300 mm", "400 x 400 mm"]
    page = at_owner.post("/jobs/lines/0/spread/", typed(workshop, *lines)).content.decode()
    assert page.count('<option value="polished" selected>') == 2


@pytest.mark.django_db
def test_a_customers_choices_start_new_lines(at_owner, workshop):
    order = workshop.order()
    sent = typed(workshop, {"edge": "polished"}, customer=order.customer_id, preset_name="shop fronts")
    assert "Saved for Ada Fenwick as “shop fronts”" in at_owner.post("/jobs/lines/0/save-preset/", sent).content.decode()
    kept = CustomerChoices.objects.get()
    page = at_owner.post("/jobs/lines/pasted/", typed(
        workshop, {"size_text": "", "recipe_version": "", "glass": "", "edge": "seamed"},
        pasted="2 @ 300 x 400 mm", preset=kept.pk,
    )).content.decode()
    assert page.count('<option value="polished" selected>') == 1
    chosen = re.search(r'<select name="lines-0-recipe_version".*?</select>', page, re.DOTALL)
    assert chosen
    assert f'<option value="{workshop.recipe.pk}" selected>' in chosen.group()
    refused = at_owner.post("/jobs/lines/0/save-preset/", typed(workshop, {}, preset_name="x")).content.decode()
    assert "Choose a saved customer first" in refused


@pytest.mark.django_db
def test_the_form_asks_as_often_for_forty_lines_as_for_two(at_owner, workshop):
    counted = []
    for lines in (2, 40):
        text = "\n".join(f"1 @ {300 + at} x 400 mm" for at in range(lines))
        with CaptureQueriesContext(connection) as asked:
            page = at_owner.post("/jobs/lines/pasted/", typed(workshop, {"size_text": ""}, pasted=text))
        assert f'value="{lines}"' in page.content.decode()
        counted.append(len(asked))
    assert counted[0] == counted[1]
