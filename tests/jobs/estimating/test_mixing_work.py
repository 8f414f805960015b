"""Mixing is work: it is paid, it stands in the timetable, and wet glass never waits for it. Values worked by hand."""

from __future__ import annotations

import copy
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from jobs.estimating.basis import Basis
from jobs.estimating.estimate import estimate_basis
from jobs.estimating.mixes import plan_mixes
from jobs.estimating.output import as_output
from jobs.estimating.timetable import Mixing, Timetable, mixing_of, timetable
from recipes.facts import PartFacts, RecipeFacts, StepFacts
from recipes.step_kinds import kind_of
from tests.jobs.estimating.test_mixes import HOUSE, need, shelf, solution
from tests.jobs.estimating.test_timetable import load
from tests.jobs.estimating.test_worked_cases import DOCUMENT, _by_hand
from tests.worked_cases import basis_of, work


def with_mixing(basis: Basis, default: Fraction | int = 0, **minutes: Fraction | int) -> Basis:
    """Return a basis whose studio says so many minutes for any batch, and its solutions their own."""
    solutions = {
        key: replace(known, mixing_minutes=Fraction(minutes[key]) if key in minutes else known.mixing_minutes)
        for key, known in basis.shelf.solutions.items()
    }
    return replace(basis, house=replace(basis.house, mixing_minutes_per_batch=Fraction(default)),
                   shelf=replace(basis.shelf, solutions=solutions))


def test_mixing_is_paid_by_hand():
    """One batch of sensitiser at 6 minutes and five pours at 2: 16 minutes more, at 24 an hour, and 12 of overhead."""
    before, after = estimate_basis(_by_hand()), estimate_basis(with_mixing(_by_hand(), sensitiser=6, pour=2))
    assert after.minutes == before.minutes + 16 == Fraction("77.65125")
    assert after.labour[1].mixing.helper == after.labour[1].mixing.total == 16
    assert after.labour[1].steps == before.labour[1].steps
    assert (after.costs[0].labour, after.costs[0].overhead) == (Fraction("31.0605"), Fraction("15.53025"))
    assert after.price.cost == before.price.cost + Fraction("6.4") + Fraction("3.2")


def test_mixing_stands_in_the_timetable_by_hand():
    """Six minutes of mixing, 36.65125 of wiping, half a minute of dwell, then five panes: 2 of mixing and 5 of rocking."""
    estimate = estimate_basis(with_mixing(_by_hand(), sensitiser=6, pour=2))
    (of_load,) = estimate.timetable.loads
    mixing, wiping, pouring = of_load.steps
    assert (mixing.only_mixing, mixing.step, mixing.name) == (True, 1, "mixing for sensitise")
    assert (mixing.starts, mixing.work_minutes) == (0, 6)
    assert (wiping.starts, wiping.work_minutes, wiping.mixing_minutes) == (6, Fraction("36.65125"), 0)
    assert (pouring.starts, pouring.work_minutes, pouring.mixing_minutes) == (Fraction("43.15125"), 35, 10)
    assert estimate.timetable.finish_minutes == Fraction("78.15125")
    assert estimate.timetable.labour_minutes == estimate.minutes
    shown = as_output(estimate)
    assert shown["lines"][0]["minutes_mixing"] == "16"
    assert [mix["mixing_minutes"] for mix in shown["mixes"]].count("2") == 5
    assert shown["timetable"]["loads"][0]["steps"][2]["mixing_minutes"] == "10"


@pytest.mark.parametrize(("default", "own", "minutes"), [
    (0, {}, 0), (3, {}, 18), (3, {"pour": 0}, 3), (3, {"sensitiser": 6}, 21), (Fraction(1, 3), {}, 2),
])
def test_the_studios_minutes_stand_where_a_solution_says_none(default, own, minutes):
    """Six batches; nothing is rounded: six thirds of a minute are two minutes."""
    assert estimate_basis(with_mixing(_by_hand(), default, **own)).labour[1].mixing.total == minutes


@pytest.mark.parametrize(("needed", "batches", "minutes"), [("1000", 1, 7), ("1001", 2, 14), ("2000", 2, 14), ("2001", 3, 21)])
def test_every_batch_is_mixed(needed, batches, minutes):
    """The vessel holds a litre, mixes are rounded up to 10 mL: 1001 mL are two batches of 510."""
    (mix,) = plan_mixes([need("salt", needed)], shelf(solution("salt", mixing_minutes=Fraction(7))), HOUSE)
    assert (len(mix.batches), mix.minutes(HOUSE)) == (batches, minutes)


def test_a_nested_solution_that_is_mixed_counts_its_own():
    """Two loads of a wash: its stock keeps and is mixed once for the job, its silver is used at once and mixed twice."""
    stock, silver = solution("stock", mixing_minutes=Fraction(5)), solution("silver", keeps_minutes=None,
                                                                           mixing_minutes=Fraction(2))
    wash = solution("wash", "stock", "silver", keeps_minutes=None, mixing_minutes=Fraction(1))
    mixes = plan_mixes([need("wash", "100", load=1, step=4), need("wash", "100", load=2, step=4)],
                       shelf(wash, stock, silver), HOUSE)
    mixing = mixing_of(mixes, HOUSE)
    assert mixing.for_job == 5
    assert mixing.for_load == {("a", 1, 4): 3, ("a", 2, 4): 3}
    assert sum(mix.minutes(HOUSE) for mix in mixes) == 11


def test_mixing_is_charged_by_need_and_then_by_area():
    """Two recipes share a sensitiser: 173.49125 mL and, without the 20 lost in the tray, 153.49125; 6 minutes in all."""
    basis = with_mixing(_by_hand(), sensitiser=6, pour=0)
    wipe, pour = basis.recipes["r"].steps
    for_job = replace(wipe, parts=(PartFacts(solution="sensitiser", strength=Fraction(2), mixed_for="job"),))
    recipes = {"r": replace(basis.recipes["r"], steps=(for_job, pour)),
               "q": RecipeFacts(key="q", finish="other", steps=(replace(for_job, loss_per_load_ml=Fraction(0)),))}
    line = basis.lines[0]
    lines = (line, replace(line, number=2, recipe="q"))
    estimate = estimate_basis(replace(basis, recipes=recipes, lines=lines))
    whole = Fraction("173.49125") + Fraction("153.49125")
    assert estimate.labour[1].mixing.helper == 6 * Fraction("173.49125") / whole
    assert estimate.labour[2].mixing.helper == 6 * Fraction("153.49125") / whole
    assert estimate.timetable.job_mixing_minutes == 6
    assert min(of_load.starts for of_load in estimate.timetable.loads) == 6
    twice = (line, replace(line, number=2, quantity=8, own_panes_to_start=10))
    of_one = estimate_basis(replace(basis, recipes=recipes, lines=twice)).labour
    assert of_one[2].mixing.helper == 2 * of_one[1].mixing.helper
    assert of_one[1].mixing.helper + of_one[2].mixing.helper == 6


def test_a_pane_that_is_silvered_again_is_mixed_for_again():
    """At a yield of one half the four panes are done once more: 6 and four times 2 minutes, at 24 and 12 an hour."""
    def rework(basis: Basis) -> Fraction:
        planned = replace(basis, lines=(replace(basis.lines[0], plan="rework"),),
                          recipes={"r": replace(basis.recipes["r"], own_yield=Fraction(1, 2))})
        return estimate_basis(planned).costs[0].rework

    assert rework(with_mixing(_by_hand(), sensitiser=6, pour=2)) == rework(_by_hand()) + Fraction("8.4")


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(DOCUMENT["cases"]), st.fractions(0, 30), st.fractions(0, 30))
def test_more_mixing_never_costs_less_and_never_ends_earlier(case, minutes, more):
    basis = basis_of(case["given"])
    quick, slow = (estimate_basis(with_mixing(basis, default)) for default in (minutes, minutes + more))
    batches = sum(len(mix.batches) for mix in quick.mixes)
    assert slow.minutes - quick.minutes == batches * more
    assert slow.price.net >= quick.price.net
    if quick.timetable.proved:
        assert slow.timetable.finish_minutes >= quick.timetable.finish_minutes


@pytest.mark.parametrize("case", DOCUMENT["cases"][:4], ids=lambda case: case["title"][:40])
def test_a_worked_case_may_name_mixing_minutes(case):
    """Named in the house, every batch of the case is two minutes more of work, and of nothing else."""
    named = copy.deepcopy(case)
    named["given"]["house"]["mix_min"] = "2"
    result, expected = work({"cases": [named]})["cases"][0]["result"], case["expected"]
    assert Fraction(result["minutes"]) == Fraction(expected["minutes"]) + 2 * len(expected["batches"])
    assert (result["batches"], result["amounts"], result["loads"]) == (expected["batches"], expected["amounts"], expected["loads"])


steps = st.lists(
    st.builds(StepFacts, number=st.just(0), kind=st.sampled_from(["clean", "rinse", "silver", "antique", "inspect", "make safe"]),
              drying=st.sampled_from(["", "", "air"]), dwell_minutes=st.sampled_from([0, 3, 8]).map(Fraction),
              dwell_attended=st.booleans(), minutes_per_load=st.integers(0, 4).map(Fraction)),
    min_size=1, max_size=6,
).map(lambda made: tuple(replace(step, number=number) for number, step in enumerate(made, start=1)))
minutes = st.dictionaries(st.tuples(st.integers(1, 2), st.integers(1, 6)), st.integers(0, 5).map(Fraction), max_size=5)


def timed(of: tuple[StepFacts, ...], for_load, for_job: int, hands: int, benches: int) -> Timetable:
    recipe = RecipeFacts(key="r", finish="r", steps=of)
    mixing = Mixing(for_job=Fraction(for_job), for_load={("r", *place): time for place, time in for_load.items()})
    return timetable([recipe], {"r": [load(1), load(2)]}, hands, benches, mixing)


@settings(max_examples=80, deadline=None)
@given(steps, minutes, minutes, st.integers(0, 9), st.integers(1, 2), st.integers(1, 2))
def test_mixing_for_loads_never_ends_the_work_earlier(of, quick, more, for_job, hands, benches):
    slow = {place: quick.get(place, Fraction(0)) + more.get(place, Fraction(0)) for place in {*quick, *more}}
    first = timed(of, quick, 0, hands, benches)
    assume(first.proved)
    assert timed(of, slow, for_job, hands, benches).finish_minutes >= first.finish_minutes + for_job


@settings(max_examples=80, deadline=None)
@given(steps, minutes, st.integers(1, 2), st.integers(1, 2))
def test_wet_glass_never_waits_for_a_mix(of, for_load, hands, benches):
    """Between two steps that may not wait there is time only where nothing works on the glass yet and nothing dwells."""
    by_number = {step.number: step for step in of}
    for of_load in timed(of, for_load, 0, hands, benches).loads:
        done = [step for step in of_load.steps if not step.only_mixing]
        assert [step.step for step in done] == sorted(by_number)
        working = False
        for before, after in pairwise(done):
            step = by_number[before.step]
            working = working or kind_of(step.kind).applying or before.dwell_minutes > 0
            if before.may_wait:
                safe_while_it_dries = kind_of(by_number[after.step].kind).makes_safe
                assert after.starts == before.starts + before.work_minutes if safe_while_it_dries else after.starts >= before.ends
                working = safe_while_it_dries
            elif working:
                assert after.starts == before.ends
            else:
                between = [step for step in of_load.steps if step.only_mixing and before.ends <= step.starts < after.starts]
                assert after.starts - before.ends == sum(step.work_minutes for step in between)
        for mix in (step for step in of_load.steps if step.only_mixing):
            assert mix.ends <= next(step.starts for step in done if step.step == mix.step)
