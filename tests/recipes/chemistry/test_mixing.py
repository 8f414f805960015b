"""One batch measured out: what is rounded where, what takes room in the jug, and which strengths are possible."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from recipes.chemistry.mixing import (
    DensityUnknown,
    MixError,
    SolutionCycle,
    StockSolution,
    StrengthNotUsable,
    TooStrong,
    check_strength,
    hard_to_measure,
    in_stock_unit,
    is_liquid,
    liquids_off_a_litre,
    materials_within,
    measure_batch,
    strongest_possible,
    volume_of,
    walk_solutions,
)
from recipes.facts import IngredientFacts, MaterialFacts, Shelf, SolutionFacts

ONE, LITRE = Fraction(1), Fraction(1000)
SALT = MaterialFacts(key="salt", name="Salt", stock_unit="g")
WATER = MaterialFacts(key="water", name="Water", stock_unit="mL", liquid=True)
ACID = MaterialFacts(key="acid", name="Acid", stock_unit="mL", liquid=True, density_g_per_ml=Fraction("1.25"))
SYRUP = MaterialFacts(key="syrup", name="Syrup", stock_unit="g", liquid=True, density_g_per_ml=Fraction("1.25"))
VARNISH = MaterialFacts(key="varnish", name="Varnish", stock_unit="g", liquid=True)
SHEET = MaterialFacts(key="cloth", name="Cloth", stock_unit="each", density_g_per_ml=ONE)
SAND = MaterialFacts(key="sand", name="Sand", stock_unit="g", density_g_per_ml=Fraction("2.5"))
MATERIALS = {thing.key: thing for thing in (SAND, SALT, WATER, ACID, SYRUP, VARNISH, SHEET)}


def of(what: str, amount: str = "0", unit: str = "mL", *, scales_with_strength: bool = False, nested: bool = False) -> IngredientFacts:
    """An ingredient per litre; of no amount, it makes up to volume."""
    return IngredientFacts(
        number=0, material=None if nested else what, solution=what if nested else None, amount_per_litre=Fraction(amount),
        unit=unit, scales_with_strength=scales_with_strength, make_up=amount == "0",
    )


def solution(*ingredients: IngredientFacts, name: str = "Bath") -> SolutionFacts:
    return SolutionFacts(key=name.lower(), name=name, keeps_minutes=Fraction(60), ingredients=tuple(
        replace(ingredient, number=number) for number, ingredient in enumerate(ingredients, start=1)
    ))


def shelf(*solutions: SolutionFacts) -> Shelf:
    return Shelf(materials=MATERIALS, solutions={solution.key: solution for solution in solutions})


def amounts(made: SolutionFacts, volume: str, strength: str = "1", more: tuple[SolutionFacts, ...] = ()) -> list[Fraction]:
    return [dose.amount for dose in measure_batch(made, Fraction(volume), Fraction(strength), shelf(made, *more))]


INNER = solution(of("salt", "1", "g"), of("water"), name="Inner")


@pytest.mark.parametrize(("per_litre", "volume", "measured"), [
    ("0.5", "1", "0.001"),        # 0.0005, a tie
    ("0.499", "1", "0"), ("1.5", "1", "0.002"), ("2.5", "1", "0.003"), ("12", "768.912", "9.227"),
])
def test_amounts_are_measured_half_up_to_a_thousandth(per_litre, volume, measured):
    """Of the stock unit, and of a millilitre of a nested solution; what is left of the volume is water."""
    for made in (solution(of("salt", per_litre, "g")), solution(of("inner", per_litre, nested=True))):
        assert amounts(made, volume, more=(INNER,)) == [Fraction(measured)]
    acid = solution(of("acid", per_litre), of("water"))
    assert amounts(acid, volume) == [Fraction(measured), Fraction(volume) - Fraction(measured)]


def test_a_dose_in_the_other_unit_is_rounded_once_converted():
    """0.4 mL of 1.25 g/mL is 0.5 g a litre; a mL of it is half a thousandth of a gram. And 0.625 g is 0.5 mL."""
    assert amounts(solution(of("syrup", "0.4")), "1") == [Fraction("0.001")]
    assert amounts(solution(of("acid", "0.625", "g")), "1") == [Fraction("0.001")]


def test_what_cannot_be_measured_is_told_from_what_is_not_wanted():
    tiny, fill = measure_batch(solution(of("salt", "0.1", "g"), of("water")), ONE, ONE, shelf())
    assert (tiny.amount, tiny.not_measurable) == (0, True)
    assert not fill.not_measurable
    assert [(thing.name, thing.unit) for thing in (tiny, fill)] == [("Salt", "g"), ("Water", "mL")]
    full, none = measure_batch(solution(of("acid", "1000"), of("water")), LITRE, ONE, shelf())
    assert (none.amount, none.not_measurable, full.not_measurable) == (0, False, False)


def test_what_makes_up_may_stand_anywhere_and_fills_what_liquids_leave():
    """A solid takes no room, a liquid stocked by weight takes grams ÷ density, a nested solution its millilitres."""
    made = solution(of("water"), of("salt", "50", "g"), of("syrup", "250", "g"), of("inner", "100", nested=True),
                    of("acid", "20"))
    assert amounts(made, "1000", more=(INNER,)) == [1000 - 200 - 100 - 20, 50, 250, 100, 20]
    by_weight = solution(of("acid", "500"), of("syrup"))
    assert amounts(by_weight, "1000") == [500, 625]  # 500 mL of 1.25 g/mL make it up


def test_strength_multiplies_what_is_active_and_nothing_else():
    made = solution(of("salt", "12", "g", scales_with_strength=True), of("acid", "10"), of("water"))
    assert amounts(made, "500", "1.5") == [9, 5, 495]


def test_too_strong_is_when_the_liquids_no_longer_fit():
    made = solution(of("acid", "300", scales_with_strength=True), of("inner", "100", nested=True), of("water"))
    there = shelf(made, INNER)
    assert amounts(made, "1000", "3", more=(INNER,)) == [900, 100, 0]
    with pytest.raises(TooStrong, match=r"Bath cannot be mixed at strength 3\.01: the strongest possible is 3\.$") as refused:
        measure_batch(made, LITRE, Fraction("3.01"), there)
    assert refused.value.strongest == 3
    over = solution(of("acid", "1001"), of("salt", "1", "g", scales_with_strength=True), of("water"))
    with pytest.raises(TooStrong, match="no strength is possible"):
        measure_batch(over, LITRE, ONE, shelf(over))


@pytest.mark.parametrize(("active", "carrier", "strongest"), [
    ("300", "100", "3"), ("300", "101", "2.99"), ("700", "1", "1.42"), ("300", "1000", "0"), ("300", "1001", None),
])
def test_the_strongest_possible_is_rounded_down_to_a_hundredth(active, carrier, strongest):
    made = solution(of("acid", active, scales_with_strength=True), of("water", carrier), of("water"))
    assert strongest_possible(made, shelf(made)) == (None if strongest is None else Fraction(strongest))


def test_nothing_limits_a_strength_where_no_active_liquid_takes_room():
    made = solution(of("salt", "12", "g", scales_with_strength=True), of("acid", "10"), of("water"))
    assert strongest_possible(made, shelf(made)) is None
    by_weight = solution(of("acid", "250", "g", scales_with_strength=True), of("syrup", "100", scales_with_strength=True), of("water"))
    assert strongest_possible(by_weight, shelf(by_weight)) == Fraction("3.33")  # 200 + 100 mL
    nested = solution(of("inner", "400", scales_with_strength=True, nested=True), of("water"))
    assert strongest_possible(nested, shelf(nested, INNER)) == Fraction("2.5")


def test_strength_is_above_zero_and_one_where_nothing_makes_room():
    neat, weighed = solution(of("acid", "1000", scales_with_strength=True)), solution(of("salt", "12", "g", scales_with_strength=True))
    nested = solution(of("inner", "1000", scales_with_strength=True, nested=True))
    for made, strength in ((neat, "1"), (weighed, "2"), (solution(of("acid", "1000")), "2"),
                           (solution(of("acid", "10", scales_with_strength=True), of("water")), "0.01")):
        check_strength(made, Fraction(strength), shelf(made))
    for made in (neat, nested):
        with pytest.raises(StrengthNotUsable, match="at strength 1 only") as refused:
            check_strength(made, Fraction(2), shelf(made, INNER))
        assert refused.value.field == "strength"
    for strength in (0, -1):
        with pytest.raises(StrengthNotUsable, match="above zero") as refused:
            check_strength(weighed, Fraction(strength), shelf(weighed))
        assert refused.value.field == "strength"


@pytest.mark.parametrize(("ingredients", "sum_ml"), [
    ((of("acid", "400"), of("water", "600")), None), ((of("acid", "400"), of("water", "601")), 1001),
    ((of("acid", "400"), of("water")), None), ((of("salt", "9", "g"), of("inner", "990", nested=True)), 990),
    ((of("syrup", "250", "g"), of("acid", "500", "g"), of("water", "400")), None), ((of("salt", "9", "g"),), 0),
    ((of("sand", "50"), of("water", "1000")), None),  # a solid takes no room, though it is dosed by volume
])
def test_liquids_that_are_no_litre_are_told(ingredients, sum_ml):
    made = solution(*ingredients)
    assert liquids_off_a_litre(made, shelf(made, INNER)) == sum_ml


def test_grams_and_millilitres_meet_by_density_or_not_at_all():
    assert in_stock_unit(SALT, Fraction(3), "g") == 3
    assert in_stock_unit(SYRUP, Fraction(2), "mL") == Fraction("2.5")
    assert in_stock_unit(ACID, Fraction("2.5"), "g") == 2
    for material, unit in ((WATER, "g"), (VARNISH, "mL"), (SHEET, "g")):
        with pytest.raises(DensityUnknown, match=f"Give {material.name} a density"):
            in_stock_unit(material, ONE, unit)
    (measured,) = measure_batch(solution(of("varnish", "950", "g")), LITRE, ONE, shelf())
    with pytest.raises(DensityUnknown, match="Varnish"):
        volume_of(measured, shelf())


def test_a_nested_solution_is_dosed_in_millilitres():
    with pytest.raises(MixError, match=r"Inner is a solution: give it in mL per litre\.") as refused:
        amounts(solution(of("inner", "5", "g", nested=True)), "1000", more=(INNER,))
    assert refused.value.field == "amount_per_litre"
    assert is_liquid(of("inner", "5", nested=True), shelf(INNER))
    assert [is_liquid(of(what, "5"), shelf()) for what in ("salt", "water")] == [False, True]


@pytest.mark.parametrize(("grams", "per_litre", "measured_ml"), [
    ("0.27", "10", "27"), ("0.999", "10", "99.9"), ("0.001", "10", "0.1"), ("1", None, None), ("0", None, None),
])
def test_less_than_ten_times_the_readability_goes_by_a_stock_solution(grams, per_litre, measured_ml):
    """On a balance of 0.1 g at least 1 g is weighed, into 100 mL: 10 g/L."""
    found = hard_to_measure(Fraction(grams), "g", Fraction(1000), Fraction(1, 10))
    assert (found and found.stock) == (None if per_litre is None else
                     StockSolution(grams_per_litre=Fraction(per_litre), measured_ml=Fraction(measured_ml)))


def test_every_parent_stands_before_what_is_nested_in_it():
    outer = solution(of("middle", "10", nested=True), of("inner", "10", nested=True), name="Outer")
    middle = solution(of("inner", "10", nested=True), of("acid", "5"), name="Middle")
    there = shelf(outer, middle, INNER)
    assert walk_solutions(["inner", "outer", "middle"], there) == ("outer", "middle", "inner")
    assert [material.key for material in materials_within("outer", there)] == ["acid", "salt", "water"]
    round_ = replace(INNER, ingredients=(of("middle", "1", nested=True),))
    with pytest.raises(SolutionCycle, match=r"Middle → Inner → Middle\.$"):
        walk_solutions(["outer"], shelf(outer, middle, round_))
