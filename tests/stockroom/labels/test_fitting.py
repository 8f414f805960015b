"""Fitting a label: how large its pictograms and letters are, by the package it is on."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

import pytest
from django.template.loader import render_to_string
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from studio.house.paper import render_pdf
from studio.stockroom.hazards.statements import HAZARD_STATEMENTS, PRECAUTIONS, Classification, label_elements
from studio.stockroom.labels.fitting import (
    EXPLOSIVE,
    MM_PER_POINT,
    X_HEIGHT,
    Wording,
    fits,
    sizes_for,
    smallest,
    why_too_small,
)
from studio.stockroom.labels.packages import PACKAGES, capacity_of, package_rule
from studio.stockroom.labels.sizes import SIZES, VESSEL_SIZES, LabelSize
from studio.stockroom.labels.wording import sentences

NITRATE = Classification(statements=("H272", "H314", "H410"), precautions=("P210", "P220", "P260", "P280", "P310"))


def wording_of(classification: Classification, **more) -> Wording:
    label = label_elements([classification])
    return Wording(**{
        "name": "Silver nitrate", "lines": (("CAS 7761-88-8, Chemfields", False), ("Lot L1003, 250 g", True)),
        "pictograms": label.pictograms, "signal_word": label.signal_word, "statements": sentences(label.statements),
        "precautions": sentences(label.precautions), **more,
    })


#: CLP Annex I, 1.2.1, table 1.3: capacity in mL up to which, label and pictogram in mm; letters of (EU) 2024/2865
@pytest.mark.parametrize(("millilitres", "label", "pictogram", "least", "x_height"), [
    (500, (52, 74), 16, 10, 1.2), (501, (52, 74), 16, 10, 1.4), (3000, (52, 74), 16, 10, 1.4),
    (3001, (74, 105), 23, 23, 1.8), (50_000, (74, 105), 23, 23, 1.8), (50_001, (105, 148), 32, 32, 2.0),
    (500_000, (105, 148), 32, 32, 2.0), (500_001, (148, 210), 46, 46, 2.0),
])
def test_the_package_decides(millilitres, label, pictogram, least, x_height):
    rule = package_rule(Fraction(millilitres))
    assert ((rule.short_side, rule.long_side), rule.pictogram, rule.least_pictogram, rule.x_height) == (
        label, pictogram, least, x_height)


@pytest.mark.parametrize("rule", PACKAGES, ids=lambda rule: str(rule.up_to_ml))
def test_a_pictogram_is_a_fifteenth_of_the_least_label(rule):
    """Within 2 %, as the table's own millimetres are rounded; never under 1 cm²."""
    assert rule.pictogram ** 2 >= rule.short_side * rule.long_side / 15 * 0.98
    assert rule.least_pictogram >= 10


@pytest.mark.parametrize("millilitres", [500, 3000, 50_000, 500_000, 600_000])
@pytest.mark.parametrize("size", [*SIZES.values(), *VESSEL_SIZES], ids=lambda size: size.key)
def test_what_fits_has_its_pictograms_and_letters(size, millilitres):
    rule, wording = package_rule(Fraction(millilitres)), wording_of(Classification(statements=("H319",)))
    setting = fits(wording, size, Fraction(millilitres))
    if rule.holds(size.width, size.height):
        assert setting is not None
        assert rule.least_pictogram <= setting.pictogram <= rule.pictogram
        assert setting.letters * MM_PER_POINT * X_HEIGHT >= rule.x_height - 1e-9
        assert setting.across_corners >= setting.pictogram * 1.414
    else:
        assert setting is None
        assert wording_of(Classification(statements=("H319",))).is_hazardous


def test_beside_the_suppliers_label_pictograms_are_ten_millimetres_at_least():
    small = wording_of(NITRATE, see_supplier=True)
    setting = fits(small, SIZES["a4-14"], Fraction(1000))
    assert setting is not None
    assert setting.pictogram >= 10
    assert small.paragraphs == ("See supplier's label.",)
    assert fits(small, LabelSize(key="", name="", width=25, height=25, page="roll"), Fraction(1000)) is None


def test_more_words_need_a_larger_label():
    little, small = Classification(statements=("H319",)), SIZES["roll-57"]
    assert fits(wording_of(little), SIZES["roll-74"], Fraction(250))
    assert not fits(wording_of(NITRATE), SIZES["roll-74"], Fraction(250))
    larger = sizes_for([(wording_of(NITRATE), Fraction(250)), (wording_of(little), Fraction(3000))], SIZES.values())
    assert larger[0].key == "roll-100"
    assert "roll-74" not in {size.key for size in larger}
    assert why_too_small(["Silver nitrate", "Acid"], small, larger) == (
        "57 × 32 mm, label printer, is too small for Silver nitrate and Acid with all that the label must say. Large "
        "enough are 100 × 62 mm, label printer; 99.1 × 67.7 mm, 8 on A4; 105 × 74 mm, 8 on A4; 105 × 74 mm, tie-on tag or "
        "fold-out, label printer.")
    assert sizes_for([(wording_of(NITRATE), Fraction(250))], [small]) == []
    assert "No size here is large enough" in why_too_small(["Acid"], small, [])


def test_ammoniacal_silver_begins_with_the_explosive_sentence():
    wording = wording_of(Classification(statements=NITRATE.statements), explosive=True)
    size, setting = smallest(wording, VESSEL_SIZES, Fraction(750))
    face = render_to_string("stockroom/labels/face.html", {"wording": wording, "setting": setting, "address": "x"})
    assert face.index(EXPLOSIVE) < face.index("<h1>")
    assert smallest(wording, VESSEL_SIZES, Fraction(5000))[0].width > size.width


def test_a_package_of_grams_holds_what_water_would_unless_its_density_is_known():
    assert capacity_of(Fraction(250), "g", None) == 250
    assert capacity_of(Fraction(250), "g", Fraction(2)) == 125
    assert capacity_of(Fraction(250), "mL", Fraction(2)) == 250
    assert capacity_of(Fraction(6), "sheet", None) == 0


def test_a_label_full_to_the_last_tenth_of_a_millimetre_is_too_small():
    """Found by the property below: 99.93 mm worked out of 100, and set on two pages by the paper's engine."""
    full = wording_of(Classification(statements=("EUH006", "H209", "H334"), precautions=("P101", "P102")),
                      name="Potassium sodium tartrate tetrahydrate, pure, in water", foot="The loft · gloves")
    size = next(size for size in VESSEL_SIZES if size.key == "vessel-148")
    assert fits(full, size, Fraction(60_000)) is None
    assert fits(full, size, Fraction(5_000)) is not None


@pytest.mark.django_db
@settings(max_examples=40)
@given(st.data())
def test_what_is_said_to_fit_does(data):
    """Set by the paper's own engine, a label that fits is one page; its every word is on it."""
    statements = data.draw(st.lists(st.sampled_from(sorted(HAZARD_STATEMENTS)), min_size=1, max_size=8))
    precautions = data.draw(st.lists(st.sampled_from(sorted(PRECAUTIONS)), max_size=6))
    wording = wording_of(Classification(statements=tuple(statements), precautions=tuple(precautions)),
                         name=data.draw(st.sampled_from(["Tin", "Potassium sodium tartrate tetrahydrate, pure, in water"])),
                         explosive=data.draw(st.booleans()), see_supplier=data.draw(st.booleans()), foot="The loft · gloves")
    size = data.draw(st.sampled_from(VESSEL_SIZES))
    setting = fits(wording, size, data.draw(st.sampled_from([Fraction(250), Fraction(1000), Fraction(5000), Fraction(60_000)])))
    if setting is None:
        return
    pdf = PdfReader(BytesIO(render_pdf("recipes/solutions/documents/bottle_label.html", {
        "wording": wording, "size": size, "setting": setting, "address": "https://daybook.example/lot/1"})))
    assert len(pdf.pages) == 1
    text = "".join(pdf.pages[0].extract_text().split())
    for words in (wording.first, wording.name, wording.signal_word.upper(), *wording.paragraphs, wording.foot):
        assert "".join(words.split()) in text
