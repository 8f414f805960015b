"""Remember the words that finishes, recipes, solutions and trials are found by, and find them.

Words are written with the thing itself; what has none yet (an older studio, a loaded book) gets them at the
first search. Every wanted word must occur somewhere, as a part of a word.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.db.models import Q

from recipes.models import Finish, RecipeVersion, SearchWords, SolutionVersion, Trial
from recipes.reading import ANY_DAY, recipe_facts
from recipes.value_words import recipe_words
from studio.kit.asking import fetched

#: so many of the newest are put in order
MOST = 500
#: writes the words of trials: their folder imports this module and adds it here
WRITE_TRIALS: list[Callable[[list[Trial]], None]] = []


def remember(*, finish: Finish | None = None, recipe_version: RecipeVersion | None = None,
             solution_version: SolutionVersion | None = None, trial: Trial | None = None) -> None:
    """Write the words of a finish, a recipe, a solution or a trial again."""
    if finish is not None:
        write(_finish_words(finish), finish=finish)
    if solution_version is not None:
        write(_solution_words(solution_version), solution_version=solution_version)
    if recipe_version is not None:
        _write_recipes([recipe_version])
    if trial is not None:
        WRITE_TRIALS[0]([trial])


def write(words: str, **of: Any) -> None:
    SearchWords.objects.update_or_create(defaults={"words": words.casefold()}, **of)


def _finish_words(finish: Finish) -> str:
    return f"{finish.name} {finish.family}\n{finish.description} {finish.suits_glass} {finish.typical_variation}"


def _solution_words(version: SolutionVersion) -> str:
    rows = version.ingredients.select_related("material", "nested__solution")
    inside = " ".join(f"{row.name} {row.instruction} {row.end_point}" for row in rows)
    own = f"{version.solution.name} version {version.number}"
    return f"{own}\n{inside} {version.cautions} {version.reject_if} {version.why}"


def _write_recipes(versions: list[RecipeVersion]) -> None:
    facts, shelf = recipe_facts([version.pk for version in versions], ANY_DAY)
    for version in versions:
        write(f"{version} {version.why}\n{recipe_words(facts[version.key], shelf)}", recipe_version=version)


def remember_what_has_none() -> None:
    """Write words for everything that has none yet."""
    for finish in Finish.objects.filter(search_words=None):
        remember(finish=finish)
    for solution_version in SolutionVersion.objects.filter(search_words=None).select_related("solution"):
        remember(solution_version=solution_version)
    versions = list(RecipeVersion.objects.filter(search_words=None).select_related("finish"))
    if versions:
        _write_recipes(versions)
    rows = Trial.objects.filter(search_words=None).select_related("recipe_version__finish", "glass")
    trials = fetched(rows, "changes", "notes")
    if trials:
        WRITE_TRIALS[0](trials)


def found(of: str, words: Sequence[str]) -> list[SearchWords]:
    """Return the newest rows of a kind that hold every word, what has them in its own words before what has them in its
    values. One query; what has no words yet is not found (see remember_what_has_none).

    of: “finish”, “solution_version”, “recipe_version” or “trial”. words: case-folded.
    """
    if not words:
        return []
    holding = Q(**{f"{of}__isnull": False})
    for word in words:
        holding &= Q(words__contains=word)
    rows = SearchWords.objects.filter(holding).select_related(
        "finish", "solution_version__solution", "recipe_version__finish", "trial__recipe_version__finish"
    )
    return sorted(rows.order_by("-trial__number", "-pk")[:MOST], key=lambda row: _rank(row.words, words))


def _rank(text: str, words: Sequence[str]) -> tuple[bool, bool]:
    own = text.partition("\n")[0]
    return not all(word in own for word in words), " ".join(words) not in text
