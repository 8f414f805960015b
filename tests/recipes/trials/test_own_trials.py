"""A version is quoted subject to an approved sample until this studio has liked a trial of it or of what it came from."""

from __future__ import annotations

import pytest

from recipes.finishes.authoring import start_draft
from recipes.models import Finish, RecipeVersion, Trial
from recipes.trials.conducting import close_trial
from recipes.trials.own_trials import is_tried, not_tried_here
from tests import builders


@pytest.mark.parametrize(("liked", "tried"), [
    (set(), False), ({4}, True),      # its own
    ({1}, True), ({3}, True),         # what it came from, however far back
    ({2}, False), ({5}, False),       # a sister, and what came from it
])
def test_the_line_of_a_version(liked, tried):
    assert is_tried(4, {1: None, 2: 1, 3: 1, 4: 3, 5: 4}, liked) is tried


def test_a_line_that_goes_round_ends():
    assert not is_tried(1, {1: 2, 2: 1}, set())


def test_a_liked_trial_frees_its_version_and_what_came_from_it(owner, rates):
    """Given no trial, one that is open, and one not worth it, then a sample is asked for; once liked, no longer."""
    shop = builders.Workshop(owner)
    child = start_draft(shop.recipe.finish, came_from=shop.recipe, why="Slower.")
    both = [shop.recipe, child]
    first = builders.nothing_mixed(builders.trial(shop.recipe, owner), owner)
    assert not_tried_here(both) == {shop.recipe.pk, child.pk}
    close_trial(first, first.saves, verdict=Trial.Verdict.LEFT, score=2)
    assert not_tried_here(both) == {shop.recipe.pk, child.pk}
    own = builders.nothing_mixed(builders.trial(child, owner), owner)
    close_trial(own, own.saves, verdict=Trial.Verdict.LIKED, score=8)
    assert not_tried_here(both) == {shop.recipe.pk}
    second = builders.nothing_mixed(builders.trial(shop.recipe, owner), owner)
    close_trial(second, second.saves, verdict=Trial.Verdict.LIKED, score=8)
    assert not_tried_here(both) == set()


def test_a_line_ends_at_another_finish(owner, rates):
    shop = builders.Workshop(owner)
    other = Finish.objects.create(name="Another", code="another")
    from_elsewhere = RecipeVersion.objects.create(finish=other, number=1, came_from=shop.recipe)
    liked = builders.nothing_mixed(builders.trial(shop.recipe, owner), owner)
    close_trial(liked, liked.saves, verdict=Trial.Verdict.LIKED, score=8)
    assert not_tried_here([from_elsewhere]) == {from_elsewhere.pk}
