"""The difference between two versions is changed steps and changed values, never raw text."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.facts import RecipeFacts
from recipes.finishes.difference import difference
from tests import builders
from tests.recipes.finishes.test_bench_rules import CLEAN, DRY, INSPECT, RINSE, SEAL, SENSITISE, SHELF, SOUND, step


def recipe(*steps, **more):
    return RecipeFacts(key="r", finish="f", steps=tuple(replace(s, number=n) for n, s in enumerate(steps, 1)), **more)


def test_doubling_the_sensitiser_is_one_changed_value():
    double = replace(SENSITISE, parts=(replace(SENSITISE.parts[0], strength=Fraction(2)),))
    found = difference(recipe(*SOUND), recipe(*[double if s is SENSITISE else s for s in SOUND]), SHELF)
    (changed,) = found.steps
    (value,) = changed.values
    assert (changed.what, changed.new_number, value.name) == ("changed", 3, "applies")
    assert value.old == "sensitiser, version 1, mixed for the load"
    assert value.new == "sensitiser, version 1 at double strength, mixed for the load"


def test_what_is_shared_and_where_it_goes_read_as_words():
    shared = replace(SENSITISE, parts=(replace(SENSITISE.parts[0], mixed_for="loads"),), zone="rim",
                     rim_width_mm=Fraction(30), dwell_counted="pane")
    (changed,) = difference(recipe(SENSITISE), recipe(shared), SHELF).steps
    assert [(value.name, value.old, value.new) for value in changed.values] == [
        ("applies", "sensitiser, version 1, mixed for the load",
         "sensitiser, version 1, mixed for as many loads as it works for"),
        ("zone", "the whole face", "a rim"), ("rim width", "0 mm", "30 mm"),
        ("dwell counted", "for the load", "for each pane"),
    ]


def test_added_removed_and_changed_steps():
    old, new = recipe(CLEAN, RINSE, SENSITISE, SEAL), recipe(CLEAN, RINSE, DRY, SENSITISE, INSPECT, film_nm=Fraction(80))
    found = difference(old, new, SHELF)
    assert [(s.what, s.old_number, s.new_number) for s in found.steps] == [
        ("added", None, 3), ("removed", 4, None), ("added", None, 5)]
    assert [(v.name, v.old, v.new) for v in found.whole] == [("film", "70 nm", "80 nm")]


def test_a_step_at_another_place_has_moved_with_its_values():
    old = recipe(CLEAN, RINSE, SENSITISE, INSPECT, SEAL)
    new = recipe(CLEAN, RINSE, INSPECT, replace(SENSITISE, dwell_minutes=Fraction(2)), SEAL)
    found = {step.name: step for step in difference(old, new, SHELF).steps}
    assert (found["inspect"].what, found["inspect"].old_number, found["inspect"].new_number) == ("moved", 4, 3)
    assert [(value.name, value.old, value.new) for value in found["sensitise"].values] == [("dwell", "30 s", "2 min")]
    swapped = difference(recipe(CLEAN, DRY, INSPECT), recipe(CLEAN, INSPECT, DRY), SHELF).steps
    assert [difference.what for difference in swapped] == ["moved"]


def test_a_renamed_step_is_changed_in_place():
    found = difference(recipe(CLEAN, step("dry", name="Air")), recipe(CLEAN, step("dry", name="Hot", drying="hot air")), SHELF)
    assert [(v.name, v.old, v.new) for v in found.steps[0].values] == [("name", "Air", "Hot"), ("drying", "none", "hot air")]


@given(st.lists(st.sampled_from(range(len(SOUND))), max_size=12), st.lists(st.sampled_from(range(len(SOUND))), max_size=12))
def test_a_recipe_never_differs_from_itself_and_every_step_is_told(first, second):
    old, new = recipe(*[SOUND[n] for n in first]), recipe(*[SOUND[n] for n in second])
    assert difference(old, old, SHELF).nothing
    steps = difference(old, new, SHELF).steps
    grown = sum(s.what == "added" for s in steps) - sum(s.what == "removed" for s in steps)
    assert grown == len(second) - len(first)


@pytest.mark.django_db
def test_the_page_shows_them_side_by_side(owner, rates, at_helper):
    shop = builders.Workshop(owner)
    steps = shop.steps()
    steps[2]["dwell_minutes"] = 9
    builders.recipe("Plain silver", steps, number=2, came_from=shop.recipe, why="Longer.")
    shown = at_helper.get("/finishes/plain-silver/1/2/").content.decode()
    assert "5 min" in shown
    assert "9 min" in shown
    assert "/finishes/plain-silver/1/2/" in at_helper.get("/finishes/plain-silver/").content.decode()
    assert "Nothing differs" in at_helper.get("/finishes/plain-silver/1/1/").content.decode()
