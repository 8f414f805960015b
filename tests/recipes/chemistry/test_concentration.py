"""Strengths against published worked examples and two reference chemistry libraries."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.chemistry.concentration import (
    WAYS,
    CannotBeKnown,
    Known,
    NoDilution,
    UnknownWay,
    dilute,
    grams_per_litre,
    in_every_way,
    made_up_from,
    parse_ratio,
    strength_as,
)
from recipes.chemistry.dosing import Substance, read_dose
from recipes.solutions.strength_forms import StrengthForm
from studio.kit.errors import DaybookError
from studio.kit.formulas import FormulaUnknown, molar_mass, share_by_mass
from studio.kit.units import NotUnderstood


def near(value: Fraction, published: str) -> bool:
    """Agree to the last digit that a publication prints."""
    digits = len(published.partition(".")[2])
    return abs(value - Fraction(published)) <= Fraction(1, 2 * 10**digits)


# OpenStax, Chemistry 2e, sections 3.3 and 3.4, worked examples (from memory; arithmetic by hand)
def test_openstax_dilution_of_five_molar():
    assert near(made_up_from(Fraction(5), Fraction(850), Fraction(1800)), "2.36")


@pytest.mark.parametrize(("stock", "wanted", "volume", "used"), [
    ("1.59", "0.100", "5000", "314"), ("0.45", "0.12", "41.25", "11"),
])
def test_openstax_volumes_of_stock(stock, wanted, volume, used):
    assert near(dilute(Fraction(stock), Fraction(wanted), Fraction(volume)).stock_ml, used)


def test_openstax_mass_of_hydrochloric_acid():
    known = Known(name="hydrochloric acid", solution_density=Fraction("1.19"))
    assert near(grams_per_litre(Fraction("37.2"), "% w/w", known) / 2, "221")


# CRC Handbook, table of concentrated reagents (from memory)
@pytest.mark.parametrize(("formula", "percent", "density", "molar"), [
    ("NH3", "28", "0.90", "14.8"), ("HNO3", "70", "1.42", "15.8"),
])
def test_concentrated_reagents(formula, percent, density, molar):
    known = Known(molar_mass=molar_mass(formula), solution_density=Fraction(density))
    assert near(strength_as(grams_per_litre(Fraction(percent), "% w/w", known), "mol/L", known), molar)


#: the trade's salts: molar masses of the CRC Handbook of Chemistry and Physics (tables "Physical Constants of
#: Inorganic Compounds" and "of Organic Compounds", printed to the digits here; from memory)
SALTS = [
    ("AgNO3", "", "169.873"), ("NaOH", "", "39.997"), ("NH3", "", "17.031"), ("C6H12O6", "", "180.155"),
    ("C6H12O6", "monohydrate", "198.170"), ("KNaC4H4O6", "tetrahydrate", "282.220"), ("SnCl2", "", "189.616"),
    ("SnCl2", "dihydrate", "225.647"), ("SnCl2·2H2O", "", "225.647"), ("SnCl2 · 2 H2O", "", "225.647"),
    ("FeCl3", "hexahydrate", "270.295"), ("CuSO4", "pentahydrate", "249.685"), ("Na2S2O3", "pentahydrate", "248.184"),
    ("CeO2", "", "172.115"), ("C2H6O", "", "46.068"), ("NH4NO3", "", "80.043"), ("[Ag(NH3)2]NO3", "", "203.934"),
    ("3CdSO4·8H2O", "", "769.546"),
]


@pytest.mark.parametrize(("formula", "hydrate", "printed"), SALTS)
def test_molar_masses_and_molarity_by_the_handbook(formula, hydrate, printed):
    assert abs(molar_mass(formula, hydrate) - Fraction(printed)) < Fraction(1, 100)  # the weights' own uncertainty
    known = Known(molar_mass=molar_mass(formula, hydrate))
    assert grams_per_litre(Fraction(1, 4), "mol/L", known) == molar_mass(formula, hydrate) / 4


def test_silver_in_silver_nitrate():
    assert near(share_by_mass("Ag", "AgNO3"), "0.63499")
    assert share_by_mass("Ag", "NaCl") == 0


@pytest.mark.parametrize(("formula", "hydrate"), [("Xx2", ""), ("", ""), ("AgNO3", "drenched"), ("SnCl2)", ""), ("agno3", ""),
                                                   ("AgNO3·", ""), ("Ag0", ""), ("50%wt Ag//H2O", ""), ("HCl@1.2", "")])
def test_a_formula_that_is_none(formula, hydrate):
    with pytest.raises(FormulaUnknown):
        molar_mass(formula, hydrate)


amounts = st.fractions(min_value="0.01", max_value=90, max_denominator=1000)
densities = st.fractions(min_value="0.6", max_value="2", max_denominator=100)


@given(amounts, st.sampled_from(sorted(WAYS)), st.fractions(min_value=10, max_value=400, max_denominator=10), densities, densities)
def test_every_way_leads_back(amount, way, mass, solution, pure):
    known = Known(molar_mass=mass, solution_density=solution, pure_density=pure)
    grams = grams_per_litre(amount, way, known)
    for other, figure in in_every_way(grams, known).items():
        if other not in ("% w/w", "% v/v") or figure <= 100:  # more than all of it: no strength to enter
            assert grams_per_litre(figure, other, known) == grams


def test_what_cannot_be_known_is_refused_by_name():
    stated = in_every_way(Fraction(12), Known(name="dextrose"))
    assert stated["g/L"] == 12
    assert stated["% w/v"] == Fraction("1.2")
    assert "molar mass of dextrose" in stated["mol/L"]
    assert "density" in stated["% w/w"]
    with pytest.raises(CannotBeKnown, match="density of dextrose as a pure liquid"):
        grams_per_litre(Fraction(5), "% v/v", Known(name="dextrose"))
    with pytest.raises(NoDilution, match="stronger than the stock"):
        dilute(Fraction(1), Fraction(2), Fraction(100))


@pytest.mark.parametrize(("text", "share", "other"), [
    ("1:32", Fraction(1, 33), Fraction(1, 32)), ("1 in 32", Fraction(1, 32), Fraction(1, 33)),
    ("1 + 9", Fraction(1, 10), Fraction(1, 9)), ("2 to 3", Fraction(2, 5), Fraction(2, 3)),
    ("1 / 2 : 10", Fraction(1, 21), Fraction(1, 20)),
])
def test_a_ratio_shows_both_readings(text, share, other):
    ratio = parse_ratio(text)
    assert (ratio.share, ratio.other_share) == (share, other)
    assert ratio.in_words().count("mL per litre") == 2


CONCENTRATE = Substance(name="Antiquing concentrate", liquid=True, density=Fraction("1.1"))
TIN = Substance(name="Tin(II) chloride dihydrate", liquid=False, molar_mass=molar_mass("SnCl2", "dihydrate"))
ACID = Substance(name="Hydrochloric acid 37 %", liquid=True, density=Fraction("1.19"), molar_mass=molar_mass("HCl"), assay=Fraction("0.37"))


@pytest.mark.parametrize(("text", "substance", "per_litre", "unit"), [
    ("1.2 g/L", TIN, "1.2", "g"), ("1.2 g per litre", TIN, "1.2", "g"), ("500 mg / L", TIN, "0.5", "g"), ("12 g", TIN, "12", "g"),
    ("1/2 g/L", TIN, "0.5", "g"), ("2 % w/v", TIN, "20", "g"), ("2% v/v", CONCENTRATE, "20", "mL"), ("20 mL", CONCENTRATE, "20", "mL"),
    ("1 metric tbsp per litre", CONCENTRATE, "15", "mL"), ("15 mL per 750 mL", CONCENTRATE, "20", "mL"),
    ("1 oz av in 10 us fl oz", TIN, str(Fraction("28.349523125") * 1000 / (10 * Fraction("29.5735295625"))), "g"),
    ("1 in 50", CONCENTRATE, "20", "mL"), ("0.1 mol/L", TIN, str(molar_mass("SnCl2", "dihydrate") / 10), "g"),
    ("0.1 M", TIN, str(molar_mass("SnCl2", "dihydrate") / 10), "g"),
    ("1 mol per litre", ACID, str(molar_mass("HCl") / Fraction("0.37") / Fraction("1.19")), "mL"),
])
def test_doses_as_people_write_them(text, substance, per_litre, unit):
    dose = read_dose(text, substance)
    assert (dose.per_litre, dose.unit) == (Fraction(per_litre), unit)


@pytest.mark.parametrize(("text", "substance", "sentence"), [
    ("1 tbsp per litre", CONCENTRATE, "metric recipes"), ("1 teaspoonful per litre", TIN, "as an amount per litre"),
    ("1:32", TIN, "is a solid"), ("2 %", CONCENTRATE, "can be grams or mL"),
    ("2 % w/w", TIN, "density of the finished mix"), ("a pinch", TIN, "was not understood"), ("0 g/L", TIN, "above zero"),
    ("1 mol/L", CONCENTRATE, "molar mass"), ("5 g per 0 mL", TIN, "made into nothing"), ("5 g per bucket", TIN, "“1 bucket” was not understood"),
    ("3 in 2", CONCENTRATE, "more than the whole"), ("", TIN, "was not understood"), ("5 furlongs/L", TIN, "was not understood"),
])
def test_doses_that_are_asked_back(text, substance, sentence):
    with pytest.raises((NotUnderstood, CannotBeKnown), match=sentence):
        read_dose(text, substance)


@given(st.text(max_size=40))
def test_no_typed_dose_breaks_anything(text):
    try:
        dose = read_dose(text, CONCENTRATE)
    except DaybookError:
        return
    assert dose.per_litre > 0


@pytest.mark.parametrize("way", ["", "g/l", "oz per gallon", "% m/m"])
def test_an_unknown_way_is_refused_and_never_taken_for_grams_per_litre(way):
    with pytest.raises(UnknownWay, match="choose one of g/L, mol/L"):
        grams_per_litre(Fraction(5), way, Known())
    with pytest.raises(UnknownWay):
        strength_as(Fraction(5), way, Known())


@pytest.mark.django_db
@pytest.mark.parametrize("unsaid", ["way", "wanted_way"])
def test_the_calculator_asks_how_a_strength_is_stated(unsaid):
    form = StrengthForm({"amount": "28", "way": "g/L", "wanted": "2", "wanted_way": "g/L", "volume": "1 L"} | {unsaid: ""})
    form.is_valid()
    form.answer()
    assert "The way of stating the strength is missing" in str(form.errors[unsaid])
