"""Ammoniacal silver in a recipe: where it is, starts its clock, is made safe. Pure: no Django."""

from __future__ import annotations

from dataclasses import dataclass, replace

from recipes.facts import RecipeFacts, Shelf
from recipes.finishes.bench_rules.pane import at_each_step
from recipes.solutions.rules import agents_within
from recipes.step_kinds import kind_of
from studio.stockroom.hazards.classes import is_ammoniacal_silver
from studio.stockroom.hazards.standing import MIXED, SPRAYED


def holds_ammoniacal_silver(recipe: RecipeFacts, shelf: Shelf) -> bool:
    """Say whether ammoniacal silver is in a part of a recipe, or comes to be on its pane."""
    return any(at.is_ammoniacal for at in at_each_step(recipe, shelf))


@dataclass(frozen=True, kw_only=True)
class ClockStart:
    """Where a silver salt and ammonia first meet in a recipe. key: s3 or s3p1; began: mixed, or sprayed onto the pane.
    """

    key: str
    what: str
    began: str


def clock_starts(recipe: RecipeFacts, shelf: Shelf) -> list[ClockStart]:
    """Return each part that is ammoniacal silver by itself, and each step whose stocks become it on the pane."""
    found = []
    for at_step in at_each_step(recipe, shelf):
        step = at_step.step
        own = [(at, part.solution) for at, part in enumerate(step.parts, start=1)
               if is_ammoniacal_silver(agents_within(part.solution, shelf))]
        found += [
            ClockStart(key=f"s{step.number}p{at}", began=MIXED,
                       what=f"{shelf.solutions[key].name} for step {step.number}") for at, key in own
        ]
        if not own and not at_step.before.ammoniacal and at_step.is_ammoniacal:
            stocks = " and ".join(shelf.solutions[part.solution].name for part in step.parts)
            found.append(ClockStart(key=f"s{step.number}", what=f"{stocks} on the pane, step {step.number}",
                                    began=SPRAYED))
    return found


def in_bench_order(recipe: RecipeFacts, shelf: Shelf) -> RecipeFacts:
    """Return a recipe as the bench does it: making safe straight after the last rinse of its ammoniacal silver.

    Where its own steps have it there, or earlier for an earlier silver, the recipe is returned as it is. Steps keep
    their numbers.
    """
    if not any(kind_of(step.kind).makes_safe for step in recipe.steps):
        return recipe
    rinsed = _last_silver_rinse(recipe, shelf)
    if rinsed is None:
        return recipe
    first, rest = recipe.steps[:rinsed + 1], recipe.steps[rinsed + 1:]
    making_safe = tuple(step for step in rest if kind_of(step.kind).makes_safe)
    return replace(recipe, steps=first + making_safe + tuple(step for step in rest if step not in making_safe))


def _last_silver_rinse(recipe: RecipeFacts, shelf: Shelf) -> int | None:
    """Return the place of the last full rinse that takes ammoniacal silver off the pane; None where none does."""
    rinses = [
        place for place, at in enumerate(at_each_step(recipe, shelf))
        if at.step.rinse_full and (at.before.ammoniacal or at.is_ammoniacal)
    ]
    return rinses[-1] if rinses else None
