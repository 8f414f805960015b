"""Rules of a single solution: never stored, how long it keeps, endangering pairs, what cannot be mixed. Pure.

A solution that holds ammoniacal silver, at any depth, is used at once: no keeping
time, no mixing ahead, no place on the shelf, whoever asks. What nobody has read
the data sheet of is unknown, and unknown does not keep either.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from recipes.chemistry.mixing import (
    MixError,
    SolutionCycle,
    liquids_off_a_litre,
    materials_within,
    measure_batch,
    walk_solutions,
)
from recipes.facts import IngredientFacts, MaterialFacts, Shelf, SolutionFacts
from studio.kit.errors import DaybookError
from studio.kit.keeping_times import lasting
from studio.kit.rounding import decimal_string
from studio.stockroom.hazards.classes import UNCLASSED, is_ammoniacal_silver, with_implied
from studio.stockroom.hazards.meeting import Met, Thing, meet
from studio.stockroom.hazards.pairs import UNKNOWN

#: g/mL, for a liquid whose density nobody gave: heavier than any of the trade (sulfuric acid 1.84)
_HEAVIEST_LIQUID = Fraction(2)


class NeverStored(DaybookError):
    """A solution with a silver salt and ammonia that would be kept."""

    def __init__(self, solution: str) -> None:
        super().__init__(
            f"{solution} holds ammoniacal silver (a silver salt and ammonia): it is used at once, never stored and "
            "never mixed ahead. On standing or drying it can form explosive silver nitride. No role can override this.",
            "keeps_minutes",
        )


@dataclass(frozen=True, kw_only=True)
class SolutionFinding:
    """Something wrong with a solution. A stop refuses it; a caution is shown. pair: by name, one that meets in it.

    by_truth: it may come of what was entered about a material after the solution was written.
    """

    solution: str
    sentence: str
    stops: bool
    pair: str = ""
    by_truth: bool = False


@dataclass(frozen=True, kw_only=True)
class Hazards:
    """What solutions react as, `unclassed` among it, and their hazard statements. chemical: not only water."""

    agents: frozenset[str] = frozenset()
    statements: frozenset[str] = frozenset()
    chemical: bool = False


def hazards_within(solutions: Iterable[str], shelf: Shelf) -> Hazards:
    """Return the hazards of everything in some solutions together, at any depth."""
    materials = [material for solution in solutions for material in materials_within(solution, shelf)]
    unclassed = {UNCLASSED for material in materials if material.unclassed}
    return Hazards(
        agents=frozenset(agent for material in materials for agent in material.reacts_as) | unclassed,
        statements=frozenset(code for material in materials for code in material.statements),
        chemical=any(not material.only_water for material in materials),
    )


def agents_within(solution: str, shelf: Shelf) -> frozenset[str]:
    """Return what everything in a solution reacts as, at any depth."""
    return frozenset(agent for material in materials_within(solution, shelf) for agent in material.reacts_as)


def things_within(solution: str, shelf: Shelf, strength: Fraction = Fraction(1)) -> tuple[Thing, ...]:
    """Return the materials of a solution as things that meet, at any depth, each with the largest share it has.

    strength: of the solution itself; what is nested is mixed at strength 1. Shares are of the solution that a material
    stands in, by volume, and by mass of the pure substance, taking a litre as a kilogram (water is what fills it).
    """
    found: dict[str, Thing] = {}
    for key in walk_solutions([solution], shelf):
        try:
            own = strength if key == solution else Fraction(1)
            litre = measure_batch(shelf.solutions[key], Fraction(1000), own, shelf)
            amounts = {measured.ingredient.number: measured.amount for measured in litre}
        except MixError:  # it cannot be mixed, or not be told how much: its shares are unknown
            amounts = {}
        for ingredient in shelf.solutions[key].ingredients:
            if ingredient.material is not None:
                material = shelf.materials[ingredient.material]
                thing = _thing(material, amounts.get(ingredient.number))
                found[material.key] = thing.larger_of(found.get(material.key, thing))
    return tuple(found.values())


def _thing(material: MaterialFacts, per_litre: Fraction | None) -> Thing:
    by_volume = by_mass = None
    if per_litre is not None:
        density = material.density_g_per_ml
        millilitres = per_litre if material.stock_unit == "mL" else per_litre / density if density else None
        grams = per_litre if material.stock_unit == "g" else per_litre * (density or _HEAVIEST_LIQUID)
        by_volume = millilitres / 1000 if material.liquid and millilitres is not None else None
        by_mass = grams / 1000 * (material.assay_share or 1)
    return Thing(
        name=material.name, classes=material.reacts_as | ({UNCLASSED} if material.unclassed else set()),
        of_silvering=material.of_silvering, by_volume=by_volume, by_mass=by_mass,
    )


def unclassed_within(solution: str, shelf: Shelf) -> list[str]:
    """Return the names of materials in a solution, at any depth, that are neither classed nor read."""
    return list(dict.fromkeys(m.name for m in materials_within(solution, shelf) if m.unclassed))


def is_never_stored(solution: str, shelf: Shelf) -> bool:
    return is_ammoniacal_silver(agents_within(solution, shelf))


def shared_for_minutes(solution: SolutionFacts, shelf: Shelf) -> Fraction | None:
    """Return how long after the beginning of its mixing a solution may be used by further loads; None: not at all.

    Of ammoniacal silver never longer than it may stand in the studio.
    """
    if solution.working_minutes is None or solution.works_at_once:
        return None
    limit = Fraction(shelf.ammoniacal_limit_minutes)
    return min(solution.working_minutes, limit) if is_never_stored(solution.key, shelf) else solution.working_minutes


def check_may_be_stored(solution: SolutionFacts, shelf: Shelf) -> None:
    """Raise NeverStored when a solution that must be used at once has a keeping time or is put on the shelf."""
    if is_never_stored(solution.key, shelf):
        raise NeverStored(solution.name)


def findings(solution: SolutionFacts, shelf: Shelf) -> list[SolutionFinding]:
    """Return what is wrong with a solution, stops first."""
    try:
        walk_solutions([solution.key], shelf)
        agents = agents_within(solution.key, shelf)
    except SolutionCycle as cycle:
        return [SolutionFinding(solution=solution.name, sentence=str(cycle), stops=True)]
    found = [
        SolutionFinding(
            solution=solution.name, sentence=met.sentence, pair=met.pair.name,
            by_truth=True,
            # what nobody has read may be written down and tried; it may not be kept
            stops=solution.keeps if met.pair is UNKNOWN else met.stops or (solution.keeps and _makes_fulminate(met)),
        )
        for met in meet(things_within(solution.key, shelf), "solution")
    ]
    if solution.keeps and is_ammoniacal_silver(agents):
        found.append(SolutionFinding(
            solution=solution.name, sentence=str(NeverStored(solution.name)), stops=True, by_truth=True))
    found += _ending_on_caustic(solution, shelf)
    found += _caustic_without_ammonia(solution, shelf)
    found += _water_first(solution, shelf)
    found += _keeping(solution, shelf)
    found += _litre(solution, shelf)
    return sorted(found, key=lambda finding: not finding.stops)


def _makes_fulminate(met: Met) -> bool:
    return met.pair.name == "silver salt, alcohol and nitric acid"


def _classes_of(ingredient: IngredientFacts, shelf: Shelf) -> frozenset[str]:
    if ingredient.solution is not None:
        return with_implied(agents_within(ingredient.solution, shelf))
    return with_implied(shelf.materials[ingredient.material or ""].reacts_as)


def _ending_on_caustic(solution: SolutionFacts, shelf: Shelf) -> list[SolutionFinding]:
    """Ammonia comes after the caustic: caustic brings down again what the ammonia had cleared.

    With 12 g/L silver nitrate, 14 mL/L of 28 % ammonia and 4 g/L sodium hydroxide the ion product is 3 to 6 times that
    of silver oxide (1.95 × 10⁻⁸, log K 12.58 of WATEQ4F; stability of the ammine 1.7 × 10⁷); some 19 mL clear it.
    """
    if not is_ammoniacal_silver(agents_within(solution.key, shelf)):
        return []
    caustic = ammonia = 0
    for at, ingredient in enumerate(solution.ingredients, start=1):
        classes = _classes_of(ingredient, shelf)
        caustic = at if "caustic" in classes else caustic
        ammonia = at if "ammonia" in classes else ammonia
    if not ammonia or caustic <= ammonia:
        return []
    return [SolutionFinding(
        solution=solution.name, stops=False,
        sentence=f"{solution.name} ends on caustic with no ammonia after it: brown silver oxide falls again. Add "
                 "ammonia once more, drop by drop, until it is nearly clear.",
    )]


def _caustic_without_ammonia(solution: SolutionFacts, shelf: Shelf) -> list[SolutionFinding]:
    """Caustic throws brown oxide out of a silver salt where no ammonia holds it in solution (general chemistry)."""
    classes = with_implied(agents_within(solution.key, shelf))
    if not {"silver_salt", "caustic"} <= classes or is_ammoniacal_silver(classes):
        return []
    return [SolutionFinding(
        solution=solution.name, stops=False,
        sentence=f"{solution.name} holds silver and caustic and no ammonia: brown silver oxide falls, and "
                 "the bath is spoilt.",
    )]


def own_cautions(solution: str, shelf: Shelf) -> list[str]:
    """Return what a solution, and what is nested in it, warns whoever mixes it of: not what meets, nor what stops."""
    try:
        keys = walk_solutions([solution], shelf)
    except SolutionCycle:
        return []
    said = [found.sentence for key in reversed(keys) for found in findings(shelf.solutions[key], shelf)
            if not found.stops and not found.pair]
    return list(dict.fromkeys(said))


def _water_first(solution: SolutionFacts, shelf: Shelf) -> list[SolutionFinding]:
    """Strong acid and solid caustic go into water; tin(II) chloride is wetted with its hydrochloric acid first.

    NIOSH Pocket Guide to Chemical Hazards, incompatibilities.
    """
    there = frozenset(cls for ingredient in solution.ingredients for cls in _classes_of(ingredient, shelf))
    tin = "tin_salt" in there
    seen_water = False
    for ingredient in solution.ingredients:
        classes = _classes_of(ingredient, shelf)
        if _is_water(ingredient, classes, shelf):
            seen_water = True
            continue
        wetted = tin and "hydrochloric" in classes
        if not seen_water and (("acid_strong" in classes and not wetted) or "caustic_solid" in classes):
            name = shelf.materials[ingredient.material].name if ingredient.material else \
                shelf.solutions[ingredient.solution or ""].name
            return [SolutionFinding(
                solution=solution.name, stops=False,
                sentence=f"{name} goes into water, never water into {name}: put water before it in the order.",
            )]
    return []


def _is_water(ingredient: IngredientFacts, classes: frozenset[str], shelf: Shelf) -> bool:
    """A nested solution of which more than half is water, and a liquid without a class of its own, count as water."""
    if ingredient.solution is not None:
        others = [thing.by_mass for thing in things_within(ingredient.solution, shelf) if not _is_only_water(thing)]
        return sum((Fraction(1) if share is None else share for share in others), Fraction(0)) < Fraction(1, 2)
    material = shelf.materials[ingredient.material or ""]
    return "water" in classes or (material.liquid and not material.reacts_as and not material.unclassed)


def _is_only_water(thing: Thing) -> bool:
    return thing.all_classes <= {"water"}


def _keeping(solution: SolutionFacts, shelf: Shelf) -> list[SolutionFinding]:
    """A solution keeps no longer than the shortest-keeping solution in it, unless its author says why."""
    if solution.keeps_minutes is None:
        return []
    for ingredient in solution.ingredients:
        nested = shelf.solutions[ingredient.solution] if ingredient.solution else None
        if nested is None:
            continue
        if nested.keeps_minutes is None:
            return [SolutionFinding(
                solution=solution.name, stops=True,
                sentence=f"{solution.name} has a keeping time, but {nested.name} in it is used at once.",
            )]
        if solution.keeps_minutes > nested.keeps_minutes and not solution.longer_keeping_reason:
            return [SolutionFinding(
                solution=solution.name, stops=True,
                sentence=f"{solution.name} keeps longer than {nested.name} in it: write why, or shorten it.",
            )]
    return []


def discard_at(
    solution: SolutionFacts, shelf: Shelf, made_at: datetime, taken_from: Iterable[datetime | None] = ()
) -> datetime | None:
    """Return the minute from which a mix is not used: made + ready after + keeps; None for one that is used at once.

    taken_from: until when the older mixes that went into it are used. None of them, nor a solution nested in it that
    was mixed with it, is outlived, unless its author wrote why it keeps longer.
    """
    if solution.keeps_minutes is None:
        return None
    ends = [_ends(solution, made_at)]
    if not solution.longer_keeping_reason:
        ends += [_ends(shelf.solutions[key], made_at) for key in walk_solutions([solution.key], shelf)
                 if shelf.solutions[key].keeps]
        ends += [moment for moment in taken_from if moment is not None]
    return min(ends)


def _ends(solution: SolutionFacts, made_at: datetime) -> datetime:
    minutes = solution.ready_after_minutes + (solution.keeps_minutes or 0)
    return made_at + lasting(minutes)


def _litre(solution: SolutionFacts, shelf: Shelf) -> list[SolutionFinding]:
    try:
        total = liquids_off_a_litre(solution, shelf)
    except MixError as unknown:  # it can still be mixed by weight
        return [SolutionFinding(solution=solution.name, sentence=str(unknown), stops=False)]
    if total is None:
        return []
    return [SolutionFinding(
        solution=solution.name, stops=False,
        sentence=f"The liquids in one litre of {solution.name} add up to {decimal_string(total, 1)} mL.",
    )]


def unpriced_within(solution: str, shelf: Shelf) -> tuple[str, ...]:
    """Return the names of materials in a solution, at any depth, that have neither a lot nor a list price."""
    materials = materials_within(solution, shelf)
    return tuple(dict.fromkeys(material.name for material in materials if material.unit_cost is None))
