"""What must hold for any order: properties, by hypothesis."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.estimating.basis import EdgeFacts, GlassFacts, House, LineFacts
from jobs.estimating.estimate import estimate_basis
from jobs.estimating.loads import plan_loads
from jobs.estimating.mixes import batch_volumes_ml
from jobs.estimating.take_off import TakeOff, take_off
from recipes.chemistry.mixing import MEASURE, measure_batch, volume_of
from recipes.facts import IngredientFacts, MaterialFacts, Shelf, SolutionFacts
from tests.jobs.estimating.test_worked_cases import DOCUMENT
from tests.worked_cases import basis_of

sizes = st.integers(50, 1100)
HOUSE = House(bench_width_mm=Fraction(1200), bench_height_mm=Fraction(1100), bench_usable_share=Fraction(1),
              trim_mm=Fraction(10), clearance_mm=Fraction(3), smallest_offcut_mm=Fraction(200))
GLASS = GlassFacts(key="g", name="glass", sheet_width_mm=Fraction(2250), sheet_height_mm=Fraction(1605),
                   sheet_cost=Fraction(50))


def size_of(number: int, width: int, height: int, group: str = "") -> TakeOff:
    line = LineFacts(number=number, shape="rectangle", width_mm=Fraction(width), height_mm=Fraction(height), quantity=1,
                     recipe="r", glass="g", edge="e", match_group=group)
    return take_off(line, EdgeFacts(name="e"), GLASS)


@given(st.lists(st.tuples(sizes, sizes, st.integers(1, 5), st.sampled_from(["", "a"])), min_size=1, max_size=8))
def test_no_load_is_over_the_bench_and_no_pane_is_lost(lines):
    given_sizes = [(size_of(n, w, h, group), count) for n, (w, h, count, group) in enumerate(lines, start=1)]
    plan = plan_loads("r", given_sizes, HOUSE)
    placed = [pane.label for load in plan.loads for pane in load.panes]
    assert sorted(placed) == sorted(f"{s.line.number}.{c}" for s, count in given_sizes for c in range(1, count + 1))
    for load in plan.loads:
        assert sum(pane.size.bounding_m2 for pane in load.panes) <= HOUSE.usable_area_m2


@given(st.fractions(0, 50_000).filter(lambda v: v > 0), st.integers(0, 5000), st.sampled_from([1, 5, 10, 25]))
def test_mixes_are_never_below_the_need_and_fit_the_vessel(needed, minimum, increment):
    house = replace(HOUSE, increment_ml=Fraction(increment), largest_vessel_ml=Fraction(5000))
    batches = batch_volumes_ml(needed, Fraction(minimum), house)
    assert sum(batches) >= needed
    assert len(set(batches)) == 1
    assert all(minimum <= volume <= 5000 and volume % increment == 0 for volume in batches)
    assert len(batches) == 1 or (len(batches) - 1) * 5000 < max(needed, minimum)


@given(st.integers(1, 20), st.integers(1, 400), st.integers(1, 40), st.integers(1, 4))
def test_ingredients_scale_with_volume_before_rounding(litres, active_g, carrier_ml, strength):
    salt = MaterialFacts(key="salt", name="salt", stock_unit="g")
    acid = MaterialFacts(key="acid", name="acid", stock_unit="mL", liquid=True)
    water = MaterialFacts(key="water", name="water", stock_unit="mL", liquid=True)
    solution = SolutionFacts(key="s", name="s", ingredients=(
        IngredientFacts(number=1, material="acid", amount_per_litre=Fraction(carrier_ml)),
        IngredientFacts(number=2, material="salt", amount_per_litre=Fraction(active_g), unit="g", scales_with_strength=True),
        IngredientFacts(number=3, material="water", make_up=True),
    ))
    shelf = Shelf(materials={"salt": salt, "acid": acid, "water": water}, solutions={"s": solution})
    dose, more = (measure_batch(solution, Fraction(volume), Fraction(strength), shelf) for volume in (1000, 1000 * litres))
    assert all(abs(b.amount - a.amount * litres) <= MEASURE * litres for a, b in zip(dose, more, strict=True))
    assert sum(volume_of(dose, shelf) for dose in more) == 1000 * litres
    assert more[0].amount == carrier_ml * litres  # strength never touches a carrier
    assert more[1].amount == active_g * litres * strength


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(DOCUMENT["cases"]), st.integers(101, 300))
def test_costs_add_up_and_a_dearer_house_is_never_cheaper(case, percent):
    basis = basis_of(case["given"])
    estimate = estimate_basis(basis)
    assert sum(cost.total for cost in estimate.costs) == estimate.price.cost
    assert sum(estimate.price.line_prices) == estimate.price.net
    assert sum(mix.cost(basis.shelf) for mix in estimate.mixes) == sum(cost.chemistry for cost in estimate.costs)
    assert all(sum(mix.charged.values()) == 1 for mix in estimate.mixes)
    dearer = replace(basis, house=replace(
        basis.house, helper_per_hour=basis.house.helper_per_hour * percent / 100,
        overhead_per_bench_hour=basis.house.overhead_per_bench_hour * percent / 100,
    ))
    assert estimate_basis(dearer).price.net >= estimate.price.net
