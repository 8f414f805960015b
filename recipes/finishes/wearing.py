"""What to wear and have at each step of a recipe. Pure: no Django."""

from __future__ import annotations

from recipes.facts import SPRAYED, RecipeFacts, Shelf, StepFacts
from recipes.finishes.bench_rules.silver import clock_starts
from recipes.solutions.rules import hazards_within
from recipes.step_kinds import kind_of
from studio.kit.typed_numbers import whole_number
from studio.stockroom.protection import protection_for


def worn_at(recipe: RecipeFacts, shelf: Shelf) -> dict[int, tuple[str, ...]]:
    """Return by step number what to wear; a step that handles the silver of others asks for what they ask for."""
    silver = {whole_number(start.key[1:].partition("p")[0]) for start in clock_starts(recipe, shelf)}
    of_silver = [part.solution for step in recipe.steps if step.number in silver for part in step.parts]
    return {step.number: tuple(_worn(step, of_silver, shelf)) for step in recipe.steps}


def _worn(step: StepFacts, of_silver: list[str], shelf: Shelf) -> list[str]:
    handles = kind_of(step.kind).makes_safe or step.rinse_collected
    solutions = [part.solution for part in step.parts] or (of_silver if handles else [])
    if not solutions:
        return []
    hazards = hazards_within(solutions, shelf)
    return protection_for(hazards.agents, hazards.statements, sprayed=step.how in SPRAYED, chemical=hazards.chemical)
