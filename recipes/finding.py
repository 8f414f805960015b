"""Remember the words that finishes, recipes, solutions and trials are found by, and find them.

Words are written with the thing itself; what has none yet (an older studio, a loaded book) gets them at the
first search. Every wanted word must occur somewhere, as a part of a word.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeVar

from django.db.models import Model, Q, QuerySet

from recipes.models import Finish, RecipeVersion, SearchWords, SolutionVersion, Trial
from recipes.reading import ANY_DAY, recipe_facts
from recipes.value_words import recipe_words
from studio.kit.asking import fetched, heaps_of

Row = TypeVar("Row", bound=Model)
#: so many of the newest are put in order, and so many read at once
MOST, READ = 500, 60
#: what says a row's name
_NAMED_BY = {"finish": "finish", "solution_version": "solution_version__solution",
             "recipe_version": "recipe_version__finish", "trial": "trial__recipe_version__finish"}
#: returns the words of trials, in their order: their folder knows them and adds it here
WORDS_OF_TRIALS: list[Callable[[list[Trial]], list[str]]] = []


def remember(*, finish: Finish | None = None, recipe_version: RecipeVersion | None = None,
             solution_version: SolutionVersion | None = None, trial: Trial | None = None) -> None:
    """Write the words of a finish, a recipe, a solution or a trial again."""
    if finish is not None:
        _write(_finish_words(finish), finish=finish)
    if solution_version is not None:
        _write(_solution_words(solution_version), solution_version=solution_version)
    if recipe_version is not None:
        _write(*_recipe_words([recipe_version]), recipe_version=recipe_version)
    if trial is not None:
        _write(*WORDS_OF_TRIALS[0]([trial]), trial=trial)


def _write(words: str, **of: Any) -> None:
    SearchWords.objects.update_or_create(defaults={"words": words.casefold()}, **of)


def _finish_words(finish: Finish) -> str:
    return f"{finish.name} {finish.family}\n{finish.description} {finish.suits_glass} {finish.typical_variation}"


def _solution_words(version: SolutionVersion) -> str:
    rows = version.ingredients.select_related("material", "nested__solution")
    inside = " ".join(f"{row.name} {row.instruction} {row.end_point}" for row in rows)
    own = f"{version.solution.name} version {version.number}"
    return f"{own}\n{inside} {version.cautions} {version.reject_if} {version.why}"


def _recipe_words(versions: list[RecipeVersion]) -> list[str]:
    facts, shelf = recipe_facts([version.pk for version in versions], ANY_DAY)
    return [f"{version} {version.why}\n{recipe_words(facts[version.key], shelf)}" for version in versions]


def remember_what_has_none() -> None:
    """Write words for everything that has none yet, a heap at a time. One query a kind where all have."""
    _write_missing("finish", Finish.objects.all(), lambda rows: [_finish_words(finish) for finish in rows])
    _write_missing("solution_version", SolutionVersion.objects.select_related("solution"),
                   lambda rows: [_solution_words(version) for version in rows])
    _write_missing("recipe_version", RecipeVersion.objects.select_related("finish"), _recipe_words)
    _write_missing("trial", Trial.objects.select_related("recipe_version__finish", "glass"),
                   lambda rows: WORDS_OF_TRIALS[0](fetched(rows, "changes", "notes")))


def _write_missing(of: str, rows: QuerySet[Row], words_of: Callable[[list[Row]], list[str]]) -> None:
    keys = list(rows.filter(search_words=None).order_by("pk").values_list("pk", flat=True))
    for heap in heaps_of(rows, keys, READ):
        words = zip(heap, words_of(heap), strict=True)
        SearchWords.objects.bulk_create(  # another search may have written some meanwhile: its words are as good
            [SearchWords(**{of: row}, words=said.casefold()) for row, said in words], ignore_conflicts=True)


def found(of: str, words: Sequence[str]) -> Iterator[SearchWords]:
    """Yield the newest rows of a kind that hold every word, what has them in its own words before what has them in its
    values. One query, and one a heap of those that are wanted; what has no words yet is not found (see
    remember_what_has_none).

    of: “finish”, “solution_version”, “recipe_version” or “trial”. words: case-folded.
    """
    if not words:
        return
    holding = Q(**{f"{of}__isnull": False})
    for word in words:
        holding &= Q(words__contains=word)
    newest = SearchWords.objects.filter(holding).order_by("-trial__number", "-pk").values_list("pk", "words")[:MOST]
    in_order = sorted(newest, key=lambda row: _rank(row[1], words))
    for heap in heaps_of(SearchWords.objects.select_related(_NAMED_BY[of]), [pk for pk, _ in in_order], READ):
        yield from heap


def _rank(text: str, words: Sequence[str]) -> tuple[bool, bool]:
    own = text.partition("\n")[0]
    return not all(word in own for word in words), " ".join(words) not in text
