"""The stops: what keeps a recipe out of use. To add one: a function under `@stop`, with the reason. Pure: no Django."""

from __future__ import annotations

from recipes.chemistry.mixing import MixError, check_strength, is_liquid
from recipes.facts import IngredientFacts, Shelf, SolutionFacts
from recipes.finishes.bench_rules.pane import AtStep
from recipes.finishes.bench_rules.rules import BenchRule, adding_to
from recipes.solutions.rules import findings as solution_findings
from recipes.solutions.rules import unclassed_within
from studio.stockroom.hazards.pairs import UNKNOWN

#: what must not dry or be sealed in on a pane
_HARMS_DRYING = frozenset({"ammonia", "caustic", "acid", "acid_reacting", "hypochlorite", "permanganate", "peroxide",
                           "oxidiser", "oxidiser_mild", "nitrite", "fluoride"})
#: what must not dry in the very step that puts it on: a mist of weak acid that dries where it lies is practised
_HARMS_ITS_OWN_DRYING = frozenset({"acid_strong", "oxidising_acid", "caustic", "hypochlorite", "permanganate"})

STOPS: list[BenchRule] = []
stop = adding_to(STOPS, stops=True)


@stop("Grease and dust keep the sensitiser and the silver off the glass.")
def cleaning_comes_first(at: AtStep) -> str:
    if at.kind.applying and not at.before.clean:
        return "The pane is not cleaned before this step."
    return ""


@stop("Sensitiser left on the glass clouds the silver or spoils the bath.")
def sensitiser_is_rinsed_off(at: AtStep) -> str:
    if at.kind.leaves == "silvered" and "sensitised" in at.before.unrinsed_leaves:
        return "The sensitiser is not fully rinsed off before the silver."
    return ""


@stop("Ammoniacal silver residue that dries can explode.")
def silver_is_rinsed_before_drying_or_antiquing(at: AtStep) -> str:
    silvers = at.kind.leaves == "silvered"
    if (at.kind.needs_rinsed_silver or at.step.drying) and not silvers and "silvered" in at.before.unrinsed_leaves:
        return "The silver is not fully rinsed: ammoniacal residue would dry on the pane."
    if silvers and at.step.drying:
        return "The silver step dries before a full rinse: ammoniacal residue would dry on the pane."
    return ""


@stop("An antiquing concentrate is always diluted.")
def concentrate_is_diluted(at: AtStep) -> str:
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
def used_at_once_is_not_kept(at: AtStep) -> str:
    for part, solution in zip(at.step.parts, at.solutions, strict=True):
        if part.mixed_for == "job" and not solution.keeps:
            return f"{solution.name} is used at once: mix it for a load or a pane, not for the whole job."
        if solution.works_at_once and part.mixed_for != "pane":
            return f"{solution.name} works at once: mix it for one pane only."
    return ""


@stop("Loads share a mix within the time that it works.")
def what_is_shared_has_a_working_time(at: AtStep) -> str:
    for part, solution in zip(at.step.parts, at.solutions, strict=True):
        if part.mixed_for == "loads" and solution.working_minutes is None:
            return f"{solution.name} has no working time: give it one, or mix it for each load."
    return ""


@stop("A solution that breaks a rule of its own cannot be used.")
def solutions_are_sound(at: AtStep) -> str:
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
def endangering_pairs_are_rinsed_apart(at: AtStep) -> str:
    for met in at.onto_the_pane:
        if met.stops:
            return f"There is no full rinse between: {met.sentence}"
    return ""


@stop("The parts of one step meet on the pane, in the gun or in the tray.")
def parts_of_a_step_may_meet(at: AtStep) -> str:
    for met in at.within:
        if met.stops:
            return f"In one step {met.sentence}"
    return ""


@stop("Unknown is not safe.")
def everything_is_classed(at: AtStep) -> str:
    names = dict.fromkeys(name for part in at.step.parts for name in unclassed_within(part.solution, at.shelf))
    if names:
        return (f"{', '.join(names)}: nobody has said what it reacts as, or that its data sheet was read and none "
                "apply.")
    return ""


@stop("What dries or is sealed in works on, burns whoever handles it, or explodes.")
def nothing_harmful_dries_on(at: AtStep) -> str:
    rinsed_first = at.step.rinse_full and not at.kind.dries  # no rinse reaches what already lies under a seal
    if not at.dries or rinsed_first or silver_is_rinsed_before_drying_or_antiquing(at):
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
def ammoniacal_silver_is_collected(at: AtStep) -> str:
    if (at.before.ammoniacal or at.is_ammoniacal) and at.rinses and not at.step.rinse_collected:
        return "The first water off ammoniacal silver is not collected in this rinse."
    return ""


@stop("Making safe waits for nothing: ammoniacal silver turns explosive on standing.")
def made_safe_before_the_seal(at: AtStep) -> str:
    if at.kind.leaves == "sealed" and at.before.owes_making_safe:
        return "The ammoniacal silver is not made safe before this: that stands straight after the silver's rinse."
    return ""


@stop("Ammoniacal silver turns explosive on standing.")
def ammoniacal_silver_does_not_stand(at: AtStep) -> str:
    limit = at.shelf.ammoniacal_limit_minutes
    if at.ammoniacal_minutes > limit:
        return f"Ammoniacal silver would stand longer than {limit} minutes, the studio's limit."
    return ""


STANDS_TOO_LONG = STOPS[-1].name


@stop("Fluoride burns are treated differently from any other: trained first aid only.")
def fluoride_is_for_the_owner(at: AtStep) -> str:
    if "fluoride" in at.agents and at.step.hands != "owner":
        return "This step uses a fluoride: it is for the owner alone, with trained first aid at hand."
    return ""
