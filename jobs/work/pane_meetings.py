"""Where a silver salt and ammonia first meet on the panes of a ticket: two keeping stocks that are sprayed. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.work.ticket_plan import TicketMix, TicketPart, TicketPlan, TicketRecipe, is_of, load_anchor
from recipes.facts import SPRAYED
from studio.stockroom.hazards.classes import is_ammoniacal_silver


@dataclass(frozen=True, kw_only=True)
class Meeting:
    """A step of a load in which stocks become ammoniacal silver on the pane. key: its name on the bench, r1l2s3.

    stocks: what is sprayed; panes: the labels of the load's panes.
    """

    key: str
    what: str
    load: int
    stocks: tuple[TicketPart, ...]
    panes: tuple[str, ...]


def is_ammoniacal(mix: TicketMix) -> bool:
    """Say whether a mix is ammoniacal silver by its classes; tickets of before know of silver with ammonia alone."""
    return mix.ammoniacal or is_ammoniacal_silver(mix.agents)


def is_sprayed(plan: TicketPlan, subject: str) -> bool:
    """Say whether a mix, or stocks that met on the panes, named as on the bench, went through guns."""
    steps = [(recipe.key, step) for recipe in plan.recipes for step in recipe.steps if step.how in SPRAYED]
    mix = next((mix for mix in plan.mixes if mix.key == subject.partition("-")[0]), None)
    if mix is None:
        number = subject.rpartition("s")[2]
        return any(str(step.number) == number for _, step in steps)
    return any((mix.recipe, mix.step) == (key, step.number) or any(is_of(part, mix) for part in step.parts)
               for key, step in steps)


def meetings_of(plan: TicketPlan) -> list[Meeting]:
    """Return every step, load by load, that makes ammoniacal silver on the panes; a mix that is one has its own clock.
    """
    own = [mix for mix in plan.mixes if is_ammoniacal(mix)]
    return [meeting for number, recipe in enumerate(plan.recipes, start=1)
            for meeting in _of_recipe(number, recipe, own)]


def _of_recipe(number: int, recipe: TicketRecipe, own: list[TicketMix]) -> list[Meeting]:
    found: list[Meeting] = []
    lying: frozenset[str] = frozenset()
    for step in recipe.steps:
        together = lying | frozenset(step.agents)
        mixed = any(is_of(part, mix) for part in step.parts for mix in own)
        if step.parts and not mixed and is_ammoniacal_silver(together) and not is_ammoniacal_silver(lying):
            stocks = " and ".join(part.solution for part in step.parts)
            found += [
                Meeting(key=f"{load_anchor(number, load.number)}s{step.number}",
                        what=f"{stocks} on the panes of load {load.number}, {recipe.finish}",
                        load=load.number, stocks=tuple(step.parts), panes=tuple(load.panes))
                for load in recipe.loads
            ]
        lying = frozenset() if step.rinse_full else together
    return found
