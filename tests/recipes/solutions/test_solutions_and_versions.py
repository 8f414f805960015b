"""Never stored, cycles, strengths; putting in use and what it freezes."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import IntegrityError, transaction

from recipes.chemistry.mixing import (
    DensityUnknown,
    SolutionCycle,
    StrengthNotUsable,
    TooStrong,
    measure_batch,
    walk_solutions,
)
from recipes.finishes.putting_in_use import NotAcknowledged, put_in_use, withdraw_recipe
from recipes.models import Ingredient, SolutionVersion, Step
from recipes.reading import shelf_for
from recipes.solutions.putting_in_use import (
    SolutionRefused,
    check_solution_version,
    give_place_on_shelf,
    solutions_touched_by,
)
from recipes.solutions.rules import NeverStored
from studio.house.clock import today
from studio.house.kept_files import keep
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def test_silver_and_ammonia_are_never_stored_at_any_depth(workshop):
    inner = builders.solution("Inner", {"nested": workshop.silver_part, "amount": 100}, {"material": workshop.water})
    outer = builders.solution("Outer", {"nested": inner, "amount": 50}, {"material": workshop.water})
    for version in (inner, outer):
        with pytest.raises(NeverStored, match="No role can override"):
            check_solution_version(version)
    place = builders.material("Outer, made up", "mL", kind="solution")
    with pytest.raises(NeverStored):
        give_place_on_shelf(outer.solution, place)


def test_a_material_that_turns_out_to_hold_ammonia_is_found_above(workshop):
    cleaner = builders.material("Cleaner", "mL", none_apply=True)
    silver = builders.solution("Silver and cleaner", {"material": workshop.silver, "amount": 5, "unit": "g"},
                               {"material": cleaner, "amount": 20}, {"material": workshop.water})
    outer = builders.solution("Outer", {"nested": silver, "amount": 50}, {"material": workshop.water})
    check_solution_version(outer)
    cleaner.reacts_as = ["ammonia"]
    cleaner.save(update_fields=["reacts_as"])
    touched = solutions_touched_by(cleaner)
    assert [sentence.split(" is touched")[0] for sentence in touched] == [str(outer), str(silver)]
    assert all("never stored" in sentence for sentence in touched)


def test_a_keeping_solution_gets_its_place(workshop):
    place = builders.material("Reducer, made up", "mL", kind="solution")
    give_place_on_shelf(workshop.reducer.solution, place)
    workshop.reducer.solution.refresh_from_db()
    assert workshop.reducer.solution.material == place


def test_a_solution_keeps_no_longer_than_what_is_in_it(workshop):
    longer = builders.solution("Longer", {"nested": workshop.reducer, "amount": 500}, {"material": workshop.water},
                               keeps_minutes=Decimal(99999))
    with pytest.raises(SolutionRefused, match="write why, or shorten it"):
        check_solution_version(longer)
    longer.longer_keeping_reason = "The acid in it keeps it."
    longer.save(update_fields=["longer_keeping_reason"])
    check_solution_version(longer)


def test_a_cycle_is_refused_by_name(workshop):
    first = builders.solution("One", {"material": workshop.water, "amount": 500})
    two = builders.solution("Two", {"nested": first, "amount": 500})
    Ingredient.objects.create(solution_version=first, number=2, nested=two, amount_per_litre=500, unit="mL")
    shelf = shelf_for([first.pk], today())
    with pytest.raises(SolutionCycle, match="One → Two → One"):
        walk_solutions([first.key], shelf)
    with pytest.raises((SolutionRefused, SolutionCycle), match="cannot hold itself"):
        check_solution_version(first)


def test_impossible_strength_names_the_strongest(workshop):
    strong = builders.solution("Strong", {"material": workshop.ammonia, "amount": 300, "scales_with_strength": True},
                               {"material": workshop.water, "amount": 100}, {"material": workshop.water})
    shelf = shelf_for([strong.pk], today())
    facts = shelf.solutions[strong.key]
    assert measure_batch(facts, Fraction(1000), Fraction(3), shelf)[2].amount == 0
    with pytest.raises(TooStrong, match=r"Strong cannot be mixed at strength 3.01: the strongest possible is 3\."):
        measure_batch(facts, Fraction(1000), Fraction("3.01"), shelf)
    with pytest.raises(StrengthNotUsable, match="above zero"):
        measure_batch(facts, Fraction(1000), Fraction(0), shelf)


def test_no_make_up_means_strength_one(workshop):
    halves = builders.solution("Halves", {"material": workshop.ammonia, "amount": 500, "scales_with_strength": True},
                               {"material": workshop.water, "amount": 500})
    shelf = shelf_for([halves.pk], today())
    with pytest.raises(StrengthNotUsable, match="strength 1 only"):
        measure_batch(shelf.solutions[halves.key], Fraction(100), Fraction(2), shelf)


def test_unknown_density_is_refused_by_name(workshop):
    weighed = builders.solution("Weighed water", {"material": workshop.water, "amount": 100, "unit": "g"},
                                {"material": workshop.ammonia})
    shelf = shelf_for([weighed.pk], today())
    with pytest.raises(DensityUnknown, match="Give Distilled water a density"):
        measure_batch(shelf.solutions[weighed.key], Fraction(100), Fraction(1), shelf)


def test_front_and_back_look_different_and_are_kept_apart(workshop):
    """Common practice, no source: one picture a side, told apart by the database."""
    finish = workshop.recipe.finish
    kept = [keep(side.encode(), name=f"{side}.jpg", media_type="image/jpeg", owner_only=False)
            for side in ("front", "back")]
    for side, file in zip(("front", "back"), kept, strict=True):
        finish.pictures.create(side=side, file=file)
    assert [picture.side for picture in finish.pictures.all()] == ["front", "back"]
    with pytest.raises(IntegrityError), transaction.atomic():
        finish.pictures.create(side="front", file=kept[1])


def test_by_weight_alone_no_density_is_needed(workshop):
    varnish = builders.material("Varnish", "g", liquid=True, none_apply=True)
    neat = builders.solution("Varnish, by weight", {"material": varnish, "amount": 950, "unit": "g"})
    shelf = shelf_for([neat.pk], today())
    (measured,) = measure_batch(shelf.solutions[neat.key], Fraction(200), Fraction(1), shelf)
    assert (measured.amount, measured.unit) == (190, "g")
    check_solution_version(neat)


def test_version_asks_for_cautions_by_name_and_freezes(workshop, owner):
    draft = builders.recipe("Second", workshop.steps())
    with pytest.raises(NotAcknowledged, match="silver goes on sensitised glass"):
        put_in_use(version=draft, by=owner)
    event = put_in_use(version=draft, by=owner, acknowledged=["cautioned pairs are known", "silver goes on sensitised glass", "what decides is noted",
                                                                   "work is timed"])
    assert "silver goes on sensitised glass" in event.acknowledged
    assert draft.state == "in use"
    assert SolutionVersion.objects.get(pk=workshop.silver_part.pk).frozen_at is not None
    withdraw_recipe(version=draft, by=owner, note="Too thin.")
    assert draft.state == "withdrawn"


@pytest.mark.parametrize("change", [
    lambda w: Step.objects.filter(recipe_version=w.recipe).update(dwell_minutes=9),
    lambda w: Step.objects.filter(recipe_version=w.recipe, kind="inspect").delete(),
    lambda w: Step.objects.create(recipe_version=w.recipe, number=99, kind="dry"),
    lambda w: w.recipe.steps.get(kind="silver").parts.update(strength=2),
    lambda w: type(w.recipe).objects.filter(pk=w.recipe.pk).update(film_nm=1),
    lambda w: Ingredient.objects.filter(solution_version=w.silver_part).update(amount_per_litre=99),
    lambda w: SolutionVersion.objects.filter(pk=w.silver_part.pk).update(reject_if="never"),
    lambda w: SolutionVersion.objects.filter(pk=w.silver_part.pk).update(frozen_at=None),
    lambda w: w.recipe.events.update(note="changed"),
    lambda w: w.recipe.events.all().delete(),
], ids=["step", "step gone", "step added", "part", "recipe", "ingredient", "solution", "thawed", "event", "event gone"])
def test_what_is_used_is_frozen_by_the_database(workshop, change):
    with pytest.raises(IntegrityError, match=r"frozen|never"), transaction.atomic():
        change(workshop)


def test_a_recipe_cannot_be_used_around_its_solutions(workshop, owner):
    """Whoever writes the event by hand is stopped while a solution is open."""
    fresh = builders.solution("Fresh", {"material": workshop.water})
    draft = builders.recipe("Third", [{"kind": "clean", "parts": [{"solution_version": fresh}]}])
    with pytest.raises(IntegrityError, match="are frozen first"), transaction.atomic():
        draft.events.create(kind="in use", at="2026-01-01T00:00Z", by=owner)
