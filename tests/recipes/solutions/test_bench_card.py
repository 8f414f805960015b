"""Measuring a solution out: the page, the part, the printed card, and what is refused."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

import pytest
from pypdf import PdfReader

from recipes.chemistry.mixing import DensityUnknown, TooStrong
from recipes.reading import shelf_for
from recipes.solutions.bench_card import bench_card
from recipes.solutions.measure_form import MeasureForm
from studio.house.clock import today
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    shop = builders.Workshop(owner)
    shop.outer = builders.solution(
        "Dilute", {"nested": shop.reducer, "amount": 20, "scales_with_strength": True}, {"material": shop.water})
    return shop


def test_750_ml_at_double_strength(workshop):
    """0.75 L × 20 mL/L × 2 = 30 mL of reducer, itself 9 g/L: 0.27 g of dextrose; water makes up the rest."""
    shelf = shelf_for([workshop.outer.pk], today())
    card = bench_card(workshop.outer.key, Fraction(750), Fraction(2), shelf, Fraction(1, 10))
    reducer, water = card.rows
    assert (reducer.measured.amount, water.measured.amount) == (30, 720)
    dextrose, fill = reducer.inside.rows
    assert (dextrose.measured.amount, fill.measured.amount) == (Fraction("0.27"), 30)
    assert dextrose.too_little.grams_per_litre == 10
    assert dextrose.too_little.measured_ml == 27
    assert dextrose.too_little.grams_per_litre * dextrose.too_little.measured_ml / 1000 == Fraction("0.27")


def test_the_page_and_its_part_measure_alike(at_helper, workshop):
    address = "/finishes/solutions/dilute/1/?volume=750+mL&strength=2"
    page = at_helper.get(address)
    part = at_helper.get(address, headers={"HX-Request": "true"})
    for shown in (page.content.decode(), part.content.decode()):
        assert "30 mL" in shown
        assert "0.3 g" in shown  # 0.27 g on a balance of 0.1 g
        assert "Too little to weigh well" in shown
    assert not part.content.decode().lstrip().startswith("<!doctype")


@pytest.mark.parametrize(("query", "sentence"), [
    ("volume=a+bucket", "was not understood as a volume"), ("volume=1+tbsp", "A tablespoon is"),
    ("strength=double", "Write the strength as a number"), ("strength=0", "must be above zero"),
    ("strength=51", "the strongest possible is 50"), ("volume=0+mL", "more than nothing"),
])
def test_what_cannot_be_measured_is_refused_beside_its_field(at_helper, workshop, query, sentence):
    response = at_helper.get(f"/finishes/solutions/dilute/1/?{query}")
    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert at_helper.get(f"/finishes/solutions/dilute/1/bench-card.pdf?{query}").status_code == 302


def test_the_printed_card_says_danger_where_it_must(at_helper, workshop):
    content = at_helper.get("/finishes/solutions/silver-part/1/bench-card.pdf?volume=26+fl+oz").content
    shown = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages)
    for wanted in ("Silver part", "769 mL", "mix only for immediate use", "Never store it", "Until just clear", "nitrile gloves",
                   "In this order", "Used at once"):
        assert wanted in shown, wanted


def test_a_refusal_stands_beside_the_field_it_names_whatever_its_words():
    form = MeasureForm.asked({"volume": "1 L", "strength": "2"})
    assert form.is_valid()
    form.put(DensityUnknown("Full-strength ammonia"))
    form.put(TooStrong("Silver part", Fraction(9), Fraction(3)))
    assert [list(form.errors), len(form.errors["strength"])] == [["volume", "strength"], 1]
