"""Checks against the outside: tables, handbooks, reference libraries. Each names its source."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from jobs.estimating.price import markup_of, share_out
from jobs.estimating.silver import film_g_per_m2
from jobs.estimating.spoilage import YieldTooLow, chance_of_enough, panes_to_start
from jobs.estimating.take_off import GLASS_KG_PER_M2_MM, ellipse_perimeter_mm, shape_area_mm2
from recipes.chemistry.mixing import measure_batch
from recipes.facts import IngredientFacts, MaterialFacts, Shelf, SolutionFacts
from studio.kit.rounding import PI, as_decimal, decimal_string, square_root
from studio.kit.units import amount_in, registry

WANTED = (1, 2, 4, 6, 10, 12, 20, 50)
#: Panes to start for so many good ones (negative binomial, worked out with scipy 1.17)
TO_START = {
    ("0.80", "0.90"): (2, 4, 6, 9, 15, 18, 28, 68), ("0.80", "0.95"): (2, 4, 7, 10, 16, 19, 29, 69),
    ("0.85", "0.90"): (2, 3, 6, 9, 14, 16, 26, 63), ("0.85", "0.95"): (2, 4, 6, 9, 14, 17, 27, 64),
    ("0.90", "0.90"): (1, 3, 5, 8, 13, 15, 24, 59), ("0.90", "0.95"): (2, 3, 6, 8, 13, 16, 25, 60),
    ("0.95", "0.90"): (1, 2, 5, 7, 12, 14, 22, 55), ("0.95", "0.95"): (1, 3, 5, 7, 12, 14, 23, 56),
}


@pytest.mark.parametrize(("share", "cover"), TO_START)
def test_panes_to_start_agree_with_the_table(share, cover):
    found = tuple(panes_to_start(good, Fraction(share), Fraction(cover)) for good in WANTED)
    assert found == TO_START[share, cover]


@given(st.integers(1, 30), st.integers(50, 99), st.integers(0, 99))
def test_started_panes_are_enough_and_one_fewer_is_not(good, yield_percent, cover_percent):
    """scipy.stats.binom is the other road: the two agree only by being right."""
    share, cover = Fraction(yield_percent, 100), Fraction(cover_percent, 100)
    started = panes_to_start(good, share, cover)
    assert float(chance_of_enough(good, started, share)) == pytest.approx(binom.sf(good - 1, started, float(share)))
    assert chance_of_enough(good, started, share) >= cover
    assert started == good or chance_of_enough(good, started - 1, share) < cover


def test_too_low_a_yield_is_refused():
    with pytest.raises(YieldTooLow, match="cannot be promised"):
        panes_to_start(1, Fraction(1, 100), Fraction(99, 100))


@pytest.mark.parametrize(("most", "of", "table"), [
    (1, 5, "0.9185"), (1, 10, "0.7361"), (2, 10, "0.9298"), (2, 15, "0.8159"), (3, 20, "0.8670"), (4, 20, "0.9568"),
])
def test_cumulative_binomial_table(most, of, table):
    """Cumulative binomial tables of any handbook, p = 0.10: spoilt panes at a yield of 0.90."""
    chance = chance_of_enough(of - most, of, Fraction(9, 10))
    assert as_decimal(chance, 4) == Decimal(table)


def test_largest_remainder_gives_the_apportionment_of_1791():
    """United States, 120 seats (Balinski and Young, Fair Representation; from memory)."""
    people = [630560, 475327, 432879, 353523, 331589, 278514, 236841, 206236, 179570, 141822, 85533, 70835, 68705,
              68446, 55540]
    seats = share_out(Fraction(120), [Fraction(person) for person in people], Fraction(1))
    assert seats == [21, 16, 14, 12, 11, 9, 8, 7, 6, 5, 3, 2, 2, 2, 2]


@given(st.integers(0, 10**7), st.lists(st.integers(0, 10**6), min_size=1, max_size=12).filter(any),
       st.sampled_from([0, 2, 3]))
def test_shares_sum_to_the_net_exactly(units, weights, digits):
    unit = Fraction(1, 10**digits)
    shares = share_out(units * unit, [Fraction(weight) for weight in weights], unit)
    assert sum(shares) == units * unit
    assert all(0 <= abs(share - units * unit * Fraction(weight, sum(weights))) < unit
               for share, weight in zip(shares, weights, strict=True))


@pytest.mark.parametrize(("typed", "exactly"), [
    ("1 in", "25.4"), ("1 ft", "304.8"),
])
def test_lengths_by_nist(typed, exactly):
    """NIST Special Publication 811, Appendix B.8 (from memory): exact by definition."""
    assert amount_in(typed, "length") == Fraction(exactly)


@pytest.mark.parametrize(("typed", "kind", "printed"), [
    ("1 us fl oz", "volume", "29.57353"), ("1 us pt", "volume", "473.1765"), ("1 us qt", "volume", "946.3529"),
    ("1 us gal", "volume", "3785.412"), ("1 uk fl oz", "volume", "28.41306"), ("1 uk gal", "volume", "4546.09"),
    ("1 oz av", "mass", "28.34952"), ("1 lb", "mass", "453.59237"), ("1 gr", "mass", "0.06479891"),
    ("1 ozt", "mass", "31.1034768"), ("1 us tbsp", "volume", "14.78676"), ("1 us tsp", "volume", "4.928922"),
    ("1 metric tbsp", "volume", "15"), ("1 us fl oz/ft2", "coverage", "318.327"),
])
def test_units_by_nist(typed, kind, printed):
    """NIST Special Publication 811, Appendix B.8 (from memory), to the digits printed there."""
    digits = -Decimal(printed).as_tuple().exponent
    assert as_decimal(amount_in(typed, kind), digits) == Decimal(printed)


@pytest.mark.parametrize(("typed", "printed"), [
    ("1 imp gal", "4546.09"), ("1 uk qt", "1136.5225"), ("1 imp pt", "568.26125"), ("1 imp fl oz", "28.4130625"),
])
def test_imperial_measures_by_the_act(typed, printed):
    """Weights and Measures Act 1985, Schedule 1 (from memory): the gallon is 4.54609 L; a quart is a quarter of it, a
    pint an eighth, a fluid ounce a twentieth of a pint. Exact.
    """
    assert amount_in(typed, "volume") == Fraction(printed)


@pytest.mark.parametrize(("typed", "kind", "printed"), [
    ("1 us cup", "volume", "236.5882"), ("1 us fl dr", "volume", "3.696691"), ("1 us minim", "volume", "0.06161152"),
    ("1 dram av", "mass", "1.771845"), ("1 dram ap", "mass", "3.887935"), ("1 dwt", "mass", "1.555174"),
    ("1 oz troy", "mass", "31.10348"), ("1 oz av", "mass", "28.34952"), ("1 grain", "mass", "0.06479891"),
])
def test_small_measures_by_nist(typed, kind, printed):
    """NIST SP 811, Appendix B.8 (cup, pennyweight, ounces, grain); NIST Handbook 44, Appendix C (drams, minim): from
    memory, to the digits printed there.
    """
    digits = -Decimal(printed).as_tuple().exponent
    assert as_decimal(amount_in(typed, kind), digits) == Decimal(printed)


def test_imperial_small_measures_are_parts_of_the_fluid_ounce():
    """8 fluid drachms and 480 minims to the fluid ounce, half a pint to the cup: apothecaries' usage, not the Act."""
    ounce = amount_in("1 imp fl oz", "volume")
    assert amount_in("8 imp fl dr", "volume") == amount_in("480 imp minims", "volume") == ounce
    assert amount_in("2 imp cups", "volume") == amount_in("1 imp pt", "volume")
    assert amount_in("1 metric cup", "volume") == 250


def test_one_sixty_fourth_inch_is_whole_nanometres():
    assert amount_in("1/64 in", "length") * 1_000_000 == 396_875


def test_fahrenheit_by_its_definition():
    """(F − 32) / 1.8, NIST SP 811."""
    assert registry.Quantity(Fraction(212), "degF").to("degC").magnitude == pytest.approx(100)


@pytest.mark.parametrize(("formula", "cas", "molar_mass"), [
    ("Ag", "7440-22-4", "107.8682"), ("AgNO3", "7761-88-8", "169.8731"), ("NaOH", "1310-73-2", "39.9971"),
    ("NH3", "7664-41-7", "17.0305"), ("C6H12O6", "50-99-7", "180.1562"), ("SnCl2(H2O)2", "10025-69-1", "225.6464"),
    ("HCl", "7647-01-0", "36.4608"), ("KNaC4H4O6(H2O)4", "6381-59-5", "282.2204"),
    ("CuSO4(H2O)5", "7758-99-8", "249.6849"), ("FeCl3(H2O)6", "10025-77-1", "270.2954"),
])
def test_molar_masses_by_standard_atomic_weights(formula, cas, molar_mass):
    """IUPAC/CIAAW weights over natural isotopes, as another library summed them; CAS numbers from memory."""
    from studio.kit import formulas
    from studio.stockroom.hazards.identity import cas_check_digit_holds

    assert formulas.molar_mass(formula) == Fraction(molar_mass)
    assert cas_check_digit_holds(cas)


def test_silver_in_silver_nitrate():
    """107.8682 / 169.8731 by standard atomic weights: what the demo's silver nitrate is said to hold."""
    from studio.whole.demo.library import MATERIALS

    silver = next(material for material in MATERIALS if material["name"] == "Silver nitrate")
    assert silver["silver_g_per_unit"] == as_decimal(Fraction("107.8682") / Fraction("169.8731"), 5)


def test_silver_film():
    """10.49 g/cm³ (CRC Handbook): 70 nm is 0.734 g/m², and 0.7 g/m² (EN 1036-1, from memory) is 66.7 nm."""
    assert as_decimal(film_g_per_m2(Fraction(70)), 3) == Decimal("0.734")
    assert as_decimal(Fraction(7, 10) / film_g_per_m2(Fraction(1)), 1) == Decimal("66.7")


def test_glass_mass():
    """EN 572-1 (from memory): 2.5 kg per m² and mm; 610 × 915 mm of 6 mm is 8.372 kg."""
    area = Fraction(610 * 915, 1_000_000)
    assert decimal_string(area, 5) == "0.55815"
    assert decimal_string(area * 6 * GLASS_KG_PER_M2_MM, 3) == "8.372"


def test_margin_and_markup():
    """k = m / (1 − m): 35 % ↔ 53.846 %, 20 % ↔ 25 %, 50 % ↔ 100 % (identity)."""
    assert [decimal_string(markup_of(Fraction(m, 100)) * 100, 3) for m in (35, 20, 50)] == ["53.846", "25", "100"]


def test_pi_and_square_roots_hold_forty_digits():
    """π by Machin's formula, 16 atan(1/5) − 4 atan(1/239), summed exactly."""
    def arctangent_of_one_over(whole: int) -> Fraction:
        return sum((Fraction((-1) ** k, (2 * k + 1) * whole ** (2 * k + 1)) for k in range(40)), Fraction(0))

    assert abs(PI - (16 * arctangent_of_one_over(5) - 4 * arctangent_of_one_over(239))) < Fraction(1, 10**38)
    assert abs(square_root(Fraction(2)) ** 2 - 2) < Fraction(1, 10**38)


def test_ellipse_perimeter():
    """A circle is an ellipse; Ramanujan's second approximation (1914) is within 10⁻⁶ of the integral at 1 : 2."""
    assert ellipse_perimeter_mm(Fraction(500), Fraction(500)) == PI * 500
    from scipy.special import ellipe

    exact = 4 * 1000 * ellipe(1 - 0.25)
    assert float(ellipse_perimeter_mm(Fraction(1000), Fraction(2000))) == pytest.approx(exact, rel=1e-6)


def _by_area(per_litre_g: Fraction, volume_ml: Fraction) -> Fraction:
    salt = MaterialFacts(key="salt", name="silver nitrate", stock_unit="g")
    water = MaterialFacts(key="water", name="water", stock_unit="mL", liquid=True)
    solution = SolutionFacts(key="s", name="silver", ingredients=(
        IngredientFacts(number=1, material="salt", amount_per_litre=per_litre_g, unit="g", scales_with_strength=True),
        IngredientFacts(number=2, material="water", make_up=True),
    ))
    shelf = Shelf(materials={"salt": salt, "water": water}, solutions={"s": solution})
    return measure_batch(solution, volume_ml, Fraction(1), shelf)[0].amount


def test_commons_process_scaled_by_area():
    """Wilkinson, Photo-Engraving, Photo-Etching and Photo-Lithography: 1 ounce silver nitrate in 10 ounces of water
    suffices for 250 square inches; a mirror of 8 × 6 inches takes 1.92 ounces of each solution by area alone.
    Ounces: avoirdupois for solids, US fluid for liquids (the book does not say)."""
    share = Fraction(8 * 6, 250)
    ounces = share * 10
    assert decimal_string(ounces, 2) == "1.92"
    fluid = amount_in("1 us fl oz", "volume")
    per_litre = amount_in("1 oz av", "mass") / (10 * fluid) * 1000
    assert decimal_string(_by_area(per_litre, ounces * fluid), 3) == decimal_string(share * amount_in("1 oz av", "mass"), 3)


def test_drapers_formula_scaled_by_area():
    """Draper, On the Construction of a Silvered Glass Telescope: 800 grains silver nitrate for a disc of 15.5 inches:
    51.84 g on 0.12174 m², 270 g of silver offered per m²."""
    grains = amount_in("800 gr", "mass")
    assert decimal_string(grains, 2) == "51.84"
    disc_mm = amount_in("15.5 in", "length")
    area = shape_area_mm2("circle", disc_mm, disc_mm) / 1_000_000
    assert decimal_string(area, 5) == "0.12174"
    silver = grains * Fraction("107.8682") / Fraction("169.8731")
    assert decimal_string(silver, 2) == "32.92"
    assert decimal_string(silver / area, 0) == "270"
    per_litre = grains / (22 * amount_in("1 us fl oz", "volume")) * 1000
    half = _by_area(per_litre, 11 * amount_in("1 us fl oz", "volume"))
    assert decimal_string(half, 3) == decimal_string(grains / 2, 3)
