"""Where a silver salt and ammonia first meet on the panes of a ticket: two keeping stocks that are sprayed. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.work.ticket_plan import TicketMix, TicketPlan, TicketRecipe
from studio.stockroom.hazards.classes import is_ammoniacal_silver


@dataclass(frozen=True, kw_only=True)
class Meeting:
    """A step of a load in which stocks become ammoniacal silver on the pane. key: its name on the bench, r1l2s3."""

    key: str
    what: str


def is_ammoniacal(mix: TicketMix) -> bool:
    """Say whether a mix is ammoniacal silver by its classes; tickets of before know of silver with ammonia alone."""
    return mix.ammoniacal or is_ammoniacal_silver(mix.agents)


def meetings_of(plan: TicketPlan) -> list[Meeting]:
    """Return every step, load by load, that makes ammoniacal silver on the panes; a mix that is one has its own clock.
    """
    own = {mix.solution for mix in plan.mixes if is_ammoniacal(mix)}
    return [meeting for number, recipe in enumerate(plan.recipes, start=1)
            for meeting in _of_recipe(number, recipe, own)]


def _of_recipe(number: int, recipe: TicketRecipe, own: set[str]) -> list[Meeting]:
    found: list[Meeting] = []
    lying: frozenset[str] = frozenset()
    for step in recipe.steps:
        together = lying | frozenset(step.agents)
        mixed = any(part.solution in own for part in step.parts)
        if step.parts and not mixed and is_ammoniacal_silver(together) and not is_ammoniacal_silver(lying):
            stocks = " and ".join(part.solution for part in step.parts)
            found += [
                Meeting(key=f"r{number}l{load.number}s{step.number}",
                        what=f"{stocks} on the panes of load {load.number}, {recipe.finish}")
                for load in recipe.loads
            ]
        lying = frozenset() if step.rinse_full else together
    return found
