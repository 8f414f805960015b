"""Neighbours that are to match: what the order itself already makes impossible, in words for quote and ticket."""

from __future__ import annotations

from collections.abc import Iterator

from jobs.estimating.basis import Basis, LineFacts


def groups_of(basis: Basis) -> dict[str, list[LineFacts]]:
    """Return the lines of each match group, in the order of their places on the wall."""
    groups: dict[str, list[LineFacts]] = {}
    for line in basis.lines:
        if line.match_group:
            groups.setdefault(line.match_group, []).append(line)
    return {name: sorted(lines, key=lambda one: (one.place, one.number)) for name, lines in groups.items()}


def matching_warnings(basis: Basis) -> Iterator[str]:
    """Yield a sentence for each group that cannot match wholly: another recipe issue, glass, thickness or route."""
    for name, lines in groups_of(basis).items():
        recipes = {line.recipe for line in lines}
        if len(recipes) > 1:
            told = ", ".join(f"{basis.recipes[key].finish} issue {basis.recipes[key].issue_number}"
                             for key in sorted(recipes))
            yield f"Match group {name} mixes recipes ({told}): its panes are worked apart and will differ."
        if len({line.glass for line in lines}) > 1:
            told = ", ".join(sorted({basis.glasses[line.glass].name for line in lines}))
            yield f"Match group {name} mixes glass ({told}): its colour and thickness show beside each other."
        elif any(line.route == "own" for line in lines):
            yield f"Match group {name} is the customer's own glass: whether it is of one lot is not known here."
