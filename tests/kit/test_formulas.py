"""A formula is one, however its water is written; its water is said once."""

from __future__ import annotations

from fractions import Fraction

import pytest

from studio.kit.formulas import FormulaUnknown, molar_mass, read_formula


@pytest.mark.parametrize(("formula", "hydrate"), [
    ("SnCl2 2H2O", ""), ("SnCl2·2H2O", ""), ("SnCl2.2H2O", ""), ("SnCl2*2H2O", ""), ("SnCl₂·2H₂O", ""), ("SnCl2 • 2 H2O", ""),
    ("SnCl2 2 H2O", ""), ("SnCl2(H2O)2", ""), ("SnCl2 dihydrate", ""), ("SnCl2", "dihydrate"), ("SnCl2", "Dihydrate"),
    ("SnCl2", "2H2O"), ("SnCl2", "· 2 H₂O"),
])
def test_tin_chloride_is_one_however_its_water_is_written(formula, hydrate):
    assert molar_mass(formula, hydrate) == Fraction("225.6464")
    assert read_formula(formula, hydrate).written == "SnCl2·2H2O"


def test_water_alone_and_water_as_a_number_are_not_taken_for_each_other():
    assert (read_formula("H2O").waters, read_formula("H2O").atoms) == (0, {"H": 2, "O": 1})
    assert read_formula("CuSO4.5H2O").waters == 5
    assert read_formula("CuSO4 H2O").waters == 1
    assert read_formula("CuSO4", "anhydrous").waters == 0


@pytest.mark.parametrize(("formula", "hydrate"), [
    ("SnCl2·2H2O", "dihydrate"), ("SnCl2 2H2O", "2H2O"), ("SnCl2 dihydrate", "dihydrate"), ("SnCl2·2H2O·2H2O", ""),
    ("SnCl2·2H2O dihydrate", ""), ("SnCl2·2H2O", "anhydrous"),
])
def test_water_that_is_said_twice_is_refused(formula, hydrate):
    with pytest.raises(FormulaUnknown, match="said twice") as refusal:
        molar_mass(formula, hydrate)
    assert refusal.value.field == "hydrate"
