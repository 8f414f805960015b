"""One field of an order line, said once: draft, form, saved line, facts, order file and book keep to the table."""

from __future__ import annotations

from dataclasses import MISSING, fields
from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace

import pytest
from django.http import QueryDict

from jobs.draft import DraftLine, draft_of
from jobs.estimating.basis import LineFacts
from jobs.estimating.hole_words import read_holes
from jobs.estimating.refusals import EstimateError, warn
from jobs.line_fields import LINE_FIELDS, PRESET_FIELDS, to_facts
from jobs.models import CustomerChoices, OrderLine
from jobs.orders.line_form import Offer
from jobs.orders.order_form import OrderSheet
from jobs.quotes.basis import basis_of
from jobs.quotes.wording import matching_of
from studio.house.clock import today
from studio.house.models import HouseRates
from studio.whole.book.orders import line_of
from studio.whole.book.rooms import SECTIONS
from tests import builders

#: a line of which no field is as it would be by itself
FULL = {
    "shape": "ellipse", "quantity": 3, "route": "cut", "backing": "board", "cut_price_per_m2": Decimal("80.5"),
    "cut_minimum_each": Decimal(9), "own_price_each": Decimal("210.5"), "area_m2": Fraction(1, 4), "perimeter_mm": Fraction(2400), "plan": "spares",
    "own_panes_to_start": 5, "oversize_method": "on the floor", "match_group": "hall", "place": "A2", "opening": True,
    "joint_mm": Fraction(3), "holes_text": "hole 10 mm at 50 x 60 mm", "holes": read_holes("hole 10 mm at 50 x 60 mm"),
    "note": "for the stairs", "offered": "B", "width_mm": Fraction(604), "height_mm": Fraction(909),
}


def test_draft_facts_and_book_hold_what_the_table_says():
    names = {field.name for field in LINE_FIELDS}
    drafted = {field.name: field.default for field in fields(DraftLine)}
    assert set(drafted) == names | {"number"}
    for field in LINE_FIELDS:
        assert drafted[field.name] == (MISSING if field.required else field.default), field.name
    facts = {field.name: field.default for field in fields(LineFacts)}
    assert set(facts) == {field.name for field in LINE_FIELDS if field.is_a_fact} | {"number", "recipe", "glass"}
    for field in LINE_FIELDS:
        if field.is_a_fact and not field.required:
            assert facts[field.name] == (None if field.default is None else to_facts(field, field.default)), field.name
    lines = next(inner for section in SECTIONS for inner in section.every() if inner.model is OrderLine)
    columns = {column.attribute for column in lines.columns if column.refers_to is None}
    assert {field.name for field in LINE_FIELDS if field.kind != "reference"} == columns - {"number", "size_text"}
    kept = {column.name for column in CustomerChoices._meta.fields} - {"id", "customer", "name", "finish", "glass"}
    assert {field.name for field in PRESET_FIELDS} == kept


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def test_a_full_line_comes_back_as_it_was_from_table_form_and_file(workshop):
    assert not [line_field.name for line_field in LINE_FIELDS if line_field.name in FULL and FULL[line_field.name] == line_field.default]
    assert {line_field.name for line_field in LINE_FIELDS} - set(FULL) == {"recipe_version_id", "glass_id", "edge"}
    _, line = workshop.line(**FULL)
    order = workshop.order(("610 x 915 mm", line))
    draft = draft_of(order)
    assert draft.lines == (line,)

    sheet = OrderSheet(Offer(HouseRates.known_on(today()), "metric"), order=order)
    shown = {f"lines-0-{field.name}": field.value() for field in sheet.lines.forms[0]}
    sent = QueryDict(mutable=True)
    sent.update({name: "on" if value is True else str(value) for name, value in shown.items() if value})
    sent.update({"lines-TOTAL_FORMS": "1", "lines-INITIAL_FORMS": "0"})
    again = OrderSheet(Offer(HouseRates.known_on(today()), "metric"), sent).lines.forms[0]
    assert again.is_valid(), again.errors
    assert again.draft(1) == line

    assert line_of(1, {
        "size": "610 x 915 mm", "finish": workshop.recipe.finish.name, "glass": workshop.glass.name, "edge": "seamed",
        "shape": "ellipse", "quantity": 3, "route": "cut", "backing": "board", "cut_price_per_m2": "80.5",
        "cut_minimum_each": "9", "own_price_each": "210.5", "area": "0.25 m2", "perimeter": "2400 mm", "plan": "spares", "own_panes_to_start": 5,
        "oversize_method": "on the floor", "match_group": "hall", "place": "A2", "joint": "3 mm",
        "holes": "hole 10 mm at 50 x 60 mm", "note": "for the stairs", "offered": "B",
    }) == line

    (facts,) = basis_of(draft, today()).lines
    for line_field in LINE_FIELDS:
        if line_field.is_a_fact:
            assert getattr(facts, line_field.name) == getattr(line, line_field.name), line_field.name
    assert facts.glass == workshop.glass.code


def test_what_is_said_of_neighbours_is_told_apart_by_kind_not_by_words():
    salt = warn("not measurable", "Salt for Match group hall", solution="Toner", unit="g")
    glass = warn("group mixes glass", "hall", glasses="clear, grey")
    assert matching_of(SimpleNamespace(warnings=(salt, glass))) == [glass.sentence]
    load = warn("group does not fit one load", "hall", recipe=("night/2", "Night Reed"))
    assert (load.recipe, load.subject, load.about_a_group) == ("night/2", "hall", True)
    assert str(load) == "Night Reed: Match group hall does not fit one load: its panes are silvered one by one."


def test_a_refusal_names_kind_subject_line_and_field_and_can_be_said_of_something_else():
    refusal = EstimateError("no room on kept offcuts", "Line 2", 2, glass="Line 2 mm clear")
    assert (refusal.kind, refusal.subject, refusal.line, refusal.field) == ("no room on kept offcuts", "Line 2", 2, "route")
    assert refusal.about("A pane") == (
        "A pane does not fit on the kept offcuts of Line 2 mm clear that are free: take it from a sheet."
    )
