"""A mix for as many loads as its working time and its vessel allow. Values worked by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.estimating.basis import Basis
from jobs.estimating.estimate import Estimate, estimate_basis, in_order_of_the_bench
from jobs.estimating.mixes import Mix
from jobs.estimating.output import as_output
from jobs.estimating.refusals import EstimateError
from jobs.estimating.sharing import UseOfMixes, in_time
from jobs.frozen import freeze, thaw
from jobs.looking_back.going_bigger import MadeSoFar, predict
from jobs.quotes.frozen_plan import freeze_plan, thaw_plan
from recipes.facts import IngredientFacts, PartFacts, RecipeFacts, Shelf, SolutionFacts, StepFacts
from recipes.solutions.rules import shared_for_minutes
from tests.jobs.estimating.test_worked_cases import _by_hand
from tests.recipes.finishes.test_bench_rules import MATERIALS, SHELF

SILVER, RINSE, SAFE = (
    StepFacts(number=1, kind="silver", how="pour", coverage_ml_per_m2=Fraction(1000), minutes_per_load=Fraction(15),
              parts=(PartFacts(solution="bath", mixed_for="loads"),)),
    StepFacts(number=2, kind="rinse", rinse_full=True, rinse_collected=True, minutes_per_load=Fraction(5)),
    StepFacts(number=3, kind="make safe", minutes_per_load=Fraction(6)),
)
WATER = IngredientFacts(number=3, material="water", make_up=True)


def bath(works: int | None = 60, *, ammoniacal: bool = False, **more) -> SolutionFacts:
    """A bath of 9 g of silver nitrate a litre, ten minutes to mix; with ammonia where it is to be ammoniacal."""
    inside = [IngredientFacts(number=1, material="silver" if ammoniacal else "nitrite", unit="g",
                              amount_per_litre=Fraction(9))]
    if ammoniacal:
        inside.append(IngredientFacts(number=2, material="ammonia", amount_per_litre=Fraction(11)))
    return SolutionFacts(key="bath", name="bath", mixing_minutes=Fraction(10), ingredients=(*inside, WATER),
                         working_minutes=None if works is None else Fraction(works), **more)


def five_loads(*steps: StepFacts, made: SolutionFacts | None = None, panes: int = 1, limit: int = 120,
               more: tuple[SolutionFacts, ...] = (), **house) -> Basis:
    """Five panes of 305 × 305 mm, so many a load; one pair of hands, one bench unless the house says otherwise."""
    basis = _by_hand()
    made = made or bath()
    return replace(
        basis, recipes={"r": RecipeFacts(key="r", finish="finish", steps=steps or (SILVER, RINSE))},
        shelf=Shelf(
            materials={key: replace(known, unit_cost=Fraction(2)) for key, known in MATERIALS.items()},
            solutions={solution.key: solution for solution in (made, *more)}, ammoniacal_limit_minutes=limit,
        ),
        house=replace(basis.house, bench_usable_share=Fraction(panes) * Fraction("0.094") / Fraction("0.7"), **house),
    )


def shared(estimate: Estimate, solution: str = "bath") -> list[tuple[list[int], Fraction]]:
    """Return the loads of each mix, and how much of it is made."""
    return [([share.load for share in mix.shared], mix.made_ml) for mix in estimate.mixes if mix.solution.key == solution]


def test_loads_share_within_the_working_time_by_hand():
    """Ten of mixing, 15 and 5 a load, 93.025 mL each: loads 1 and 2 have used it at 10, 25 and 45 minutes, load 3 at 65.

    An hour serves two. The second mix begins at 50, load 4 has used it at 95; the third is mixed from 100 to 110.
    """
    estimate = estimate_basis(five_loads())
    assert shared(estimate) == [([1, 2], 190), ([3, 4], 190), ([5], 100)]
    starts = {load.load: [step.starts for step in load.steps if step.step == 1] for load in estimate.timetable.loads}
    assert starts == {1: [0, 10], 2: [30, 30], 3: [50, 60], 4: [80, 80], 5: [100, 110]}
    assert estimate.timetable.finish_minutes == 130
    assert estimate.labour[1].mixing.total == 30
    assert estimate.timetable.labour_minutes == estimate.minutes


@pytest.mark.parametrize(("works", "loads"), [
    (24, [[1], [2], [3], [4], [5]]), (44, [[1], [2], [3], [4], [5]]), (45, [[1, 2], [3, 4], [5]]),
    (64, [[1, 2], [3, 4], [5]]), (65, [[1, 2, 3], [4, 5]]), (104, [[1, 2, 3, 4], [5]]), (105, [[1, 2, 3, 4, 5]]),
])
def test_to_the_minute(works, loads):
    """Mixed from 0 to 10, the n-th load has used it at 5 + 20 n minutes."""
    assert [found for found, _ in shared(estimate_basis(five_loads(made=bath(works))))] == loads


def test_it_costs_what_is_mixed_and_ten_bases_are_not_ten_jugs():
    """470 mL in one jug are 4.23 g and ten minutes; five jugs of 100 mL 4.5 g and fifty."""
    own = five_loads(replace(SILVER, parts=(PartFacts(solution="bath", mixed_for="load"),)), RINSE)
    each, one = estimate_basis(own), estimate_basis(five_loads(made=bath(240)))
    assert (each.amounts["nitrite"], one.amounts["nitrite"]) == (Fraction("4.5"), Fraction("4.23"))
    assert each.minutes - one.minutes == 40
    saved = Fraction("0.27") * 2 + (each.amounts["water"] - one.amounts["water"]) * 2
    assert each.costs[0].chemistry - one.costs[0].chemistry == saved
    assert sum(mix.needed_ml for mix in each.mixes) == sum(mix.needed_ml for mix in one.mixes) == 5 * Fraction("93.025")


@pytest.mark.parametrize(("vessel", "increment", "loads"), [
    (190, 10, [[1, 2], [3, 4], [5]]), (187, 1, [[1, 2], [3, 4], [5]]), (186, 1, [[1], [2], [3], [4], [5]]),
])
def test_a_shared_mix_fits_one_vessel(vessel, increment, loads):
    """Two loads need 186.05 mL: 190 rounded up to ten, 187 rounded up to one."""
    basis = five_loads(made=bath(240), largest_vessel_ml=Fraction(vessel), increment_ml=Fraction(increment))
    assert [found for found, _ in shared(estimate_basis(basis))] == loads


@pytest.mark.parametrize(("limit", "loads"), [(62, [[1, 2], [3, 4], [5]]), (61, [[1], [2], [3], [4], [5]]),
                                              (88, [[1, 2, 3], [4, 5]])])
def test_ammoniacal_silver_is_shared_until_it_is_made_safe_within_the_limit(limit, loads):
    """Ten of mixing, then 15, 5 and 6 a load: made safe after 36, 62 and 88 minutes. Four hours of working time or not."""
    basis = five_loads(SILVER, RINSE, SAFE, made=bath(240, ammoniacal=True), limit=limit)
    assert [found for found, _ in shared(estimate_basis(basis))] == loads


def test_ammoniacal_silver_never_works_longer_than_the_limit():
    for works, limit, found in ((60, 120, 60), (240, 120, 120), (120, 90, 90)):
        solution = bath(works, ammoniacal=True)
        assert shared_for_minutes(solution, replace(SHELF, solutions={"bath": solution}, ammoniacal_limit_minutes=limit)) == found
    plain = bath(240)
    assert shared_for_minutes(plain, replace(SHELF, solutions={"bath": plain}, ammoniacal_limit_minutes=90)) == 240


def poured(works: int | None) -> Basis:
    """Two loads of two panes and one of one; what is poured holds half a bath, and works at once: 100 mL a pane."""
    pour = SolutionFacts(key="pour", name="pour", works_at_once=True, mixing_minutes=Fraction(1), ingredients=(
        IngredientFacts(number=1, solution="bath", amount_per_litre=Fraction(500)), WATER))
    step = replace(SILVER, minutes_per_load=Fraction(0), minutes_per_pane=Fraction(9),
                   parts=(PartFacts(solution="pour", mixed_for="pane"),))
    return five_loads(step, RINSE, made=bath(works), panes=2, more=(pour,))


def test_what_is_poured_at_once_shares_the_bath_that_goes_into_it():
    """Ten of mixing, then ten a pane and 5 of rinse: loads have used it at 30, 55 and 70 minutes. 50 mL a pane of 100."""
    for works, found in ((60, [([1, 2], 200), ([3], 50)]), (70, [([1, 2, 3], 250)])):
        estimate = estimate_basis(poured(works))
        assert shared(estimate) == found
        assert [mix.made_ml for mix in estimate.mixes if mix.solution.key == "pour"] == [100] * 5
    without = estimate_basis(poured(None))
    assert [mix.made_ml for mix in without.mixes if mix.solution.key == "bath"] == [50] * 5
    assert {mix.mixed_for for mix in without.mixes if mix.solution.key == "bath"} == {"batch"}


def test_a_bath_that_one_load_does_not_use_up_in_time_is_mixed_for_each_pour():
    """Twenty-nine minutes are too few for ten of mixing and two panes; the load of one pane is served in twenty."""
    estimate = estimate_basis(poured(29))
    of_bath = [(mix.mixed_for, mix.load, mix.made_ml) for mix in estimate.mixes if mix.solution.key == "bath"]
    assert sorted(of_bath) == [("batch", 1, 50), ("batch", 1, 50), ("batch", 2, 50), ("batch", 2, 50), ("loads", 3, 50)]


def test_what_works_at_once_is_never_shared_and_the_time_must_be_known():
    for made, why in ((bath(None), "bath has no working time"), (bath(60, works_at_once=True), "works at once")):
        with pytest.raises(EstimateError, match=why) as refused:
            estimate_basis(five_loads(made=made))
        assert refused.value.field == "mixed_for"


def test_a_plan_with_shared_mixes_is_read_back():
    estimate = estimate_basis(five_loads())
    frozen = freeze_plan(estimate)
    read = thaw_plan(frozen, thaw(freeze(estimate.basis), Basis)).estimate
    assert read.mixes == estimate.mixes
    own = five_loads(replace(SILVER, parts=(PartFacts(solution="bath", mixed_for="load"),)))
    assert all("shared" not in mix for mix in freeze_plan(estimate_basis(own))["mixes"])
    shown = as_output(estimate)["mixes"][0]
    assert shown["mixed_for"] == "loads"
    assert shown["shared_by_loads"] == [{"load": 1, "needed_ml": "93.025"}, {"load": 2, "needed_ml": "93.025"}]


def test_going_bigger_says_how_long_it_is_in_use():
    (mix,) = predict(estimate_basis(five_loads()), MadeSoFar()).mixes
    assert (mix.takes, mix.works_for, mix.too_slow, mix.served) == (45, 60, False, "as many loads as it works for")


@pytest.mark.parametrize("hands", [1, 2])
def test_more_hands_use_what_is_shared_in_order_of_the_loads(hands):
    """Ten of mixing, then 15 and 5 a load: with two pairs of hands, two loads at once, both served from one jug.

    Two benches, two pairs: loads 1 and 2 from 0 (load 2 from 10), 3 and 4 from 30, 5 from 50: 65 minutes serve all.
    """
    basis = five_loads(made=bath(65), hands=hands, benches=hands)
    estimate = estimate_basis(basis)
    assert [found for found, _ in shared(estimate)] == ([[1, 2, 3], [4, 5]] if hands == 1 else [[1, 2, 3, 4, 5]])
    starts = [step.starts for load in estimate.timetable.loads for step in load.steps if step.step == 1
              and not step.only_mixing]
    assert starts == sorted(starts)
    check(estimate)


def check(estimate: Estimate) -> list[Mix]:
    """Check that what is shared is used in time, from one vessel, in order; return it."""
    basis = estimate.basis
    use = UseOfMixes(estimate.timetable, in_order_of_the_bench(basis))
    several = [mix for mix in estimate.mixes if len(mix.shared) > 1]
    for mix in several:
        loads = [share.load for share in mix.shared]
        assert loads == list(range(loads[0], loads[-1] + 1))
        assert len(mix.batches) == 1
        assert mix.made_ml <= basis.house.largest_vessel_ml
        assert sum(share.needed_ml for share in mix.shared) == mix.needed_ml
        begins = use.begins(mix, loads[0], basis.house)
        starts = [use.starts(mix, load) for load in loads]
        assert [begins, *starts] == sorted([begins, *starts])
        assert starts[0] >= begins + mix.minutes(basis.house)
        assert all(use.ends(mix, load) - begins <= mix.solution.working_minutes for load in loads)
        assert in_time(mix, loads[0], loads[-1], use, basis.shelf, basis.house)
    return several


@settings(max_examples=60, deadline=None)
@given(
    st.integers(10, 240), st.integers(0, 15), st.integers(1, 20), st.integers(0, 9), st.booleans(), st.booleans(),
    st.integers(1, 2), st.integers(1, 2), st.integers(1, 3), st.sampled_from([200, 300, 5000]), st.integers(10, 240),
)
def test_no_mix_is_shared_beyond_its_time_or_its_vessel(
    works, mixing, work, dwell, dries, ammoniacal, hands, benches, panes, vessel, limit
):
    made = replace(bath(works, ammoniacal=ammoniacal), mixing_minutes=Fraction(mixing))
    steps = (
        replace(SILVER, number=2, minutes_per_load=Fraction(work), dwell_minutes=Fraction(dwell)),
        replace(RINSE, number=3, drying="air" if dries else "", dwell_minutes=Fraction(30 if dries else 0)),
        replace(SAFE, number=4), StepFacts(number=5, kind="seal", minutes_per_load=Fraction(7), drying="air"),
    )
    clean = StepFacts(number=1, kind="clean", minutes_per_pane=Fraction(4))
    basis = five_loads(clean, *steps, made=made, panes=panes, limit=limit, hands=hands, benches=benches,
                       largest_vessel_ml=Fraction(vessel))
    estimate = estimate_basis(basis)
    check(estimate)
    own = replace(basis, recipes={"r": replace(basis.recipes["r"], steps=(
        clean, replace(steps[0], parts=(PartFacts(solution="bath", mixed_for="load"),)), *steps[1:]))})
    each = estimate_basis(own)
    assert sum(mix.needed_ml for mix in estimate.mixes) == sum(mix.needed_ml for mix in each.mixes)
    assert sum(mix.made_ml for mix in estimate.mixes) <= sum(mix.made_ml for mix in each.mixes)
    assert estimate.minutes <= each.minutes
    served = [share.load for mix in estimate.mixes for share in mix.shared]
    assert served == [load.number for load in estimate.loads["r"]]
