"""Mixes of a job: how much is made in how many vesselfuls, of what, nested in what, and for whom."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from jobs.estimating.basis import EdgeFacts, GlassFacts, House, LineFacts
from jobs.estimating.loads import Pane
from jobs.estimating.mixes import (
    Mix,
    amounts_by_material,
    batch_volumes_ml,
    check_mixed_for,
    chemistry_by_recipe,
    plan_mixes,
)
from jobs.estimating.refusals import EstimateError
from jobs.estimating.take_off import take_off
from jobs.estimating.volumes import Need
from recipes.facts import IngredientFacts, MaterialFacts, MixedFor, Shelf, SolutionFacts

HOUSE = House(increment_ml=Fraction(10), largest_vessel_ml=Fraction(1000))
SALT = MaterialFacts(key="salt", name="Salt", stock_unit="g", unit_cost=Fraction(2))
WATER = MaterialFacts(key="water", name="Water", stock_unit="mL", liquid=True, unit_cost=Fraction("0.01"))
DAY = Fraction(1440)


def solution(key: str, *nested: str, per_litre: str = "10", **more) -> SolutionFacts:
    """A solution of salt, or of others nested at 100 mL a litre, made up with water."""
    inside = [IngredientFacts(number=n, solution=inner, amount_per_litre=Fraction(100), scales_with_strength=True)
              for n, inner in enumerate(nested, start=1)] or [
        IngredientFacts(number=1, material="salt", amount_per_litre=Fraction(per_litre), unit="g", scales_with_strength=True)]
    return SolutionFacts(key=key, name=key.title(), **{"keeps_minutes": DAY, **more}, ingredients=(
        *inside, IngredientFacts(number=len(inside) + 1, material="water", make_up=True)))


def shelf(*solutions: SolutionFacts, **materials: MaterialFacts) -> Shelf:
    return Shelf(materials={"salt": SALT, "water": WATER, **materials}, solutions={solution.key: solution for solution in solutions})


def pane(copy: int) -> Pane:
    line = LineFacts(number=1, shape="rectangle", width_mm=Fraction(100), height_mm=Fraction(100), quantity=9, recipe="a",
                     glass="g", edge="e")
    return Pane(size=take_off(line, EdgeFacts(name="e"), GlassFacts(key="g", name="glass")), copy=copy)


def need(key: str, volume: str, mixed_for: MixedFor = "load", *, recipe: str = "a", step: int = 1, load: int = 1,
         strength: str = "1", copy: int = 0) -> Need:
    return Need(recipe=recipe, step=step, load=load, pane=pane(copy) if copy else None, solution=key,
                strength=Fraction(strength), mixed_for=mixed_for, volume_ml=Fraction(volume))


def planned(mixes: list[Mix]) -> list[tuple[str, str, Fraction, list[Fraction]]]:
    return [(mix.solution.key, mix.mixed_for, mix.needed_ml, [batch.volume_ml for batch in mix.batches]) for mix in mixes]


@pytest.mark.parametrize(("needed", "minimum", "batches"), [
    ("10", "0", ["10"]), ("10.001", "0", ["20"]), ("0.001", "0", ["10"]),
    ("40", "95", ["100"]),                     # raised to the minimum, itself up to the increment
    ("1000", "0", ["1000"]), ("1000.5", "0", ["510", "510"]),
    ("2001", "0", ["670", "670", "670"]),      # 2010 in three
    ("2021", "0", ["680", "680", "680"]),      # 2030 ÷ 3 up to the increment
    ("1010", "800", ["800", "800"]),           # each of a split mix is at least the minimum batch
    ("1010", "795", ["800", "800"]), ("1010", "505", ["510", "510"]),
    ("100", "1000", ["1000"]),
])
def test_the_fewest_equal_batches_none_below_the_minimum(needed, minimum, batches):
    assert batch_volumes_ml(Fraction(needed), Fraction(minimum), HOUSE) == [Fraction(batch) for batch in batches]


def test_a_split_mix_is_numbered_measured_and_has_its_spare():
    bath = solution("bath", minimum_batch_ml=Fraction(800))
    (mix,) = plan_mixes([need("bath", "1010")], shelf(bath), HOUSE)
    assert [batch.number for batch in mix.batches] == [1, 2]
    assert (mix.number, mix.made_ml, mix.spare_ml) == (1, 1600, 590)
    assert [[ingredient.amount for ingredient in batch.ingredients] for batch in mix.batches] == [[8, 800]] * 2
    assert amounts_by_material([mix]) == {"salt": 16, "water": 1600}
    assert mix.cost(shelf(bath)) == 16 * 2 + 16


def test_a_minimum_above_the_vessel_is_refused_with_both():
    at_most = solution("bath", minimum_batch_ml=Fraction("999.5"))
    assert planned(plan_mixes([need("bath", "5")], shelf(at_most), HOUSE))[0][3] == [1000]
    over = solution("bath", minimum_batch_ml=Fraction("1000.5"))
    with pytest.raises(EstimateError, match=r"^Bath: the smallest batch is 1000\.5 mL, and the largest vessel holds 1000 mL"):
        plan_mixes([need("bath", "5")], shelf(over), HOUSE)


def test_what_is_mixed_for_a_pane_a_load_or_the_job_is_summed_so():
    bath = solution("bath")
    needs = [
        need("bath", "11", "job"), need("bath", "12", "job", recipe="b", step=2, load=2),
        need("bath", "13"), need("bath", "14"), need("bath", "15", load=2), need("bath", "16", step=2),
        need("bath", "17", recipe="b"), need("bath", "18", strength="2"),
        need("bath", "19", "pane", copy=1), need("bath", "20", "pane", copy=2), need("bath", "21", "job", strength="2"),
    ]
    mixes = plan_mixes(needs, shelf(bath), HOUSE)
    assert [(mix.mixed_for, mix.needed_ml) for mix in mixes] == [
        ("job", 23), ("load", 27), ("load", 15), ("load", 16), ("load", 17), ("load", 18), ("pane", 19), ("pane", 20),
        ("job", 21)]
    assert [mix.number for mix in mixes] == list(range(1, 10))
    job, first, *_, by_pane, other_pane, strong = mixes
    assert (job.recipe, job.step, job.load, job.pane, job.parent_mix) == ("", None, None, "", None)
    assert (first.recipe, first.step, first.load, first.pane, first.strength) == ("a", 1, 1, "", 1)
    assert (by_pane.pane, other_pane.pane) == ("1.1", "1.2")
    assert strong.strength == 2
    assert strong.batches[0].ingredients[0].amount == Fraction("0.6")  # 30 mL at twice 10 g/L


def test_chemistry_is_charged_by_what_each_recipe_needs():
    bath = solution("bath")
    there = shelf(bath)
    mixes = plan_mixes([need("bath", "30", "job"), need("bath", "10", "job", recipe="b"), need("bath", "5", recipe="b")],
                       there, HOUSE)
    assert [mix.charged for mix in mixes] == [{"a": Fraction(3, 4), "b": Fraction(1, 4)}, {"b": 1}]
    costs = [mix.cost(there) for mix in mixes]
    assert costs == [Fraction("0.4") * 2 + Fraction("0.4"), Fraction("0.1") * 2 + Fraction("0.1")]
    assert chemistry_by_recipe(mixes, there) == {"a": costs[0] * 3 / 4, "b": costs[0] / 4 + costs[1]}


def test_what_keeps_is_nested_once_for_the_job_and_what_does_not_in_each_batch():
    keeping, fleeting = solution("keeping"), solution("fleeting", keeps_minutes=None)
    outer = solution("outer", "keeping", "fleeting")
    there = shelf(keeping, fleeting, outer)
    mixes = plan_mixes([need("outer", "1200", step=3, load=2), need("outer", "300", "job", recipe="b")], there, HOUSE)
    assert sorted(planned(mixes), key=lambda solution: (solution[0], solution[2])) == [
        ("fleeting", "batch", 30, [30]), ("fleeting", "batch", 60, [60]), ("fleeting", "batch", 60, [60]),
        ("keeping", "job", 150, [150]), ("outer", "job", 300, [300]), ("outer", "load", 1200, [600, 600]),
    ]
    parents = [mix for mix in mixes if mix.solution.key == "outer"]
    inner = [mix for mix in mixes if mix.solution.key == "fleeting"]
    assert {mix.parent_mix for mix in inner} == {mix.number for mix in parents}
    assert [(mix.recipe, mix.step, mix.load, mix.pane) for mix in inner if mix.charged == {"a": 1}] == [("a", 3, 2, "")] * 2
    (pooled,) = (mix for mix in mixes if mix.solution.key == "keeping")
    assert (pooled.parent_mix, pooled.strength) == (None, 1)
    assert pooled.charged == {"a": Fraction(4, 5), "b": Fraction(1, 5)}  # 120 and 30 of 150 mL
    assert pooled.number > max(mix.number for mix in parents)
    assert set(amounts_by_material(mixes)) == {"salt", "water"}  # what is nested is worked out in its own mix
    for_pane = plan_mixes([need("outer", "50", "pane", copy=2)], there, HOUSE)
    assert [mix.pane for mix in for_pane if mix.solution.key == "fleeting"] == ["1.2"]


def test_a_nested_solution_called_for_twice_is_one_and_one_called_for_by_nothing_is_none():
    inner = solution("inner")
    twice = solution("twice", "inner", "inner")
    assert planned(plan_mixes([need("twice", "100")], shelf(inner, twice), HOUSE)) == [
        ("twice", "load", 100, [100]), ("inner", "job", 20, [20])]
    trace = replace(twice, ingredients=(
        IngredientFacts(number=1, solution="inner", amount_per_litre=Fraction("0.001")), twice.ingredients[-1]))
    assert planned(plan_mixes([need("twice", "100")], shelf(inner, trace), HOUSE)) == [("twice", "load", 100, [100])]


def test_where_and_when_a_mix_may_be_made():
    keeps, at_once = solution("keeps"), solution("at once", keeps_minutes=None)
    working = solution("working", works_at_once=True)
    for made, mixed_for in ((keeps, "job"), (keeps, "load"), (keeps, "pane"), (at_once, "load"), (at_once, "pane"),
                           (working, "pane")):
        check_mixed_for(made, mixed_for)
    for made, mixed_for, why in ((at_once, "job", "cannot be mixed for the whole job"), (working, "load", "one pane only"),
                                (working, "job", "one pane only")):
        with pytest.raises(EstimateError, match=why) as refused:
            check_mixed_for(made, mixed_for)
        assert refused.value.field == "mixed_for"
    with pytest.raises(EstimateError, match="one pane only"):
        plan_mixes([need("working", "10")], shelf(working), HOUSE)


def test_what_was_never_priced_is_asked_for():
    bath = solution("bath")
    unpriced = shelf(bath, salt=replace(SALT, unit_cost=None))
    mixes = plan_mixes([need("bath", "10")], unpriced, HOUSE)
    with pytest.raises(EstimateError, match="Salt has never been received and has no list price"):
        chemistry_by_recipe(mixes, unpriced)
