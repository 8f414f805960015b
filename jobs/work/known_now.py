"""A ticket's plan with what is known now of what is in it: the truth about a material may come after the print."""

from __future__ import annotations

from dataclasses import replace

from jobs.work.pane_meetings import is_ammoniacal
from jobs.work.ticket_plan import TicketMix, TicketPlan, TicketStep, is_of
from recipes.models import SolutionVersion
from recipes.reading import ANY_DAY, shelf_for
from recipes.solutions.rules import Hazards, hazards_within
from studio.kit.asking import among
from studio.stockroom.hazards.classes import is_ammoniacal_silver


def known_now(plan: TicketPlan) -> TicketPlan:
    """Return a plan whose mixes and steps carry, beside what was printed, what their solutions hold by what is known.

    Nothing printed is taken away. A fixed number of queries.
    """
    keys = {mix.solution_key for mix in plan.mixes if mix.solution_key}
    rows = among(SolutionVersion.objects.select_related("solution"), "solution__code",
                 {key.rpartition("/")[0] for key in keys})
    shelf = shelf_for([row.pk for row in rows if row.key in keys], ANY_DAY)
    hazards = {key: hazards_within([key], shelf) for key in keys if key in shelf.solutions}
    known = [(mix, hazards[mix.solution_key]) for mix in plan.mixes if mix.solution_key in hazards]
    mixes = [_mix(mix, hazards.get(mix.solution_key)) for mix in plan.mixes]
    recipes = [replace(recipe, steps=[_step(step, known) for step in recipe.steps]) for recipe in plan.recipes]
    return replace(plan, mixes=mixes, recipes=recipes)


def _mix(mix: TicketMix, now: Hazards | None) -> TicketMix:
    if now is None:
        return mix
    agents = now.agents | set(mix.agents)
    return replace(mix, agents=sorted(agents), statements=sorted(now.statements | set(mix.statements)),
                   ammoniacal=mix.ammoniacal or is_ammoniacal_silver(agents), chemical=mix.chemical or now.chemical)


def _step(step: TicketStep, known: list[tuple[TicketMix, Hazards]]) -> TicketStep:
    there = [now for mix, now in known if any(is_of(part, mix) for part in step.parts)]
    return replace(
        step, agents=sorted(set(step.agents).union(*(now.agents for now in there))),
        statements=sorted(set(step.statements).union(*(now.statements for now in there))),
        chemical=step.chemical or any(now.chemical for now in there),
    )


def silver_after_all(printed: TicketPlan, now: TicketPlan) -> list[str]:
    """Return in sentences which mixes turned out to be ammoniacal silver after their ticket was printed."""
    names = dict.fromkeys(mix.solution for was, mix in zip(printed.mixes, now.mixes, strict=True)
                          if is_ammoniacal(mix) and not is_ammoniacal(was))
    return [f"{name} is ammoniacal silver after all: never kept, its first rinse is collected, and it is made safe by "
            "the written procedure in the same shift." for name in names]
