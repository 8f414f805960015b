"""Remember the words that finishes, recipes, solutions and trials are found by, and find them.

Words are written with the thing itself; what has none yet (an older studio, a loaded book) gets them at the
first search. Every wanted word must occur somewhere, as a part of a word.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet
from django.urls import reverse

from recipes.models import Finish, RecipeIssue, SearchWords, SolutionIssue, Trial
from recipes.reading import EVER, recipe_facts
from recipes.value_words import recipe_words
from studio.kit.asking import fetched

MOST = 40
MOST_WORDS = 8
#: writes the words of trials: their room stands above this one and puts it here
WRITE_TRIALS: list[Callable[[list[Trial]], None]] = []


@dataclass(frozen=True, kw_only=True)
class Hit:
    """Something found: what it is, its name, a line about it, and where it stands."""

    kind: str
    name: str
    about: str
    address: str


def remember(*, finish: Finish | None = None, recipe_issue: RecipeIssue | None = None,
             solution_issue: SolutionIssue | None = None, trial: Trial | None = None) -> None:
    """Write the words of one thing anew."""
    if finish is not None:
        write(_finish_words(finish), finish=finish)
    if solution_issue is not None:
        write(_solution_words(solution_issue), solution_issue=solution_issue)
    if recipe_issue is not None:
        _write_recipes([recipe_issue])
    if trial is not None:
        WRITE_TRIALS[0]([trial])


def write(words: str, **of: Any) -> None:
    SearchWords.objects.update_or_create(defaults={"words": words.casefold()}, **of)


def _finish_words(finish: Finish) -> str:
    return f"{finish.name} {finish.family}\n{finish.story} {finish.suits_glass} {finish.typical_variation}"


def _solution_words(issue: SolutionIssue) -> str:
    inside = " ".join(
        f"{one.material or (one.nested.solution.name if one.nested else '')} {one.instruction} {one.end_point}"
        for one in issue.ingredients.select_related("material", "nested__solution")
    )
    return f"{issue.solution.name} issue {issue.number}\n{inside} {issue.cautions} {issue.reject_if} {issue.why}"


def _write_recipes(issues: list[RecipeIssue]) -> None:
    facts, shelf = recipe_facts([issue.pk for issue in issues], EVER)
    for issue in issues:
        write(f"{issue} {issue.why}\n{recipe_words(facts[issue.key], shelf)}", recipe_issue=issue)


def remember_what_has_none() -> None:
    """Write words for everything that has none yet."""
    for finish in Finish.objects.filter(search_words=None):
        remember(finish=finish)
    for solution_issue in SolutionIssue.objects.filter(search_words=None).select_related("solution"):
        remember(solution_issue=solution_issue)
    issues = list(RecipeIssue.objects.filter(search_words=None).select_related("finish"))
    if issues:
        _write_recipes(issues)
    rows = Trial.objects.filter(search_words=None).select_related("recipe_issue__finish", "glass")
    trials = fetched(rows, "changes", "notes")
    if trials:
        WRITE_TRIALS[0](trials)


def find(wanted: str) -> list[Hit]:
    """Return what holds every wanted word, what is so by its own words before what is so by its values."""
    remember_what_has_none()
    words = wanted.casefold().split()[:MOST_WORDS]
    if not words:
        return []
    holding = Q()
    for word in words:
        holding &= Q(words__contains=word)
    rows = list(_rows().filter(holding).order_by("-trial__number", "-pk")[:MOST * 5])
    rows.sort(key=lambda row: _rank(row.words, words))
    return [_hit(row) for row in rows[:MOST]]


def _rows() -> QuerySet[SearchWords]:
    return SearchWords.objects.select_related(
        "finish", "solution_issue__solution", "recipe_issue__finish", "trial__recipe_issue__finish"
    )


def _rank(text: str, words: list[str]) -> tuple[bool, bool]:
    own = text.partition("\n")[0]
    return not all(word in own for word in words), " ".join(words) not in text


def _hit(row: SearchWords) -> Hit:
    if row.finish is not None:
        return Hit(kind="finish", name=row.finish.name, about=row.finish.family,
                   address=reverse("recipes:finish", args=[row.finish.code]))
    if row.solution_issue is not None:
        issue = row.solution_issue
        return Hit(kind="solution", name=str(issue), about=issue.why,
                   address=reverse("recipes:solution", args=[issue.solution.code, issue.number]))
    if row.recipe_issue is not None:
        recipe = row.recipe_issue
        return Hit(kind="recipe", name=str(recipe), about=recipe.why,
                   address=reverse("recipes:recipe", args=[recipe.finish.code, recipe.number]))
    assert row.trial is not None
    trial = row.trial
    return Hit(kind="trial", name=f"{trial}, {trial.recipe_issue.finish.name}", about=trial.question,
               address=reverse("recipes:trial", args=[trial.number]))
