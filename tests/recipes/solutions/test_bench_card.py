"""Measuring a solution out: the page, the part, the printed card, and what is refused."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from recipes.chemistry.mixing import DensityUnknown, TooStrong, as_tools_read, hard_to_measure
from recipes.reading import shelf_for
from recipes.solutions.bench_card import bench_card
from recipes.solutions.measure_form import MeasureForm
from studio.house.clock import today
from tests import builders
from tests.asking import error_beside, tick_beside
from tests.recipes.finishes.test_authoring import fields_of

pytestmark = pytest.mark.django_db
TENTH = Fraction(1, 10)


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
    assert dextrose.hard.stock.grams_per_litre == 10
    assert dextrose.hard.stock.measured_ml == 27
    assert dextrose.hard.stock.grams_per_litre * dextrose.hard.stock.measured_ml / 1000 == Fraction("0.27")


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
    ("strength=51", "51 times as written, above 5 times"), ("strength=0.004", "below 0.005 times"), ("volume=0+mL", "more than nothing"),
])
def test_what_cannot_be_measured_is_refused_beside_its_field(at_helper, workshop, query, sentence):
    response = at_helper.get(f"/finishes/solutions/dilute/1/?{query}")
    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert at_helper.get(f"/finishes/solutions/dilute/1/bench-card.pdf?{query}").status_code == 302


def test_an_unusual_strength_is_asked_once_and_what_cannot_be_mixed_is_refused(at_helper, workshop):
    """Without JavaScript: the tick goes with the query, to the printed card too."""
    address = "/finishes/solutions/dilute/1/"
    for strength, status in (("6", 200), ("51", 422)):
        asked = at_helper.get(address, {"volume": "1 L", "strength": strength})
        assert asked.status_code == 422
        sent = {"volume": "1 L", "strength": strength, **tick_beside(asked.content.decode(), "strength")}
        answer = at_helper.get(address, sent)
        assert answer.status_code == status
        assert ("the strongest possible is 50" in answer.content.decode()) == (status == 422)
        assert at_helper.get(f"{address}bench-card.pdf", sent).status_code == (200 if status == 200 else 302)
    for ordinary in ("0.005", "1/50", "5"):
        assert at_helper.get(address, {"volume": "100 L", "strength": ordinary}).status_code == 200


def test_a_card_says_what_helps_an_amount_that_the_tools_do_not_read(workshop):
    """Rounding 1.04 g to a balance of 0.1 g moves it by 3.8 %, 5.04 g by 0.8 %; 0.27 g is under ten times 0.1 g."""
    assert hard_to_measure(Fraction("5.04"), "g", Fraction(500), TENTH) is None
    helped = hard_to_measure(Fraction("1.04"), "g", Fraction(520), TENTH)
    assert helped.larger_ml == 550  # 1.1 g
    assert helped.stock.grams_per_litre * helped.stock.measured_ml / 1000 == Fraction("1.04")
    assert (helped.stock.grams_per_litre, helped.stock.measured_ml) == (20, 52)
    small = hard_to_measure(Fraction("0.27"), "g", Fraction(30), TENTH)
    assert small.larger_ml == Fraction(1000, 9)  # 9 g/L: one gram in 111 mL
    poured = hard_to_measure(Fraction("1.24"), "mL", Fraction(1000), TENTH)
    assert (poured.larger_ml, poured.stock) == (1000 * Fraction("1.3") / Fraction("1.24"), None)
    for well in (("2.52", "mL"), ("30", "mL"), ("1", "g"), ("1.02", "g"), ("0", "g"), ("3", "sheet")):
        assert hard_to_measure(Fraction(well[0]), well[1], Fraction(1000), TENTH) is None
    assert hard_to_measure(Fraction("0.27"), "g", Fraction(30), Fraction(0)) is None


@given(st.integers(1, 10**6), st.sampled_from(["0.1", "0.01", "1"]))
def test_a_larger_mix_and_a_stock_solution_can_be_measured(thousandths, readability):
    amount, reads = Fraction(thousandths, 1000), Fraction(readability)
    helped = hard_to_measure(amount, "g", Fraction(1000), reads)
    if helped is None:
        assert amount >= 10 * reads
        assert abs(as_tools_read(amount, "g", reads) - amount) <= amount / 50
        return
    assert hard_to_measure(amount * helped.larger_ml / 1000, "g", helped.larger_ml, reads) is None
    assert helped.stock.grams_per_litre * helped.stock.measured_ml / 1000 == amount
    assert helped.stock.measured_ml <= 100
    assert hard_to_measure(helped.stock.grams_per_litre / 10, "g", Fraction(100), reads) is None


def test_the_pages_say_when_a_strength_changes_nothing(at_owner, workshop):
    flat = builders.solution("Flat", {"material": workshop.sugar, "amount": 9, "unit": "g"}, {"material": workshop.water})
    page = at_owner.get("/finishes/solutions/flat/1/?volume=1+L&strength=2").content.decode()
    assert "at every strength it is mixed just as written" in page
    assert "no ingredient of Flat scales with it" in page
    assert "no ingredient of" not in at_owner.get("/finishes/solutions/flat/1/").content.decode()
    assert "just as written" not in at_owner.get("/finishes/solutions/reducer/1/?strength=2").content.decode()
    steps = workshop.steps()
    steps[2]["parts"] = [{"solution_version": workshop.silver_part, "mixed_for": "load"},
                         {"solution_version": flat, "mixed_for": "load", "strength": Decimal(2)}]
    draft = builders.recipe("Flat silver", steps)
    silver = draft.steps.get(kind="silver")
    step = at_owner.get(f"/finishes/{draft.finish.code}/{draft.number}/edit/?step={silver.number}").content.decode()
    assert "no ingredient of Flat scales with it" in step


def test_the_printed_card_says_danger_where_it_must(at_helper, workshop):
    content = at_helper.get("/finishes/solutions/silver-part/1/bench-card.pdf?volume=26+US+fl+oz").content
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


def test_a_strength_that_changes_nothing_is_asked_where_it_is_chosen(at_owner, workshop, owner):
    flat = builders.solution("Flat", {"material": workshop.sugar, "amount": 9, "unit": "g"}, {"material": workshop.water})
    steps = workshop.steps()
    steps[2]["parts"] = [{"solution_version": workshop.silver_part, "mixed_for": "load"},
                         {"solution_version": flat, "mixed_for": "load"}]
    recipe = builders.put_version_in_use(builders.recipe("Flat silver", steps), owner)
    address = f"/finishes/{recipe.finish.code}/{recipe.number}/try/"
    sent = fields_of(at_owner.get(address).content.decode(), "try") | {"s3p2-strength": "double"}
    asked = at_owner.post(address, sent)
    assert asked.status_code == 422
    assert "no ingredient of Flat, version 1 scales with it" in error_beside(asked.content.decode(), "s3p2-strength")
    answer = at_owner.post(address, {**sent, **tick_beside(asked.content.decode(), "s3p2-strength")})
    assert "the strength changes nothing" in at_owner.get(answer["Location"]).content.decode()
    assert at_owner.post(address, {**sent, "s3p2-strength": "1", "s3p1-strength": "double", "key": builders.key()}).status_code == 302
