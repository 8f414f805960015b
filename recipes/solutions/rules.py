"""Rules of a single solution: never stored, how long it keeps, endangering pairs, what cannot be mixed. Pure.

A solution that holds a silver salt and ammonia, at any depth, is used at once:
no keeping time, no mixing ahead, no place on the shelf, whoever asks.
"""

from __future__ import annotations

from dataclasses import dataclass

from recipes.chemistry.mixing import MixError, SolutionCycle, liquids_off_a_litre, materials_within, walk_solutions
from recipes.facts import Shelf, SolutionFacts
from studio.kit.errors import DaybookError
from studio.kit.rounding import decimal_string
from studio.stockroom.hazards.classes import is_ammoniacal_silver
from studio.stockroom.hazards.pairs import pairs_met


class NeverStored(DaybookError):
    """A solution with a silver salt and ammonia that would be kept."""

    def __init__(self, solution: str) -> None:
        super().__init__(
            f"{solution} holds a silver salt and ammonia: it is used at once, never stored and never mixed ahead. "
            "On standing or drying it can form explosive silver nitride. No role can override this.",
            "keeps_minutes",
        )


@dataclass(frozen=True, kw_only=True)
class SolutionFinding:
    """Something wrong with a solution. A stop refuses it; a caution is shown."""

    solution: str
    sentence: str
    stops: bool
    source: str = ""


def agents_within(solution: str, shelf: Shelf) -> frozenset[str]:
    """Return what everything in a solution reacts as, at any depth."""
    return frozenset(agent for material in materials_within(solution, shelf) for agent in material.reacts_as)


def is_never_stored(solution: str, shelf: Shelf) -> bool:
    return is_ammoniacal_silver(agents_within(solution, shelf))


def check_may_be_stored(solution: SolutionFacts, shelf: Shelf) -> None:
    """Raise NeverStored when a solution that must be used at once has a keeping time or is put on the shelf."""
    if is_never_stored(solution.key, shelf):
        raise NeverStored(solution.name)


def findings(solution: SolutionFacts, shelf: Shelf) -> list[SolutionFinding]:
    """Return what is wrong with a solution, stops first."""
    try:
        walk_solutions([solution.key], shelf)
        agents = agents_within(solution.key, shelf)
    except SolutionCycle as cycle:
        return [SolutionFinding(solution=solution.name, sentence=str(cycle), stops=True)]
    found = [
        SolutionFinding(
            solution=solution.name, sentence=f"{pair.name}: {pair.reason}", stops=stops, source=pair.source
        )
        for pair, stops in pairs_met(agents, agents, "solution")
    ]
    if solution.keeps and is_ammoniacal_silver(agents):
        found.append(SolutionFinding(solution=solution.name, sentence=str(NeverStored(solution.name)), stops=True))
    found += _keeping(solution, shelf)
    found += _litre(solution, shelf)
    return sorted(found, key=lambda finding: not finding.stops)


def _keeping(solution: SolutionFacts, shelf: Shelf) -> list[SolutionFinding]:
    """A solution keeps no longer than the shortest-keeping solution in it, unless its author says why."""
    if solution.keeps_minutes is None:
        return []
    for ingredient in solution.ingredients:
        nested = shelf.solutions[ingredient.solution] if ingredient.solution else None
        if nested is None:
            continue
        if nested.keeps_minutes is None:
            return [SolutionFinding(
                solution=solution.name, stops=True,
                sentence=f"{solution.name} has a keeping time, but {nested.name} in it is used at once.",
            )]
        if solution.keeps_minutes > nested.keeps_minutes and not solution.longer_keeping_reason:
            return [SolutionFinding(
                solution=solution.name, stops=True,
                sentence=f"{solution.name} keeps longer than {nested.name} in it: write why, or shorten it.",
            )]
    return []


def _litre(solution: SolutionFacts, shelf: Shelf) -> list[SolutionFinding]:
    try:
        total = liquids_off_a_litre(solution, shelf)
    except MixError as unknown:  # it can still be mixed by weight
        return [SolutionFinding(solution=solution.name, sentence=str(unknown), stops=False)]
    if total is None:
        return []
    return [SolutionFinding(
        solution=solution.name, stops=False,
        sentence=f"The liquids in one litre of {solution.name} add up to {decimal_string(total, 1)} mL.",
    )]


def unpriced_within(solution: str, shelf: Shelf) -> tuple[str, ...]:
    """Return the names of materials in a solution, at any depth, that have neither a lot nor a list price."""
    materials = materials_within(solution, shelf)
    return tuple(dict.fromkeys(material.name for material in materials if material.unit_cost is None))
