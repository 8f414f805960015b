"""The bench timetable: sound for any loads, as good as trying everything where that can be tried."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.estimating.basis import EdgeFacts, GlassFacts, LineFacts
from jobs.estimating.loads import Load, Pane
from jobs.estimating.scheduling import BENCH, HANDS, Stretch, Task, first_come, schedule
from jobs.estimating.take_off import take_off
from jobs.estimating.timetable import timetable
from recipes.facts import PartFacts, RecipeFacts, StepFacts
from recipes.finishes.bench_rules import in_bench_order
from tests.recipes.finishes.test_bench_rules import SHELF


def stretch(chain: int, spells: list[int], wait: int) -> Stretch:
    """Make a stretch of work and dwell by turns: 2, 5, 1 is two of work, five of dwell, one of work."""
    tasks, at = [], 0
    for number, length in enumerate(spells):
        if number % 2 == 0 and length:
            tasks.append(Task(HANDS, at, length))
        at += length
    tasks.append(Task(BENCH, 0, at))
    return Stretch(chain, at, wait, tuple(tasks))


def check(stretches, starts, capacity) -> None:
    """Keep order and waits within each chain; never serve more at once than there are, moment by moment."""
    for at, stretch in enumerate(stretches):
        for later in range(at + 1, len(stretches)):
            if stretches[later].chain == stretch.chain:
                assert starts[later] >= starts[at] + stretch.length + stretch.wait
                break
    assert min(starts) >= 0
    for name, most in capacity.items():
        held = [(starts[at] + task.offset, starts[at] + task.offset + task.length)
                for at, stretch in enumerate(stretches) for task in stretch.tasks if task.resource == name]
        for moment in range(max(end for _, end in held)):
            assert sum(low <= moment < high for low, high in held) <= most


def by_trying_everything(stretches, capacity, horizon: int, after=()) -> int:
    """Return the earliest end over all whole-number starts: the durations are whole, so one of them is best."""
    def over(starts):
        return max(start + stretch.length + stretch.wait for start, stretch in zip(starts, stretches, strict=True))

    best = horizon
    for starts in product(range(horizon), repeat=len(stretches)):
        if over(starts) < best:
            try:
                check(stretches, starts, capacity)
                assert all(starts[second] >= starts[first] + least for first, second, least in after)
            except AssertionError:
                continue
            best = over(starts)
    return best


spells = st.lists(st.integers(1, 3), min_size=1, max_size=3).filter(lambda lengths: len(lengths) % 2 == 1)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 1), spells, st.integers(0, 3)), min_size=2, max_size=3),
       st.integers(1, 2), st.integers(1, 2))
def test_as_good_as_trying_everything(given_ones, hands, benches):
    stretches = [stretch(chain, length, wait) for chain, length, wait in given_ones]
    capacity = {HANDS: hands, BENCH: benches}
    found = schedule(stretches, capacity)
    check(stretches, found.at, capacity)
    assert found.proved
    assert found.over == found.bound == by_trying_everything(stretches, capacity, found.over + 1)
    assert schedule(stretches, capacity, most_nodes=0).bound <= found.over


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(spells, st.integers(0, 3)), min_size=3, max_size=3), st.lists(st.integers(-3, 5), min_size=2, max_size=2),
       st.integers(1, 2), st.integers(1, 2))
def test_what_comes_after_waits_and_is_as_good_as_can_be(given_ones, least, hands, benches):
    """Three loads, each after the one before it by so much; also where the order in which they come says otherwise."""
    stretches = [stretch(chain, length, wait) for chain, (length, wait) in enumerate(given_ones)]
    capacity, after = {HANDS: hands, BENCH: benches}, ((0, 1, least[0]), (1, 2, least[1]))
    found = schedule(stretches, capacity, after=after)
    check(stretches, found.at, capacity)
    assert all(found.at[second] >= found.at[first] + distance for first, second, distance in after)
    if found.proved:
        assert found.over == by_trying_everything(stretches, capacity, found.over + 1, after)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 7), st.lists(st.integers(1, 30), min_size=1, max_size=5), st.integers(0, 90)),
                min_size=1, max_size=24), st.integers(1, 2), st.integers(1, 3))
def test_a_hand_is_never_needed_twice_and_no_dwell_runs_over(given_ones, hands, benches):
    stretches = [stretch(chain, length, wait) for chain, length, wait in given_ones]
    capacity = {HANDS: hands, BENCH: benches}
    found = schedule(stretches, capacity)
    check(stretches, found.at, capacity)  # within a stretch nothing moves: a dwell in it cannot run over
    one_by_one = sum(spell.length + spell.wait for spell in stretches)
    assert found.bound <= found.over <= first_come(stretches, capacity).over <= one_by_one


def test_what_waits_for_one_pair_of_hands_bounds_every_timetable():
    """Three loads dwell for 5 minutes, take a pair of hands for 10 and dry for 20: not before 5 + 30 + 20 minutes."""
    loads = [Stretch(chain, 15, 20, (Task(HANDS, 5, 10), Task(BENCH, 0, 15))) for chain in range(3)]
    assert schedule(loads, {HANDS: 1, BENCH: 3}, most_nodes=0).bound == 55
    assert schedule(loads, {HANDS: 3, BENCH: 1}, most_nodes=0).bound == 65  # three times 15 minutes at the bench, then drying
    again = schedule(loads * 20, {HANDS: 1, BENCH: 3})  # twenty in each chain, too many to search through: the last three
    assert (again.over, again.bound, again.proved) == (19 * 35 + 55, 19 * 35 + 55, True)  # wait for each other as ever


def test_of_spells_the_latest_to_begin_and_the_longest_to_follow_bound_too():
    """What begins late and what is long to come need one pair of hands: together they say more than each by itself."""
    late = [Stretch(0, 30, 0, (Task(HANDS, 20, 10), Task(BENCH, 0, 30)))]
    late += [Stretch(1, 30, 50, (Task(HANDS, 20, 10), Task(BENCH, 0, 30))), Stretch(2, 5, 0, (Task(HANDS, 0, 5), Task(BENCH, 0, 5)))]
    assert schedule(late, {HANDS: 1, BENCH: 3}, most_nodes=0).bound == 80
    two = [Stretch(chain, 30, 50, (Task(HANDS, 20, 10), Task(BENCH, 0, 30))) for chain in range(4)]
    assert schedule(two, {HANDS: 2, BENCH: 4}, most_nodes=0).bound == 20 + 20 + 50


STEPS = (
    StepFacts(number=1, kind="clean", minutes_per_load=Fraction(10)),
    StepFacts(number=2, kind="silver", how="pour", minutes_per_load=Fraction(5), dwell_minutes=Fraction(20)),
    StepFacts(number=3, kind="rinse", minutes_per_load=Fraction(5), drying="air", dwell_minutes=Fraction(60)),
    StepFacts(number=4, kind="seal", how="brush", minutes_per_load=Fraction(10), drying="air",
              dwell_minutes=Fraction(30)),
)


def load(number: int) -> Load:
    glass = GlassFacts(key="g", name="g")
    line = LineFacts(number=1, shape="rectangle", width_mm=Fraction(600), height_mm=Fraction(900), quantity=4,
                     recipe="r", glass="g", edge="e")
    return Load(recipe="r", number=number, panes=(Pane(size=take_off(line, EdgeFacts(name="e"), glass), copy=number),))


@pytest.mark.parametrize(("loads", "hands", "benches", "finish"), [
    # 10 clean, 5 pour, 20 dwell, 5 rinse = 40 on the bench; 60 dry; 10 seal; 30 dry
    (1, 1, 1, 140),
    # the second load's 40 minutes fall into the first one's drying; sealing at 100 and at 140
    (2, 1, 1, 180),
    # with two benches the second starts at 15, while the first dwells: its rinse ends at 60 (0-15, 15-30, 35-40, 50-55)
    (2, 1, 2, 155),
])
def test_worked_by_hand(loads, hands, benches, finish):
    recipe = RecipeFacts(key="r", finish="r", version_number=1, steps=STEPS)
    found = timetable([recipe], {"r": [load(n) for n in range(1, loads + 1)]}, hands, benches)
    assert found.finish_minutes == finish
    assert found.proved
    assert found.labour_minutes == 30 * loads
    assert found.idle_minutes == hands * finish - 30 * loads
    for stretch in found.loads:
        for before, after in zip(stretch.steps, stretch.steps[1:], strict=False):
            assert after.starts >= before.ends if before.may_wait else after.starts == before.ends


def painted(*last: StepFacts, rinse_dries: bool = True) -> RecipeFacts:
    """Ammoniacal silver, rinsed, sealed and painted; made safe only at the end, as older recipes have it."""
    rinse = StepFacts(number=3, kind="rinse", minutes_per_load=Fraction(5), rinse_full=True, rinse_collected=True)
    if rinse_dries:
        rinse = replace(rinse, drying="air", dwell_minutes=Fraction(60))
    silver = replace(STEPS[1], parts=(PartFacts(solution="silver"),))
    safe = StepFacts(number=9, kind="make safe", minutes_per_load=Fraction(6), dwell_minutes=Fraction(2))
    return RecipeFacts(key="r", finish="r", steps=(STEPS[0], silver, rinse, *last, STEPS[3], safe))


def starts_of(recipe: RecipeFacts, loads: int, hands: int, benches: int) -> tuple[list[dict[int, Fraction]], Fraction]:
    found = timetable([in_bench_order(recipe, SHELF)], {"r": [load(n) for n in range(1, loads + 1)]}, hands, benches)
    assert found.proved
    assert found.labour_minutes == 38 * loads
    return [{step.step: step.starts for step in of_load.steps} for of_load in found.loads], found.finish_minutes


def test_two_loads_are_made_safe_straight_after_their_silvers_rinse():
    """By hand, one pair of hands, one bench. Clean 10, silver 5, 20 of dwell, rinse 5, then 6 + 2 of making safe.

    Load 1: rinsed 35-40, made safe 40-48 while it dries until 100, sealed 100. Load 2: from 48, rinsed 83-88, made safe
    88-96, dry at 148, sealed 148-158, dry at 188. At the end of the recipe it would stand after the seal has dried.
    """
    loads, finish = starts_of(painted(), 2, 1, 1)
    assert loads[0] == {1: 0, 2: 10, 3: 35, 9: 40, 4: 100}
    assert loads[1] == {1: 48, 2: 58, 3: 83, 9: 88, 4: 148}
    assert finish == 188


def test_what_is_dried_in_a_step_of_its_own_is_made_safe_before_it():
    """By hand: rinsed 35-40, made safe 40-48, then 2 of hot air and 30 of drying; sealed 80-90, dry at 120."""
    hot_air = StepFacts(number=5, kind="dry", minutes_per_load=Fraction(0), drying="hot air", dwell_minutes=Fraction(32))
    loads, finish = starts_of(painted(hot_air, rinse_dries=False), 1, 1, 1)
    assert loads == [{1: 0, 2: 10, 3: 35, 9: 40, 5: 48, 4: 80}]
    assert finish == 120


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 4), st.integers(1, 2), st.integers(1, 3), st.booleans())
def test_no_load_dries_unsafe(loads, hands, benches, rinse_dries):
    """However many loads, hands and benches: making safe begins as the rinse's work ends, and before any seal."""
    found = timetable([in_bench_order(painted(rinse_dries=rinse_dries), SHELF)],
                      {"r": [load(n) for n in range(1, loads + 1)]}, hands, benches)
    for of_load in found.loads:
        by_step = {step.step: step for step in of_load.steps}
        assert by_step[9].starts == by_step[3].starts + by_step[3].work_minutes
        assert by_step[9].ends <= by_step[4].starts
        assert by_step[4].starts >= by_step[3].ends
