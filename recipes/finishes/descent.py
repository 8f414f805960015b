"""A finish's recipe issues as a line of descent with its branches. Pure but for the rows it is given."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from recipes.models import RecipeIssue


@dataclass(frozen=True, kw_only=True)
class Descent:
    """An issue and what came from it."""

    issue: RecipeIssue
    led_to: tuple[Descent, ...]


def descent(issues: Iterable[RecipeIssue]) -> tuple[Descent, ...]:
    """Return the issues that came from none of the others, each with all that came from it, in their order."""
    rows = sorted(issues, key=lambda issue: issue.number)
    known = {issue.pk for issue in rows}
    children: dict[int | None, list[RecipeIssue]] = defaultdict(list)
    for issue in rows:
        children[issue.came_from_id if issue.came_from_id in known else None].append(issue)

    def branch(issue: RecipeIssue) -> Descent:
        return Descent(issue=issue, led_to=tuple(branch(one) for one in children[issue.pk]))

    return tuple(branch(issue) for issue in children[None])
