"""Bench rules: a recipe walked as the pane's surface changes. Pure: no Django.

Bare → clean → sensitised → silvered → antiqued → sealed or backed; wet or dry;
rinsed or not. Each rule is a small function that looks at the pane before a step
and at the step, and returns a sentence when something is wrong. To add one: write
it here under `@stop` or `@caution`, with the reason; nothing else changes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from recipes.chemistry.mixing import MixError, check_strength, is_liquid
from recipes.facts import IngredientFacts, RecipeFacts, Shelf, SolutionFacts, StepFacts
from recipes.solutions.rules import agents_within
from recipes.solutions.rules import findings as solution_findings
from recipes.step_kinds import StepKind, kind_of
from studio.kit.errors import DaybookError
from studio.stockroom.hazards.pairs import pairs_met


@dataclass(frozen=True, kw_only=True)
class Surface:
    """The pane before a step."""

    clean: bool = False
    sensitised: bool = False
    silvered: bool = False
    sealed: bool = False
    inspected_since_work: bool = False
    wet: bool = False
    #: what lies on the pane since the last full rinse
    unrinsed: frozenset[str] = frozenset()
    #: what the kinds of those steps leave a pane as
    unrinsed_leaves: frozenset[str] = frozenset()
    unrinsed_solutions: frozenset[str] = frozenset()
    gentlest_antiquing: int = 0


@dataclass(frozen=True, kw_only=True)
class Finding:
    """A rule broken at a step. A stop keeps the version out of use; a caution is acknowledged by name."""

    rule: str
    step: int
    sentence: str
    reason: str
    stops: bool


@dataclass(frozen=True, kw_only=True)
class _AtStep:
    """Where a rule looks: the recipe, the step, the pane before it and the shelf."""

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

    @property
    def agents(self) -> frozenset[str]:
        return _agents(self.step, self.shelf)


Check = Callable[[_AtStep], str]


@dataclass(frozen=True, kw_only=True)
class BenchRule:
    name: str
    reason: str
    stops: bool
    check: Check


RULES: list[BenchRule] = []


def _rule(reason: str, stops: bool) -> Callable[[Check], Check]:
    def add(check: Check) -> Check:
        RULES.append(BenchRule(name=check.__name__.replace("_", " "), reason=reason, stops=stops, check=check))
        return check

    return add


def stop(reason: str) -> Callable[[Check], Check]:
    return _rule(reason, True)


def caution(reason: str) -> Callable[[Check], Check]:
    return _rule(reason, False)


def _agents(step: StepFacts, shelf: Shelf) -> frozenset[str]:
    return frozenset(agent for part in step.parts for agent in agents_within(part.solution, shelf))


@stop("Grease and dust keep the sensitiser and the silver off the glass.")
def cleaning_comes_first(at: _AtStep) -> str:
    if at.kind.applying and not at.before.clean:
        return "The pane is not cleaned before this step."
    return ""


@stop("Sensitiser left on the glass clouds the silver or spoils the bath.")
def sensitiser_is_rinsed_off(at: _AtStep) -> str:
    if at.kind.leaves == "silvered" and "sensitised" in at.before.unrinsed_leaves:
        return "The sensitiser is not fully rinsed off before the silver."
    return ""


@stop("Ammoniacal silver residue that dries can explode (Chemical & Engineering News 74 (2), 1996).")
def silver_is_rinsed_before_drying_or_antiquing(at: _AtStep) -> str:
    silvers = at.kind.leaves == "silvered"
    if (at.kind.needs_rinsed_silver or at.step.drying) and not silvers and "silvered" in at.before.unrinsed_leaves:
        return "The silver is not fully rinsed: ammoniacal residue would dry on the pane."
    if silvers and at.step.drying:
        return "The silver step dries before a full rinse: ammoniacal residue would dry on the pane."
    return ""


@stop("An antiquing concentrate is always diluted.")
def concentrate_is_diluted(at: _AtStep) -> str:
    for solution in at.solutions:
        for ingredient in solution.ingredients:
            if _is_neat(ingredient, solution, at.shelf):
                return f"{at.shelf.materials[ingredient.material or ''].name} is used neat in {solution.name}."
    return ""


def _is_neat(ingredient: IngredientFacts, solution: SolutionFacts, shelf: Shelf) -> bool:
    if ingredient.material is None or not shelf.materials[ingredient.material].must_be_diluted:
        return False
    others = [other for other in solution.ingredients if other is not ingredient and is_liquid(other, shelf)]
    return ingredient.make_up or not others


@stop("A mix that must be used at once is dangerous or spent by the time the next load is ready.")
def used_at_once_is_not_kept(at: _AtStep) -> str:
    for part, solution in zip(at.step.parts, at.solutions, strict=True):
        if part.mixed_for == "job" and not solution.keeps:
            return f"{solution.name} is used at once: mix it for a load or a pane, not for the whole job."
        if solution.works_at_once and part.mixed_for != "pane":
            return f"{solution.name} works at once: mix it for one pane only."
    return ""


@stop("A solution that breaks a rule of its own cannot be used.")
def solutions_are_sound(at: _AtStep) -> str:
    for part, solution in zip(at.step.parts, at.solutions, strict=True):
        broken = [finding for finding in solution_findings(solution, at.shelf) if finding.stops]
        if broken:
            return broken[0].sentence
        try:
            check_strength(solution, part.strength, at.shelf)
        except MixError as refusal:
            return str(refusal)
    return ""


@stop("Some agents make poisonous gas, fire or explosives when they meet.")
def endangering_pairs_are_rinsed_apart(at: _AtStep) -> str:
    for pair, stops in pairs_met(at.before.unrinsed, at.agents, "between steps"):
        if stops:
            return f"{pair.name} meet on the pane without a full rinse between: {pair.reason}"
    return ""


@stop("Fluoride burns are treated differently from any other: trained first aid only.")
def fluoride_is_for_the_owner(at: _AtStep) -> str:
    if "fluoride" in at.agents and at.step.hands != "owner":
        return "This step uses a fluoride: it is for the owner alone, with trained first aid at hand."
    return ""


@caution("Some classic poured formulas silver unsensitised glass; most do not hold on it.")
def silver_goes_on_sensitised_glass(at: _AtStep) -> str:
    if at.kind.leaves == "silvered" and not at.before.sensitised:
        return "The glass is not sensitised before the silver."
    return ""


@caution("Harsher agents come before gentler ones.")
def harsher_antiquing_comes_first(at: _AtStep) -> str:
    gentlest = at.before.gentlest_antiquing
    if at.kind.leaves == "antiqued" and gentlest and at.step.harshness > gentlest:
        return "A harsher antiquing follows a gentler one: the gentle effect would be lost."
    return ""


@caution("What tap water carries spoils sensitiser and silver in ways that cannot be repeated.")
def distilled_water_controls_the_result(at: _AtStep) -> str:
    between = at.before.sensitised and not at.before.silvered
    if at.kind.leaves == "rinsed" and between and at.step.rinse_water == "tap":
        return "Tap water rinses the sensitised glass: use distilled for the last rinse before the silver."
    return ""


@caution("A flaw that is sealed in cannot be corrected.")
def inspected_before_sealing(at: _AtStep) -> str:
    if at.kind.leaves == "sealed" and not at.before.sealed and not at.before.inspected_since_work:
        return "The pane is not inspected before it is sealed."
    return ""


@caution("One solution left on the pane spoils the next.")
def solutions_are_rinsed_apart(at: _AtStep) -> str:
    mine = frozenset(part.solution for part in at.step.parts)
    if at.kind.applying and mine and at.before.unrinsed_solutions - mine:
        names = ", ".join(sorted(at.shelf.solutions[key].name for key in at.before.unrinsed_solutions - mine))
        return f"{names} is still on the pane."
    return ""


@caution("Some agents are only safe together when dilute, or with care.")
def cautioned_pairs_are_known(at: _AtStep) -> str:
    met = [p for p, stops in pairs_met(at.before.unrinsed, at.agents, "between steps") if not stops]
    if met:
        return f"{met[0].name} meet on the pane without a full rinse between: {met[0].reason}"
    return ""


@caution("On dry silver an agent acts one way, on wet silver another.")
def surface_is_as_wanted(at: _AtStep) -> str:
    wanted = at.step.surface_before
    if wanted == "wet" and not at.before.wet:
        return "This step needs a wet surface, and the pane is dry before it."
    if wanted == "dry" and at.before.wet:
        return "This step needs a dry surface, and the pane is still wet before it."
    return ""


@caution("What is not written down cannot be repeated.")
def what_decides_is_noted(at: _AtStep) -> str:
    if at.kind.applying and at.step.dwell_minutes == 0:
        return "The dwell time is missing."
    if at.kind.applying and not at.step.how:
        return "How it is applied is missing."
    return ""


def _after(step: StepFacts, pane: Surface, shelf: Shelf) -> Surface:
    """Return the pane after a step, as its kind's row says."""
    kind = kind_of(step.kind)
    if kind.leaves == "clean":
        pane = replace(pane, clean=True, wet=True)
    elif kind.leaves == "rinsed":
        nothing: frozenset[str] = frozenset()
        pane = replace(pane, wet=True)
        if step.rinse_full:
            pane = replace(pane, unrinsed=nothing, unrinsed_leaves=nothing, unrinsed_solutions=nothing)
    elif kind.leaves == "inspected":
        pane = replace(pane, inspected_since_work=True)
    elif kind.leaves == "sealed":
        pane = replace(pane, sealed=True)
    if kind.applying:
        pane = _after_applying(kind, step, pane, shelf)
    return replace(pane, wet=False) if kind.dries or step.drying else pane


def _after_applying(kind: StepKind, step: StepFacts, pane: Surface, shelf: Shelf) -> Surface:
    pane = replace(
        pane, wet=True, inspected_since_work=False, unrinsed=pane.unrinsed | _agents(step, shelf),
        unrinsed_leaves=pane.unrinsed_leaves | {kind.leaves},
        unrinsed_solutions=pane.unrinsed_solutions | {part.solution for part in step.parts},
        sensitised=pane.sensitised or kind.leaves == "sensitised", silvered=pane.silvered or kind.leaves == "silvered",
    )
    if kind.leaves == "antiqued" and step.harshness:
        gentlest = min(pane.gentlest_antiquing or step.harshness, step.harshness)
        pane = replace(pane, gentlest_antiquing=gentlest)
    return pane


def walk(recipe: RecipeFacts, shelf: Shelf) -> list[Finding]:
    """Walk a recipe through its steps and return every rule that is broken, in the order of the steps."""
    pane = Surface()
    found: list[Finding] = []
    for step in recipe.steps:
        at = _AtStep(recipe=recipe, step=step, before=pane, shelf=shelf)
        for rule in RULES:
            if sentence := rule.check(at):
                found.append(Finding(
                    rule=rule.name, step=step.number, sentence=sentence, reason=rule.reason, stops=rule.stops
                ))
        pane = _after(step, pane, shelf)
    if pane.silvered and not pane.sealed:
        found.append(Finding(
            rule="silver is sealed on the back", step=recipe.steps[-1].number, stops=False,
            sentence="The silver has no seal on its back.",
            reason="A clear seal goes on the back.",
        ))
    return found


class BenchRulesStop(DaybookError):
    """A recipe that may not be put in use."""

    def __init__(self, recipe: RecipeFacts, stops: list[Finding]) -> None:
        sentences = " ".join(f"Step {finding.step}: {finding.sentence}" for finding in stops)
        super().__init__(f"{recipe.finish}, version {recipe.version_number}, cannot be put in use. {sentences}")
        self.stops = stops


def refuse_stops(recipe: RecipeFacts, shelf: Shelf) -> list[Finding]:
    """Raise BenchRulesStop while a stop stands; return the cautions, which are acknowledged by name."""
    found = walk(recipe, shelf)
    stops = [finding for finding in found if finding.stops]
    if stops:
        raise BenchRulesStop(recipe, stops)
    return found
