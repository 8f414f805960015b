"""Whether a studio has tried a recipe version to its own liking: else it is quoted subject to an approved sample."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from recipes.models import RecipeVersion, Trial


def is_tried(version: int, came_from: Mapping[int, int | None], liked: Collection[int]) -> bool:
    """Say whether a version, or any that it came from, has a trial that was closed as liked. Pure.

    came_from: the version that each one came from, of one finish: a line does not go on in another finish.
    liked: the versions that have such a trial.
    """
    at: int | None = version
    passed: set[int] = set()
    while at is not None and at not in passed:
        if at in liked:
            return True
        passed.add(at)
        at = came_from.get(at)
    return False


def not_tried_here(versions: Iterable[RecipeVersion]) -> set[int]:
    """Return which of these versions this studio has no liked trial of. Two queries."""
    asked = list(versions)
    finishes = {version.finish_id for version in asked}
    finish_of, parents = {}, {}
    rows = RecipeVersion.objects.filter(finish__in=finishes).order_by()
    for pk, finish, parent in rows.values_list("pk", "finish", "came_from"):
        finish_of[pk], parents[pk] = finish, parent
    line = {pk: parent if parent and finish_of.get(parent) == finish_of[pk] else None
            for pk, parent in parents.items()}
    liked = set(Trial.objects.filter(
        recipe_version__finish__in=finishes, closed_at__isnull=False, verdict=Trial.Verdict.LIKED,
    ).order_by().values_list("recipe_version", flat=True))
    return {version.pk for version in asked if not is_tried(version.pk, line, liked)}
