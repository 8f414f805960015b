"""Which recipe version of a finish came from which, as a tree. Pure but for the rows it is given."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from recipes.models import RecipeVersion


@dataclass(frozen=True, kw_only=True)
class Descent:
    """A version and what came from it."""

    version: RecipeVersion
    led_to: tuple[Descent, ...]


def descent(versions: Iterable[RecipeVersion]) -> tuple[Descent, ...]:
    """Return the versions that came from none of the others, each with all that came from it, in their order."""
    rows = sorted(versions, key=lambda version: version.number)
    known = {version.pk for version in rows}
    children: dict[int | None, list[RecipeVersion]] = defaultdict(list)
    for version in rows:
        children[version.came_from_id if version.came_from_id in known else None].append(version)

    def branch(version: RecipeVersion) -> Descent:
        return Descent(version=version, led_to=tuple(branch(child) for child in children[version.pk]))

    return tuple(branch(version) for version in children[None])
