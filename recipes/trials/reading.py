"""Read trials: their changes, and the recipes that they actually followed, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import models

from recipes.facts import RecipeFacts, Shelf
from recipes.models import RecipeVersion, SolutionVersion, Trial, TrialPhotograph
from recipes.reading import ANY_DAY, recipe_facts, shelf_for
from recipes.trials.change_words import change_in_words
from recipes.trials.changing import Change, apply, solutions_named
from studio.kit.asking import among


def trials_with_all() -> models.QuerySet[Trial]:
    """Return trials with what their pages show of each: finish, parent, glass, changes, photographs."""
    photographs = TrialPhotograph.objects.select_related("screen_copy", "aligned_copy", "print_copy", "original")
    return Trial.objects.select_related("recipe_version__finish", "parent", "glass", "made_by").prefetch_related(
        "changes", models.Prefetch("photographs", photographs)
    )


def changes_of(trial: Trial) -> tuple[Change, ...]:
    """Return a trial's changes, oldest step first (prefetch them where many are read)."""
    return tuple(sorted(
        Change(step=change.step, part=change.part, what=change.what, value=change.value)
        for change in trial.changes.all()
    ))


@dataclass(frozen=True, kw_only=True)
class TrialFacts:
    """Trials as values: by trial id, the recipe they started from and the one actually followed."""

    bases: dict[int, RecipeFacts]
    tried: dict[int, RecipeFacts]
    shelf: Shelf

    def changes_in_words(self, trial: Trial, preference: str = "metric") -> list[str]:
        """Return a trial's changes in words."""
        base, tried = self.bases[trial.pk], self.tried[trial.pk]
        return [change_in_words(change, base, tried, self.shelf, preference) for change in changes_of(trial)]


def facts_of(trials: Sequence[Trial]) -> TrialFacts:
    """Return each trial's recipe before and with its changes, and the shelf of all they name.

    A fixed number of queries, however many trials. Prefetch changes.
    """
    version_ids = {trial.recipe_version_id for trial in trials}
    bases, shelf = recipe_facts(version_ids, ANY_DAY)
    keys = {
        version.pk: version.key for version in among(RecipeVersion.objects.select_related("finish"), "pk", version_ids)
    }
    changes = {trial.pk: changes_of(trial) for trial in trials}
    based = {trial.pk: bases[keys[trial.recipe_version_id]] for trial in trials}
    tried = {trial.pk: apply(based[trial.pk], changes[trial.pk]) for trial in trials}
    named = {key for changes_made in changes.values() for key in solutions_named(changes_made)} - shelf.solutions.keys()
    if named:
        shelf = shelf.with_all_of(shelf_for(solution_ids(named).values(), ANY_DAY))
    return TrialFacts(bases=based, tried=tried, shelf=shelf)


def solution_ids(keys: Iterable[str]) -> dict[str, int]:
    """Return the ids of solution versions by their keys."""
    wanted = set(keys)
    codes = {key.rsplit("/", 1)[0] for key in wanted}
    rows = among(SolutionVersion.objects.select_related("solution"), "solution__code", codes)
    return {version.key: version.pk for version in rows if version.key in wanted}
