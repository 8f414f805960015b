"""The pane before and after each step of a recipe: what lies on it, what was done to it. Pure: no Django."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from recipes.facts import RecipeFacts, Shelf, SolutionFacts, StepFacts
from recipes.solutions.rules import agents_within, things_within
from recipes.step_kinds import StepKind, kind_of
from studio.stockroom.hazards.classes import is_ammoniacal_silver, with_implied
from studio.stockroom.hazards.meeting import Met, Thing, meet
from studio.stockroom.hazards.pairs import UNKNOWN

#: what takes silver off: its rinse holds silver
_TAKES_SILVER_OFF = frozenset({"oxidising_acid", "hypochlorite", "permanganate", "peroxide", "oxidiser_mild", "iron",
                               "thiosulfate", "cyanide_complex", "iodine"})
#: how harsh an agent is on silver by its class (common practice, no source)
_HARSHNESS: dict[str, int] = {
    "oxidising_acid": 3, "acid_strong": 3, "hypochlorite": 3, "permanganate": 3, "hydrochloric": 3, "fluoride": 3,
    "iron_chloride": 2, "iron": 2, "oxidiser_mild": 2, "iodine": 2, "peroxide": 2, "cyanide_complex": 2, "sulfide": 2,
    "acid_reacting": 2, "copper_salt": 2, "organic_acid": 1, "chloride": 1, "thiosulfate": 1,
}


@dataclass(frozen=True, kw_only=True)
class Surface:
    """The pane before a step."""

    clean: bool = False
    sensitised: bool = False
    silvered: bool = False
    sealed: bool = False
    inspected_since_work: bool = False
    wet: bool = False
    #: what lies on the pane since the last full rinse, whatever kind of step brought it
    unrinsed: tuple[Thing, ...] = ()
    #: what the kinds of those steps leave a pane as
    unrinsed_leaves: frozenset[str] = frozenset()
    unrinsed_solutions: frozenset[str] = frozenset()
    gentlest_antiquing: int = 0
    gentlest_agent: int = 0
    #: ammoniacal silver is on the pane; its first rinse water was not collected yet
    ammoniacal: bool = False
    #: how long it has stood there, by the dwells since it came
    ammoniacal_minutes: Fraction = Fraction(0)
    #: ammoniacal silver was used, and nothing made it safe since
    owes_making_safe: bool = False
    #: silver that is not ammoniacal lies on the pane since the last full rinse
    silver_salt: bool = False
    #: silver was taken off since the last full rinse
    silver_coming_off: bool = False

    @property
    def residue(self) -> frozenset[str]:
        return with_implied(agent for thing in self.unrinsed for agent in thing.classes)


@dataclass(frozen=True, kw_only=True)
class AtStep:
    """Where a rule looks: recipe, step, the pane before it and the shelf. What is derived is worked out once."""

    recipe: RecipeFacts
    step: StepFacts
    before: Surface
    shelf: Shelf

    @property
    def kind(self) -> StepKind:
        return kind_of(self.step.kind)

    @property
    def solutions(self) -> list[SolutionFacts]:
        return [self.shelf.solutions[part.solution] for part in self.step.parts]

    @cached_property
    def agents(self) -> frozenset[str]:
        return frozenset(agent for part in self.step.parts for agent in agents_within(part.solution, self.shelf))

    @cached_property
    def things(self) -> tuple[Thing, ...]:
        """Return the materials of the step's parts, each once, with the largest share it has of a solution."""
        found: dict[str, Thing] = {}
        for part in self.step.parts:
            for thing in things_within(part.solution, self.shelf, part.strength):
                found[thing.name] = thing.larger_of(found.get(thing.name, thing))
        return tuple(found.values())

    @cached_property
    def is_ammoniacal(self) -> bool:
        """Say whether the step's parts are ammoniacal silver, or become it with what the pane carries."""
        return bool(self.agents) and is_ammoniacal_silver(self.agents | self.before.residue)

    @property
    def ammoniacal_minutes(self) -> Fraction:
        """Return how long ammoniacal silver stands on the pane by the end of this step's dwell; 0 where none does."""
        if not (self.before.ammoniacal or self.is_ammoniacal):
            return Fraction(0)
        return self.before.ammoniacal_minutes + self.step.dwell_minutes

    @cached_property
    def takes_silver_off(self) -> bool:
        agents = with_implied(self.agents)
        return self.kind.leaves == "antiqued" and self.before.silvered and bool(agents & _TAKES_SILVER_OFF)

    @cached_property
    def is_plain_silver(self) -> bool:
        """Say whether the step's parts hold a silver salt that is not ammoniacal."""
        return "silver_salt" in with_implied(self.agents) and not self.is_ammoniacal

    @cached_property
    def within(self) -> list[Met]:
        """Return what meets in the parts of this step."""
        return [met for met in meet(self.things, "step") if met.pair is not UNKNOWN]

    @cached_property
    def onto_the_pane(self) -> list[Met]:
        """Return what this step brings together with what the pane still carries."""
        if not self.things:
            return []
        return [met for met in meet(self.things, "residue", onto=self.before.unrinsed) if met.pair is not UNKNOWN]

    @cached_property
    def after(self) -> Surface:
        """Return the pane after the step, as its kind's row says."""
        return _after(self)

    @property
    def rinses(self) -> bool:
        """Say whether water runs off the pane in this step, fully rinsed or not: cleaning a pane rinses it too."""
        step, washes = self.step, self.kind.leaves == "clean" and not self.step.parts
        return step.rinse_full or bool(step.rinse_water) or self.kind.leaves == "rinsed" or washes

    @property
    def dries(self) -> bool:
        return self.kind.dries or bool(self.step.drying)


def harshness_of(agents: frozenset[str]) -> int:
    """Return how harsh the harshest of some classes is; 0 where none is known to be."""
    return max((_HARSHNESS.get(agent, 0) for agent in with_implied(agents)), default=0)


def _after(at: AtStep) -> Surface:
    """Return the pane after a step, as its kind's row says."""
    kind, step, pane = at.kind, at.step, _carrying(at)
    if kind.leaves == "clean":
        pane = replace(pane, clean=True, wet=True)
    elif kind.leaves == "rinsed":
        pane = replace(pane, wet=True)
    elif kind.leaves == "inspected":
        pane = replace(pane, inspected_since_work=True)
    elif kind.leaves == "sealed":
        pane = replace(pane, sealed=True)
    elif kind.makes_safe:
        pane = replace(pane, owes_making_safe=False)
    if kind.applying:
        pane = _after_applying(kind, step, pane)
    if kind.leaves == "antiqued":
        pane = _gentler(pane, at.agents)
    return replace(pane, wet=False) if kind.dries or step.drying else pane


def _carrying(at: AtStep) -> Surface:
    """Return the pane with what a step of any kind brings onto it, or, by a full rinse, takes off."""
    kind, step, pane = at.kind, at.step, at.before
    if step.parts:
        there = {thing.name: thing for thing in (*pane.unrinsed, *at.things)}
        pane = replace(
            pane, unrinsed=tuple(there.values()), ammoniacal=pane.ammoniacal or at.is_ammoniacal,
            owes_making_safe=pane.owes_making_safe or at.is_ammoniacal,
            silver_salt=(pane.silver_salt or at.is_plain_silver) and not at.is_ammoniacal,
            silver_coming_off=pane.silver_coming_off or at.takes_silver_off,
            unrinsed_solutions=pane.unrinsed_solutions | {part.solution for part in step.parts},
        )
    pane = replace(pane, ammoniacal_minutes=at.ammoniacal_minutes)
    if kind.applying:
        pane = replace(pane, unrinsed_leaves=pane.unrinsed_leaves | {kind.leaves})
    if step.rinse_full:
        nothing: frozenset[str] = frozenset()
        pane = replace(pane, unrinsed=(), unrinsed_leaves=nothing, unrinsed_solutions=nothing, ammoniacal=False,
                       ammoniacal_minutes=Fraction(0), silver_salt=False, silver_coming_off=False)
    return pane


def _after_applying(kind: StepKind, step: StepFacts, pane: Surface) -> Surface:
    pane = replace(
        pane, wet=True, inspected_since_work=False,
        sensitised=pane.sensitised or kind.leaves == "sensitised", silvered=pane.silvered or kind.leaves == "silvered",
    )
    if kind.leaves == "antiqued" and step.harshness:
        gentlest = min(pane.gentlest_antiquing or step.harshness, step.harshness)
        pane = replace(pane, gentlest_antiquing=gentlest)
    return pane


def _gentler(pane: Surface, agents: frozenset[str]) -> Surface:
    harsh = harshness_of(agents)
    return replace(pane, gentlest_agent=min(pane.gentlest_agent or harsh, harsh)) if harsh else pane


def at_each_step(recipe: RecipeFacts, shelf: Shelf) -> Iterator[AtStep]:
    """Walk a recipe: give each step with the pane as it is before it."""
    pane = Surface()
    for step in recipe.steps:
        at = AtStep(recipe=recipe, step=step, before=pane, shelf=shelf)
        yield at
        pane = at.after
