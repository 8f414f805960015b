"""Read trials: their changes, and the recipes that they really followed, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from recipes.changing import Change, apply, changes_between, solutions_named
from recipes.facts import RecipeFacts, Shelf
from recipes.models import RecipeIssue, SolutionIssue, Trial
from recipes.reading import EVER, recipe_facts, shelf_for


def changes_of(trial: Trial) -> tuple[Change, ...]:
    """Return a trial's changes, oldest step first (prefetch them where many are read)."""
    return tuple(sorted(
        Change(step=one.step, part=one.part, what=one.what, value=one.value) for one in trial.changes.all()
    ))


def facts_of(trials: Sequence[Trial]) -> tuple[dict[int, RecipeFacts], Shelf]:
    """Return each trial's recipe with its changes applied, by the trial's id, and the shelf of all they name.

    A fixed number of queries, however many trials. Prefetch changes.
    """
    based_on = {trial.recipe_issue_id for trial in trials}
    bases, shelf = recipe_facts(based_on, EVER)
    keys = {issue.pk: issue.key for issue in RecipeIssue.objects.filter(pk__in=based_on).select_related("finish")}
    changes = {trial.pk: changes_of(trial) for trial in trials}
    tried = {trial.pk: apply(bases[keys[trial.recipe_issue_id]], changes[trial.pk]) for trial in trials}
    named = {key for one in changes.values() for key in solutions_named(one)} - shelf.solutions.keys()
    if named:
        more = shelf_for(solution_ids(named).values(), EVER)
        shelf = Shelf(materials=shelf.materials | more.materials, solutions=shelf.solutions | more.solutions)
    return tried, shelf


def solution_ids(keys: Iterable[str]) -> dict[str, int]:
    """Return the ids of solution issues by their keys."""
    wanted = set(keys)
    codes = {key.rsplit("/", 1)[0] for key in wanted}
    rows = SolutionIssue.objects.filter(solution__code__in=codes).select_related("solution")
    return {issue.key: issue.pk for issue in rows if issue.key in wanted}


def difference_is_the_changes(trial: Trial, draft: RecipeIssue) -> bool:
    """Say whether a promoted draft differs from its parent by exactly the trial's changes (for the audit)."""
    facts, _ = recipe_facts([draft.pk, trial.recipe_issue_id], EVER)
    base = facts[RecipeIssue.objects.select_related("finish").get(pk=trial.recipe_issue_id).key]
    tried = apply(base, changes_of(trial))
    drafted = facts[draft.key]
    numbered = tuple(step.number for step in tried.steps)
    if len(numbered) != len(drafted.steps):
        return False
    again = replace(drafted, steps=tuple(
        replace(step, number=number) for step, number in zip(drafted.steps, numbered, strict=True)
    ))
    return changes_between(base, again) == changes_of(trial)
