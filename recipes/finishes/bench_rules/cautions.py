"""The cautions, acknowledged by name. To add one: a function under `@caution`, with the reason. Pure: no Django."""

from __future__ import annotations

from recipes.finishes.bench_rules.pane import AtStep, harshness_of
from recipes.finishes.bench_rules.rules import BenchRule, adding_to
from recipes.solutions.rules import agents_within, own_cautions
from studio.stockroom.hazards.classes import with_implied

#: what a step leaves a pane as by putting a solution on it
_PUT_ON = frozenset({"sensitised", "silvered", "antiqued", "sealed"})

CAUTIONS: list[BenchRule] = []
caution = adding_to(CAUTIONS, stops=False)


@caution("Some classic poured formulas silver unsensitised glass; most do not hold on it.")
def silver_goes_on_sensitised_glass(at: AtStep) -> str:
    if at.kind.leaves == "silvered" and not at.before.sensitised:
        return "The glass is not sensitised before the silver."
    return ""


@caution("Harsher agents come before gentler ones.")
def harsher_antiquing_comes_first(at: AtStep) -> str:
    if at.kind.leaves != "antiqued":
        return ""
    by_number = at.before.gentlest_antiquing and at.step.harshness > at.before.gentlest_antiquing
    by_agent = at.before.gentlest_agent and harshness_of(at.agents) > at.before.gentlest_agent
    if by_number or by_agent:
        return "A harsher antiquing follows a gentler one: the gentle effect would be lost."
    return ""


@caution("Resists before silver are practised; antiquing what is not there yet is usually a slip.")
def antiquing_comes_after_silver(at: AtStep) -> str:
    if at.kind.leaves == "antiqued" and not at.before.silvered:
        return "The pane is antiqued before it is silvered."
    return ""


@caution("Silvering beside sealed gilding is practised; over a sealed mirror it is usually a slip.")
def silvering_comes_before_sealing(at: AtStep) -> str:
    if at.kind.leaves == "silvered" and at.before.sealed:
        return "The pane is silvered after it was sealed."
    return ""


@caution("What is left under a seal goes on working.")
def antiquing_is_rinsed_before_sealing(at: AtStep) -> str:
    if at.kind.leaves == "sealed" and "antiqued" in at.before.unrinsed_leaves:
        return "The antiquing is not fully rinsed off before the seal."
    return ""


@caution("What took silver off holds it: its first water goes to the silver-bearing waste.")
def silver_that_comes_off_is_collected(at: AtStep) -> str:
    coming_off = at.before.silver_coming_off or at.takes_silver_off
    if coming_off and at.rinses and not at.step.rinse_collected:
        return "The antiquing took silver off, and the first water of this rinse is not collected."
    return ""


@caution("The water off a silver bath holds silver: it goes to the silver-bearing waste, not down the sink.")
def silver_rinse_is_collected(at: AtStep) -> str:
    silver = at.before.silver_salt or (at.is_plain_silver and not at.before.ammoniacal)
    if silver and at.rinses and not at.step.rinse_collected:
        return "The first water off the silver is not collected in this rinse."
    return ""


@caution("What a solution itself warns of matters to whoever mixes it.")
def cautions_of_its_solutions_are_known(at: AtStep) -> str:
    return " ".join(dict.fromkeys(
        sentence for part in at.step.parts for sentence in own_cautions(part.solution, at.shelf)
    ))


@caution("Caustic throws brown oxide out of silver that no ammonia holds.")
def silver_and_caustic_have_ammonia(at: AtStep) -> str:
    mine = with_implied(at.agents)
    pair = {"silver_salt", "caustic"}
    by_itself = any(pair <= with_implied(agents_within(part.solution, at.shelf)) for part in at.step.parts)
    if pair <= mine and not at.is_ammoniacal and not by_itself:
        return "Silver and caustic meet here with no ammonia: brown silver oxide falls."
    return ""


@caution("Work without minutes is missing in the timetable, in the price and in what is promised.")
def work_is_timed(at: AtStep) -> str:
    step = at.step
    timed = step.dwell_minutes or step.minutes_per_load or step.minutes_per_pane or step.minutes_per_m2
    if timed or at.kind.applying:  # a step that is applied has a dwell: what decides is noted
        return ""
    if at.kind.makes_safe:
        return "Making safe has no minutes: it takes hands, and the clock runs until it is done."
    return "This step has a solution and no minutes." if step.parts else ""


@caution("A step that puts something on the glass puts on a solution.")
def what_is_put_on_is_named(at: AtStep) -> str:
    if at.kind.leaves in _PUT_ON and not at.step.parts:
        return f"No solution is named for this step ({at.kind.label}): nothing is measured, costed or warned of."
    return ""


@caution("What tap water carries spoils sensitiser and silver in ways that cannot be repeated.")
def distilled_water_controls_the_result(at: AtStep) -> str:
    between = at.before.sensitised and not at.before.silvered
    if at.kind.leaves == "rinsed" and between and at.step.rinse_water == "tap":
        return "Tap water rinses the sensitised glass: use distilled for the last rinse before the silver."
    return ""


@caution("A flaw that is sealed in cannot be corrected.")
def inspected_before_sealing(at: AtStep) -> str:
    if at.kind.leaves == "sealed" and not at.before.sealed and not at.before.inspected_since_work:
        return "The pane is not inspected before it is sealed."
    return ""


@caution("One solution left on the pane spoils the next.")
def solutions_are_rinsed_apart(at: AtStep) -> str:
    mine = frozenset(part.solution for part in at.step.parts)
    if at.kind.applying and mine and at.before.unrinsed_solutions - mine:
        names = ", ".join(sorted(at.shelf.solutions[key].name for key in at.before.unrinsed_solutions - mine))
        return f"{names} is still on the pane."
    return ""


@caution("Some agents are only safe together when dilute, or with care.")
def cautioned_pairs_are_known(at: AtStep) -> str:
    within, lying = ([met for met in found if not met.stops] for found in (at.within, at.onto_the_pane))
    if within:
        return "In one step " + " ".join(met.sentence for met in within)
    if lying:
        return "There is no full rinse between: " + " ".join(met.sentence for met in lying)
    return ""


@caution("On dry silver an agent acts one way, on wet silver another.")
def surface_is_as_wanted(at: AtStep) -> str:
    wanted = at.step.surface_before
    if wanted == "wet" and not at.before.wet:
        return "This step needs a wet surface, and the pane is dry before it."
    if wanted == "dry" and at.before.wet:
        return "This step needs a dry surface, and the pane is still wet before it."
    return ""


@caution("What is not written down cannot be repeated.")
def what_decides_is_noted(at: AtStep) -> str:
    if at.kind.applying and at.step.dwell_minutes == 0:
        return "The dwell time is missing."
    if at.kind.applying and not at.step.how:
        return "How it is applied is missing."
    return ""
