"""Panes that are to match: warnings where the order itself already makes a match impossible, for quote and ticket."""

from __future__ import annotations

from collections.abc import Iterator

from jobs.estimating.basis import Basis, LineFacts
from jobs.estimating.refusals import EstimateWarning, warn


def groups_of(basis: Basis) -> dict[str, list[LineFacts]]:
    """Return the lines of each match group, in the order of their places on the wall."""
    groups: dict[str, list[LineFacts]] = {}
    for line in basis.lines:
        if line.match_group:
            groups.setdefault(line.match_group, []).append(line)
    return {name: sorted(lines, key=lambda line: (line.place, line.number)) for name, lines in groups.items()}


def matching_warnings(basis: Basis) -> Iterator[EstimateWarning]:
    """Yield a warning for each group that cannot match wholly: another recipe version, glass, thickness or route."""
    for name, lines in groups_of(basis).items():
        recipes = {line.recipe for line in lines}
        if len(recipes) > 1:
            names = ", ".join(f"{basis.recipes[key].finish} version {basis.recipes[key].version_number}"
                             for key in sorted(recipes))
            yield warn("group mixes recipes", name, field="match_group", recipes=names)
        if len({line.glass for line in lines}) > 1:
            names = ", ".join(sorted({basis.glasses[line.glass].name for line in lines}))
            yield warn("group mixes glass", name, field="match_group", glasses=names)
        elif any(line.route == "own" for line in lines):
            yield warn("group of the customer's own glass", name, field="match_group")
