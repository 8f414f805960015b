"""Compare: only what differs; one change at a time, checked against trying every pair."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from recipes.facts import LEFT_OUT, YES
from recipes.trials.changing import Change, apply
from recipes.trials.comparing import (
    DONE,
    Compared,
    Key,
    SharedValues,
    differing,
    key_in_words,
    one_change_pairs,
    score_chart,
    value_in_words,
)
from tests.recipes.finishes.test_bench_rules import SHELF, SOUND
from tests.recipes.finishes.test_difference import recipe

BASE = recipe(*(replace(step, name=f"{step.kind} {at}") for at, step in enumerate(SOUND, start=1)))
SHARED = SharedValues()
SENSITISE = Key("sensitise 3", 1, 1, "strength")


def tried(number: int, *changes: Change, score: int | None = None, size: int = 150) -> Compared:
    return SHARED.add_to(Compared(name=f"Trial {number}", address=f"/{number}", number=number, score=score,
                             recipe=apply(BASE, changes), width_mm=Fraction(size), height_mm=Fraction(size), glass="clear"))


STRONG, STILL = Change(step=3, part=1, what="strength", value="2"), Change(step=5, what="motion", value="still")
AIRED, UNDRIED = Change(step=8, what="drying", value="hot air"), Change(step=8, what=LEFT_OUT, value=YES)


def test_what_did_doubling_the_sensitiser_do():
    pairs = one_change_pairs([tried(1, score=5), tried(2, STRONG, score=8), tried(3, STRONG, STILL, score=9)])
    (pair,) = pairs[SENSITISE]
    assert (pair.before.number, pair.after.number, pair.gain) == (1, 2, 3)
    assert key_in_words(SENSITISE) == "sensitise 3: strength"
    assert [value_in_words(SENSITISE, value, SHELF) for value in (pair.before, pair.after)] == ["as written", "double strength"]
    (other,) = pairs[Key("silver 5", 1, 0, "motion")]
    assert (other.before.number, other.after.number) == (2, 3)


def test_only_what_differs_is_shown():
    rows = differing([tried(1), tried(2, STRONG, AIRED), tried(3, UNDRIED)], SHELF)
    assert [(row.name, row.values) for row in rows] == [
        ("sensitise 3: strength", ("as written", "double strength", "as written")),
        ("dry 8: done or left out", ("done", "done", "left out")), ("dry 8: drying", ("none", "hot air", "left out")),
    ]
    assert differing([tried(1), tried(2)], SHELF) == []


def test_another_pane_is_a_change_too():
    assert SENSITISE not in one_change_pairs([tried(1), tried(2, STRONG, size=300)])
    assert Key("", 0, 0, "pane") in one_change_pairs([tried(1), tried(2, size=300)])


_change_sets = st.lists(st.sets(st.sampled_from([
    STRONG, STILL, AIRED, UNDRIED, Change(step=3, part=1, what="strength", value="3"),
    Change(step=3, what="dwell_minutes", value="4"), Change(step=5, what="dwell_minutes", value="1"),
]), max_size=3), min_size=2, max_size=9)


def _set(changes: set[Change]) -> tuple[Change, ...]:
    """One value for each thing that is changed; nothing of a step that is left out."""
    left = {change.step for change in changes if change.what == LEFT_OUT}
    by_what = {(change.step, change.part, change.what): change for change in sorted(changes)
               if change.step not in left or change.what == LEFT_OUT}
    return tuple(by_what.values())


def _differ_in(value: Compared, other: Compared) -> Key | None:
    """The one value that two differ in, or None: by looking at every value of both."""
    mine, theirs = ({Key(*step, *within): value for step, laid in each.steps.items() for within, value in laid.values.items()}
                    for each in (value, other))
    keys = {key for key in mine.keys() | theirs.keys() if mine.get(key) != theirs.get(key)}
    steps = {key.of_step for key in keys}
    added = {key for key in keys if key.what == DONE}
    if added and len(steps) == 1:
        return next(iter(added))
    return next(iter(keys)) if len(keys) == 1 else None


def test_no_pair_is_missed_where_values_move_against_each_other():
    """Seven strengths by eleven dwells by two ways of drying: every one of the 77 is a pair that differs in drying."""
    grid = [(Change(step=3, part=1, what="strength", value=str(strength)), Change(step=5, what="dwell_minutes", value=str(dwell)),
             Change(step=8, what="drying", value=drying))
            for strength in range(1, 8) for dwell in range(1, 12) for drying in ("air", "hot air")]
    pairs = one_change_pairs([tried(number, *changes, score=5) for number, changes in enumerate(grid, start=1)])
    assert {key.what: len(found) for key, found in pairs.items()} == {"drying": 77, "strength": 6 * 22, "dwell_minutes": 10 * 14}


@given(_change_sets)
def test_pairs_are_those_that_differ_in_one_value(sets):
    rows = [tried(number, *_set(changes)) for number, changes in enumerate(sets, start=1)]
    found = one_change_pairs(rows)
    for key, pairs in found.items():
        for pair in pairs:
            assert _differ_in(pair.before, pair.after) == key
    for row, other in combinations(rows, 2):
        key = _differ_in(row, other)
        if key is not None:  # found, or between newer trials of the same values, or with a value in between
            assert key in found


def test_the_chart_places_figures_in_proportion_and_words_side_by_side():
    rows = [tried(1, score=4), tried(2, STRONG, score=8), tried(3, Change(step=3, part=1, what="strength", value="4"), score=6)]
    chart = score_chart(SENSITISE, rows, SHELF)
    first, second, third = (x for x, _ in chart.marks)
    assert (third - first) == 3 * (second - first)
    assert [label for _, label in chart.marks] == ["as written", "double strength", "four times the strength"]
    highest = min(chart.points, key=lambda point: point.y)
    assert highest.entry.score == 8
    words = score_chart(Key("dry 8", 1, 0, DONE), [tried(1, score=3), tried(2, UNDRIED, score=9)], SHELF)
    assert [label for _, label in words.marks] == ["left out", "done"]
    assert score_chart(SENSITISE, rows[:1], SHELF) is None
