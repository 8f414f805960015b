"""A lot made here, its solution and its labels carry the hazards of all that is in it, by version."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from io import BytesIO

import pytest
from django.db import IntegrityError, transaction
from pypdf import PdfReader

from recipes.reading import shelf_for
from recipes.solutions.authoring import next_version
from recipes.solutions.forms import SolutionForm
from recipes.solutions.hazards import silver_g_per_ml
from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import pretend, today
from studio.stockroom.labels.sizes import SIZES
from studio.stockroom.made_here import classes_of_lots, what_is_in
from studio.stockroom.materials import DeadlyTogether, stored_materials
from studio.stockroom.storage import stored_together
from tests import builders
from tests.stockroom.lots.test_keeps_to_the_minute import TEN, minutes

pytestmark = pytest.mark.django_db


@pytest.fixture
def sour(shop, owner):
    """Strong acid, as bought: its statement, its pictogram."""
    acid = builders.material("Nitric acid 65 %", "mL", density_g_per_ml=Decimal("1.39"), cas_number="7697-37-2",
                             assay_share=Decimal("0.65"), hazard_statements=["H314"], precautions=["P280"])
    builders.lot(acid, "500", owner, "N1")
    return acid


@pytest.fixture
def stock(shop, sour):
    inner = builders.solution("Sour stock", {"material": shop.water, "amount": 500}, {"material": sour, "amount": 20},
                              {"material": shop.water})
    return builders.solution("Sour wash", {"material": shop.water, "amount": 500}, {"nested": inner, "amount": 100},
                             {"material": shop.water})


def mixed(version, owner, at=None):
    return mix_ahead(key=builders.key(), by=owner, version=version, volume_ml=Fraction(500), day=today(), at=at)


def text_of(answer):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages).split())


def test_a_lot_carries_what_is_in_it_at_any_depth(at_owner, shop, owner, stock, sour):
    lot = mixed(stock, owner)
    inside = what_is_in([lot])[lot.pk]
    assert "oxidising_acid" in inside.classes
    assert inside.label.codes == ("H314",)
    page = at_owner.get(f"/stockroom/lots/{lot.pk}/").content.decode()
    assert "Causes severe skin burns and eye damage" in page
    assert "Danger" in page
    assert "corrosion" in page
    sour.hazard_statements = ["H314", "H331"]  # the truth entered later reaches the lots that stand
    sour.save()
    assert what_is_in([lot])[lot.pk].label.codes == ("H314", "H331")


def test_its_labels_carry_them_and_print_the_first_making_again(at_owner, shop, owner, stock):
    builders.house()
    with pretend(TEN):
        lot = mixed(stock, owner, at=TEN)
    for at in (1, 600):  # printed again hours later, the same
        with pretend(TEN + minutes(at)):
            bottle = text_of(at_owner.get(f"/finishes/solutions/sour-wash/1/label.pdf?lot={lot.pk}"))
            size = max(SIZES, key=lambda key: SIZES[key].width * SIZES[key].height)
            small = text_of(at_owner.get("/stockroom/labels/labels.pdf", {"lot": lot.pk, "size": size, "start": 1}))
        for text in (bottle, small):
            assert "4 May 2026, 10:00" in text
            assert "Discard by 5 May 2026, 10:00" in text
            assert "Causes severe skin burns and eye damage" in text
    with pretend(TEN + minutes(600)):
        blank = text_of(at_owner.get("/finishes/solutions/sour-wash/1/label.pdf?volume=1+L"))
    assert "Mixed ____" in blank
    assert "2026" not in blank


def test_by_version_and_weakened_only_with_a_reason(at_owner, shop, owner, stock):
    first = mixed(stock, owner)
    second = next_version(type(stock).objects.get(pk=stock.pk), "weaker by its data sheet")
    with pytest.raises(IntegrityError, match="own_hazards_say_why"), transaction.atomic():
        type(second).objects.filter(pk=second.pk).update(own_hazard_statements="none")
    second.own_hazard_statements, second.hazard_change_reason = "H315, H319", "Below 1 % of nitric acid, section 3."
    second.save()
    lot = mixed(second, owner)
    inside = what_is_in([first, lot])
    assert inside[first.pk].label.codes == ("H314",)
    assert inside[lot.pk].label.codes == ("H315", "H319")
    assert inside[lot.pk].classes == inside[first.pk].classes, "what it reacts as is never weakened"
    assert "Below 1 % of nitric acid" in at_owner.get(f"/stockroom/lots/{lot.pk}/").content.decode()
    assert "Below 1 % of nitric acid" in at_owner.get("/finishes/solutions/sour-wash/2/").content.decode()


@pytest.mark.parametrize(("own", "why", "refused"), [
    ("H315", "", True), ("", "because", True), ("H999", "because", True), ("none", "Water after all.", False), ("", "", False)])
def test_the_form_asks_for_the_reason(own, why, refused):
    form = SolutionForm({"solution-name": "X", "solution-own_hazard_statements": own, "solution-hazard_change_reason": why})
    found = {"own_hazard_statements", "hazard_change_reason"} & set(form.errors)
    assert bool(found) is refused


def test_its_classes_count_where_it_stands(shop, owner, stock):
    lot = mixed(stock, owner)
    type(lot.material).objects.filter(pk=lot.material_id).update(reacts_as=[], storage_place="Low shelf")
    lot.material.refresh_from_db()
    bleach = builders.material("Bleach", "mL", cas_number="7681-52-9", storage_place="low shelf")
    with pytest.raises(DeadlyTogether, match="Bleach and Sour wash"):
        builders.lot(bleach, "500", owner, "B1")
    type(bleach).objects.filter(pk=bleach.pk).update(storage_place="elsewhere")
    builders.lot(type(bleach).objects.get(pk=bleach.pk), "500", owner, "B1")
    type(bleach).objects.filter(pk=bleach.pk).update(storage_place="low shelf")
    assert classes_of_lots([lot])[lot.pk] >= {"oxidising_acid"}
    deadly = [conflict for conflict in stored_together(stored_materials()) if conflict.stops]
    assert {(conflict.first, conflict.second) for conflict in deadly} >= {("Bleach", "Sour wash")}


def test_silver_in_a_mix_at_any_depth(shop):
    """12 g/L × 0.63499 is 7.61988 g of silver in a litre; 20 mL of it in another litre hold a fiftieth."""
    stock = builders.solution("Silver stock", {"material": shop.silver, "amount": 12, "unit": "g"}, {"material": shop.water})
    wash = builders.solution("Silver wash", {"nested": stock, "amount": 20}, {"material": shop.water})
    shelf = shelf_for([wash.pk], today())
    assert silver_g_per_ml(stock.key, shelf) == Fraction("7.61988") / 1000
    assert silver_g_per_ml(wash.key, shelf) == Fraction("7.61988") / 50_000
