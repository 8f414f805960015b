"""Bench rules: a recipe walked as the pane's surface changes. Pure: no Django.

Bare → clean → sensitised → silvered → antiqued → sealed or backed; wet or dry;
rinsed or not; with ammoniacal silver open, or made safe. Each rule is a small
function that looks at the pane before a step and at the step, and returns a
sentence when something is wrong. To add one: write it here under `@stop` or
`@caution`, with the reason; nothing else changes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from recipes.chemistry.mixing import MixError, check_strength, is_liquid
from recipes.facts import IngredientFacts, RecipeFacts, Shelf, SolutionFacts, StepFacts
from recipes.solutions.rules import agents_within, own_cautions, things_within, unclassed_within
from recipes.solutions.rules import findings as solution_findings
from recipes.step_kinds import StepKind, kind_of
from studio.kit.errors import DaybookError
from studio.stockroom.hazards.classes import is_ammoniacal_silver, with_implied
from studio.stockroom.hazards.meeting import Met, Thing, meet
from studio.stockroom.hazards.pairs import UNKNOWN
from studio.stockroom.hazards.standing import MIXED, SPRAYED

#: what must not dry or be sealed in on a pane
_HARMS_DRYING = frozenset({"ammonia", "caustic", "acid", "acid_reacting", "hypochlorite", "permanganate", "peroxide",
                           "oxidiser_mild"})
#: what must not dry in the very step that puts it on: a mist of weak acid that dries where it lies is practised
_HARMS_ITS_OWN_DRYING = frozenset({"acid_strong", "oxidising_acid", "caustic", "hypochlorite", "permanganate"})
#: what takes silver off: its rinse holds silver
_TAKES_SILVER_OFF = frozenset({"oxidising_acid", "hypochlorite", "permanganate", "peroxide", "oxidiser_mild", "iron",
                               "thiosulfate", "cyanide_complex", "iodine"})
#: what a step leaves a pane as by putting a solution on it
_PUT_ON = frozenset({"sensitised", "silvered", "antiqued", "sealed"})
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
class Finding:
    """A rule broken at a step. A stop keeps the version out of use; a caution is acknowledged by name."""

    rule: str
    step: int
    sentence: str
    reason: str
    stops: bool


@dataclass(frozen=True, kw_only=True)
class _AtStep:
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
    def dries(self) -> bool:
        return self.kind.dries or bool(self.step.drying)


Check = Callable[[_AtStep], str]


@dataclass(frozen=True, kw_only=True)
class BenchRule:
    name: str
    reason: str
    stops: bool
    check: Check


RULES: list[BenchRule] = []
#: the rule of what nobody has classed: not broken, but not known yet
UNCLASSED_RULE = "everything is classed"


def _rule(reason: str, stops: bool) -> Callable[[Check], Check]:
    def add(check: Check) -> Check:
        RULES.append(BenchRule(name=check.__name__.replace("_", " "), reason=reason, stops=stops, check=check))
        return check

    return add


def stop(reason: str) -> Callable[[Check], Check]:
    return _rule(reason, True)


def caution(reason: str) -> Callable[[Check], Check]:
    return _rule(reason, False)


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
        broken = [finding for finding in solution_findings(solution, at.shelf)
                  if finding.stops and finding.pair != UNKNOWN.name]
        if broken:
            return broken[0].sentence
        try:
            check_strength(solution, part.strength, at.shelf)
        except MixError as refusal:
            return str(refusal)
    return ""


@stop("Some agents make poisonous gas, fire or explosives when they meet.")
def endangering_pairs_are_rinsed_apart(at: _AtStep) -> str:
    for met in at.onto_the_pane:
        if met.stops:
            return f"There is no full rinse between: {met.sentence}"
    return ""


@stop("The parts of one step meet on the pane, in the gun or in the tray.")
def parts_of_a_step_may_meet(at: _AtStep) -> str:
    for met in at.within:
        if met.stops:
            return f"In one step {met.sentence}"
    return ""


@stop("Unknown is not safe.")
def everything_is_classed(at: _AtStep) -> str:
    names = dict.fromkeys(name for part in at.step.parts for name in unclassed_within(part.solution, at.shelf))
    if names:
        return (f"{', '.join(names)}: nobody has said what it reacts as, or that its data sheet was read and none "
                "apply.")
    return ""


@stop("What dries or is sealed in works on, burns whoever handles it, or explodes.")
def nothing_harmful_dries_on(at: _AtStep) -> str:
    if not at.dries or at.step.rinse_full or silver_is_rinsed_before_drying_or_antiquing(at):
        return ""  # of silver that is not rinsed off, that rule says more
    if at.before.ammoniacal:
        return "Ammoniacal silver is not fully rinsed off: it would dry on the pane."
    harmful = [thing.name for thing in at.before.unrinsed if thing.all_classes & _HARMS_DRYING]
    if at.step.drying:
        harmful += [thing.name for thing in at.things if thing.all_classes & _HARMS_ITS_OWN_DRYING]
    if harmful:
        return f"{', '.join(harmful)} would dry or be sealed in on the pane: rinse fully first."
    return ""


@stop("The first water off ammoniacal silver holds it: it is collected and made safe, never poured away.")
def ammoniacal_silver_is_collected(at: _AtStep) -> str:
    if (at.before.ammoniacal or at.is_ammoniacal) and at.step.rinse_full and not at.step.rinse_collected:
        return "The first water off ammoniacal silver is not collected in this rinse."
    return ""


@stop("Making safe waits for nothing: ammoniacal silver turns explosive on standing.")
def made_safe_before_the_seal(at: _AtStep) -> str:
    if at.kind.leaves == "sealed" and at.before.owes_making_safe:
        return "The ammoniacal silver is not made safe before this: that stands straight after the silver's rinse."
    return ""


@stop("Ammoniacal silver turns explosive on standing.")
def ammoniacal_silver_does_not_stand(at: _AtStep) -> str:
    limit = at.shelf.ammoniacal_limit_minutes
    if at.ammoniacal_minutes > limit:
        return f"Ammoniacal silver would stand longer than {limit} minutes, the studio's limit."
    return ""


STANDS_TOO_LONG = RULES[-1].name


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
    if at.kind.leaves != "antiqued":
        return ""
    by_number = at.before.gentlest_antiquing and at.step.harshness > at.before.gentlest_antiquing
    by_agent = at.before.gentlest_agent and _harshness_of(at.agents) > at.before.gentlest_agent
    if by_number or by_agent:
        return "A harsher antiquing follows a gentler one: the gentle effect would be lost."
    return ""


def _harshness_of(agents: frozenset[str]) -> int:
    """Return how harsh the harshest of some classes is; 0 where none is known to be."""
    return max((_HARSHNESS.get(agent, 0) for agent in with_implied(agents)), default=0)


@caution("Resists before silver are practised; antiquing what is not there yet is usually a slip.")
def antiquing_comes_after_silver(at: _AtStep) -> str:
    if at.kind.leaves == "antiqued" and not at.before.silvered:
        return "The pane is antiqued before it is silvered."
    return ""


@caution("Silvering beside sealed gilding is practised; over a sealed mirror it is usually a slip.")
def silvering_comes_before_sealing(at: _AtStep) -> str:
    if at.kind.leaves == "silvered" and at.before.sealed:
        return "The pane is silvered after it was sealed."
    return ""


@caution("What is left under a seal goes on working.")
def antiquing_is_rinsed_before_sealing(at: _AtStep) -> str:
    if at.kind.leaves == "sealed" and "antiqued" in at.before.unrinsed_leaves:
        return "The antiquing is not fully rinsed off before the seal."
    return ""


@caution("What took silver off holds it: its first water goes to the silver-bearing waste.")
def silver_that_comes_off_is_collected(at: _AtStep) -> str:
    coming_off = at.before.silver_coming_off or at.takes_silver_off
    if coming_off and at.step.rinse_full and not at.step.rinse_collected:
        return "The antiquing took silver off, and the first water of this rinse is not collected."
    return ""


@caution("The water off a silver bath holds silver: it goes to the silver-bearing waste, not down the sink.")
def silver_rinse_is_collected(at: _AtStep) -> str:
    silver = at.before.silver_salt or (at.is_plain_silver and not at.before.ammoniacal)
    if silver and at.step.rinse_full and not at.step.rinse_collected:
        return "The first water off the silver is not collected in this rinse."
    return ""


@caution("What a solution itself warns of matters to whoever mixes it.")
def cautions_of_its_solutions_are_known(at: _AtStep) -> str:
    return " ".join(dict.fromkeys(
        sentence for part in at.step.parts for sentence in own_cautions(part.solution, at.shelf)
    ))


@caution("Caustic throws brown oxide out of silver that no ammonia holds.")
def silver_and_caustic_have_ammonia(at: _AtStep) -> str:
    mine = with_implied(at.agents)
    pair = {"silver_salt", "caustic"}
    by_itself = any(pair <= with_implied(agents_within(part.solution, at.shelf)) for part in at.step.parts)
    if pair <= mine and not at.is_ammoniacal and not by_itself:
        return "Silver and caustic meet here with no ammonia: brown silver oxide falls."
    return ""


@caution("Work without minutes is missing in the timetable, in the price and in what is promised.")
def work_is_timed(at: _AtStep) -> str:
    step = at.step
    timed = step.dwell_minutes or step.minutes_per_load or step.minutes_per_pane or step.minutes_per_m2
    if timed or at.kind.applying:  # a step that is applied has a dwell: what decides is noted
        return ""
    if at.kind.makes_safe:
        return "Making safe has no minutes: it takes hands, and the clock runs until it is done."
    return "This step has a solution and no minutes." if step.parts else ""


@caution("A step that puts something on the glass puts on a solution.")
def what_is_put_on_is_named(at: _AtStep) -> str:
    if at.kind.leaves in _PUT_ON and not at.step.parts:
        return f"No solution is named for this step ({at.kind.label}): nothing is measured, costed or warned of."
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
    within, lying = ([met for met in found if not met.stops] for found in (at.within, at.onto_the_pane))
    if within:
        return "In one step " + " ".join(met.sentence for met in within)
    if lying:
        return "There is no full rinse between: " + " ".join(met.sentence for met in lying)
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


def _after(at: _AtStep) -> Surface:
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


def _carrying(at: _AtStep) -> Surface:
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
    harsh = _harshness_of(agents)
    return replace(pane, gentlest_agent=min(pane.gentlest_agent or harsh, harsh)) if harsh else pane


def _at_each_step(recipe: RecipeFacts, shelf: Shelf) -> Iterator[_AtStep]:
    """Walk a recipe: give each step with the pane as it is before it."""
    pane = Surface()
    for step in recipe.steps:
        at = _AtStep(recipe=recipe, step=step, before=pane, shelf=shelf)
        yield at
        pane = at.after


def walk(recipe: RecipeFacts, shelf: Shelf) -> list[Finding]:
    """Walk a recipe through its steps and return every rule that is broken, in the order of the steps."""
    pane = Surface()
    found: list[Finding] = []
    for at in _at_each_step(recipe, shelf):
        for rule in RULES:
            if sentence := rule.check(at):
                found.append(Finding(
                    rule=rule.name, step=at.step.number, sentence=sentence, reason=rule.reason, stops=rule.stops
                ))
        pane = at.after
    found += _owed_at_the_end(recipe, pane)
    if pane.silvered and not pane.sealed:
        found.append(Finding(
            rule="silver is sealed on the back", step=recipe.steps[-1].number, stops=False,
            sentence="The silver has no seal on its back.",
            reason="A clear seal goes on the back.",
        ))
    return found


def first_stop(recipe: RecipeFacts, shelf: Shelf) -> Finding | None:
    """Return the first stop that stands against a recipe; None where it is sound."""
    return next((finding for finding in walk(recipe, shelf) if finding.stops), None)


def _owed_at_the_end(recipe: RecipeFacts, pane: Surface) -> list[Finding]:
    """Return what ammoniacal silver still asks for when a recipe ends."""
    sentences = []
    if pane.ammoniacal:
        sentences.append("Ammoniacal silver is never fully rinsed off and its first water collected.")
    if pane.owes_making_safe:
        sentences.append("No step makes the ammoniacal silver safe: leftovers, first rinse, guns, trays and rags.")
    return [
        Finding(rule="ammoniacal silver is made safe", step=recipe.steps[-1].number, stops=True, sentence=sentence,
                reason="Ammoniacal silver turns explosive on standing and on drying: made safe in the same shift.")
        for sentence in sentences
    ]


class BenchRulesStop(DaybookError):
    """A recipe that may not be put in use."""

    def __init__(self, recipe: RecipeFacts, stops: list[Finding]) -> None:
        sentences = " ".join(f"Step {finding.step}: {finding.sentence}" for finding in stops)
        super().__init__(f"{recipe.finish}, version {recipe.version_number}, cannot be put in use. {sentences}")
        self.stops = stops


def holds_ammoniacal_silver(recipe: RecipeFacts, shelf: Shelf) -> bool:
    """Say whether ammoniacal silver is in a part of a recipe, or comes to be on its pane."""
    return any(at.is_ammoniacal for at in _at_each_step(recipe, shelf))


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
    for at_step in _at_each_step(recipe, shelf):
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


def refuse_stops(recipe: RecipeFacts, shelf: Shelf) -> list[Finding]:
    """Raise BenchRulesStop while a stop stands; return the cautions, which are acknowledged by name."""
    found = walk(recipe, shelf)
    stops = [finding for finding in found if finding.stops]
    if stops:
        raise BenchRulesStop(recipe, stops)
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
        place for place, at in enumerate(_at_each_step(recipe, shelf))
        if at.step.rinse_full and (at.before.ammoniacal or at.is_ammoniacal)
    ]
    return rinses[-1] if rinses else None
