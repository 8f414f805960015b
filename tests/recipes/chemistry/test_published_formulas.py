"""Published silvering formulas entered as solutions: the published amounts come back for the published volume or area.

Historical, as check values for scaling: the product recommends none of them, and none is an instruction. Ounces are
stated at each; US fluid ounces 29.5735 mL, avoirdupois ounces 28.3495 g, grains 0.0647989 g (NIST SP 811, Appendix B.8).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from jobs.estimating.published_silver import PUBLISHED
from recipes.chemistry.dosing import Substance, read_dose
from recipes.facts import IngredientFacts, MaterialFacts, PartFacts, Shelf, SolutionFacts, StepFacts
from recipes.finishes.volumes import SampleLoad, load_volume_ml, mixes_for_load
from recipes.solutions.bench_card import bench_card
from recipes.solutions.rules import findings, is_never_stored

OUNCE, FLUID_OUNCE, GRAIN, INCH = (Fraction(v) for v in ("28.349523125", "29.5735295625", "0.06479891", "25.4"))

MATERIALS = {key: MaterialFacts(key=key, name=key, stock_unit="mL" if liquid else "g", liquid=liquid, reacts_as=frozenset(agents))
             for key, liquid, *agents in (
                 ("silver nitrate", False, "silver_salt"), ("caustic potash", False, "caustic"), ("glucose", False, "reducer"),
                 ("Rochelle salt", False, "reducer"), ("ammonium nitrate", False, "oxidiser"), ("sodium hydroxide", False, "caustic"),
                 ("alcohol", True, "solvent"), ("water", True), ("ammonia", True, "ammonia"))}


def solution(key: str, *doses: tuple[str, str]) -> SolutionFacts:
    """Enter a solution the way the form does: each dose read as it is written, then made up with water."""
    ingredients = []
    for number, (of, text) in enumerate(doses, start=1):
        dose = read_dose(text, Substance(name=of, liquid=MATERIALS[of].liquid))
        ingredients.append(IngredientFacts(number=number, material=of, amount_per_litre=dose.per_litre, unit=dose.unit, scales_with_strength=True))
    fill = IngredientFacts(number=len(doses) + 1, material="water", make_up=True)
    return SolutionFacts(key=key, name=key, ingredients=(*ingredients, fill))


def shelf_of(*solutions: SolutionFacts) -> Shelf:
    return Shelf(materials=MATERIALS, solutions={solution.key: solution for solution in solutions})


def measured(formula: SolutionFacts, volume_ml: Fraction, shelf: Shelf) -> dict[str, Fraction]:
    card = bench_card(formula.key, volume_ml, Fraction(1), shelf, Fraction(0))
    return {row.measured.name: row.measured.amount for row in card.rows}


def near(value: Fraction, published: Fraction, digits: int = 2) -> bool:
    return abs(value - published) <= Fraction(1, 2 * 10**digits)


def test_commons_process():
    """W. T. Wilkinson, Photo-Engraving, Photo-Etching and Photo-Lithography: three solutions of 1, 1 and ½ ounce in 10.

    Taken as avoirdupois ounces in US fluid ounces of solution. Ten ounces of each for 250 square inches, so 1.92 ounces
    of each for 48 square inches by area alone ("rather more than two" is said).
    """
    silver = solution("silver", ("silver nitrate", "1 oz av per 10 us fl oz"))
    potash = solution("potash", ("caustic potash", "1 oz av per 10 us fl oz"))
    sugar = solution("sugar", ("glucose", "1/2 oz av per 10 us fl oz"))
    shelf = shelf_of(silver, potash, sugar)
    for formula, name, ounces in ((silver, "silver nitrate", 1), (potash, "caustic potash", 1), (sugar, "glucose", Fraction(1, 2))):
        assert near(measured(formula, 10 * FLUID_OUNCE, shelf)[name], ounces * OUNCE, 3)
    ml_per_m2 = 10 * FLUID_OUNCE / (250 * INCH**2 / 1_000_000)
    step = StepFacts(number=1, kind="silver", coverage_ml_per_m2=ml_per_m2, parts=(PartFacts(solution="silver"),))
    mirror = SampleLoad(panes=1, width_mm=8 * INCH, height_mm=6 * INCH)
    volume = load_volume_ml(step, [mirror.wetted_m2(step)])
    assert volume / FLUID_OUNCE == Fraction("1.92")
    (made,) = mixes_for_load(step, mirror, shelf, Fraction(1, 1000), Fraction(0))
    assert near(made.needed_ml, Fraction("1.92") * FLUID_OUNCE, 6)


def test_draper():
    """Draper, On the Construction of a Silvered Glass Telescope, Fifteen and a Half Inches in Aperture.

    Rochelle salt 560 grains and silver nitrate 800 grains, water to make 22 ounces (US fluid ounces here): 36.29 g and
    51.84 g, of which 32.92 g silver, 270 g offered to a m² of the disc.
    """
    bath = solution("bath", ("Rochelle salt", "560 gr per 22 us fl oz"), ("silver nitrate", "800 gr per 22 us fl oz"))
    amounts = measured(bath, 22 * FLUID_OUNCE, shelf_of(bath))
    assert near(amounts["Rochelle salt"], Fraction("36.29"))
    assert near(amounts["silver nitrate"], Fraction("51.84"))
    assert near(amounts["silver nitrate"] * Fraction("107.8682") / Fraction("169.8731"), Fraction("32.92"))
    offered = next(formula for formula in PUBLISHED if "Draper" in formula.source)
    assert near(offered.g_per_m2, Fraction(270), 0)


def test_barry():
    """D. Barry, Silvering Telescope Mirrors: A 6 g, B 9 g, C 10.5 g and D 10 g with 15 mL alcohol, each to 100 mL.

    30 to 40 mL of the mixture for a 6-inch mirror, a third of it A: 36 mL hold 0.72 g of silver nitrate.
    """
    a, b = solution("A", ("silver nitrate", "6 g per 100 mL")), solution("B", ("ammonium nitrate", "9 g per 100 mL"))
    c = solution("C", ("sodium hydroxide", "10.5 % w/v"))
    d = solution("D", ("glucose", "10 g per 100 mL"), ("alcohol", "15 mL per 100 mL"))
    shelf = shelf_of(a, b, c, d)
    assert measured(a, Fraction(100), shelf) == {"silver nitrate": 6, "water": 100}
    assert measured(c, Fraction(100), shelf)["sodium hydroxide"] == Fraction("10.5")
    assert measured(d, Fraction(100), shelf) == {"glucose": 10, "alcohol": 15, "water": 85}
    assert measured(a, Fraction(12), shelf)["silver nitrate"] == Fraction("0.72")
    disc = Fraction("0.018241")
    assert (near(30 / disc, Fraction(1645), 0), near(40 / disc, Fraction(2193), 0)) == (True, True)
    offered = next(formula for formula in PUBLISHED if "Barry" in formula.source)
    assert near(offered.g_per_m2, Fraction("0.72") * Fraction("0.63499") / disc)


def test_henley():
    """Henley's Twentieth Century Formulas: the reducing boil, 12 grains of each to 8 ounces; the silvering, 19 then 16 more.

    US fluid ounces. Silver with ammonia: never stored, at once.
    """
    reducer = solution("reducer", ("silver nitrate", "12 gr per 8 us fl oz"), ("Rochelle salt", "12 gr per 8 us fl oz"))
    silvering = solution("silvering", ("silver nitrate", "35 gr per 8 us fl oz"), ("ammonia", "5 mL/L"))
    shelf = shelf_of(reducer, silvering)
    amounts = measured(reducer, 8 * FLUID_OUNCE, shelf)
    assert near(amounts["silver nitrate"], 12 * GRAIN, 3)
    assert near(measured(silvering, 8 * FLUID_OUNCE, shelf)["silver nitrate"], 35 * GRAIN, 3)
    assert is_never_stored("silvering", shelf)
    from dataclasses import replace

    kept = replace(silvering, keeps_minutes=Fraction(60))
    assert any(finding.stops for finding in findings(kept, shelf_of(kept)))


@pytest.mark.parametrize(("text", "reads"), [("8 us fl oz", Fraction("236.5882365")), ("8 uk fl oz", Fraction("227.3045"))])
def test_an_ounce_says_which_one(text, reads):
    from studio.kit.units import amount_in

    assert abs(amount_in(text, "volume") - reads) < Fraction(1, 1000)
