"""The work ticket's content, as plain values: panes, cut list, loads, mixes with lots, steps. Pure: no Django.

Nothing here carries a price: a ticket goes to a helper.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from jobs.estimating.basis import HoleFacts
from jobs.estimating.cutting.cut_list import TicketSheet, sheet_to_cut
from jobs.estimating.estimate import Estimate
from jobs.estimating.loads import Load, Pane
from jobs.estimating.matching import groups_of
from jobs.estimating.mixes import Batch, Mix
from jobs.estimating.take_off import wetted_area_m2
from jobs.estimating.timetable import Timetable
from jobs.work.together import Together
from recipes.chemistry.mixing import HardToMeasure, as_tools_read, hard_in_mix
from recipes.facts import RecipeFacts, SolutionFacts, StepFacts
from recipes.facts import Shelf as Facts
from recipes.finishes.volumes import pane_volume_ml
from recipes.solutions.rules import hazards_within, own_cautions, shared_for_minutes
from studio.kit.rounding import as_decimal
from studio.stockroom.hazards.classes import is_ammoniacal_silver
from studio.stockroom.picking import LotOnShelf, Pick, Shelf, picking_order


@dataclass(frozen=True, kw_only=True)
class TicketPane:
    label: str
    line: int
    finish: str
    recipe: str
    shape: str
    width_mm: Fraction
    height_mm: Fraction
    area_m2: Fraction
    glass: str
    route: str
    edge: str
    backing: str
    kg: Fraction
    match_group: str
    spare: bool
    note: str
    place: str = ""
    cut_width_mm: Fraction | None = None
    cut_height_mm: Fraction | None = None
    holes: list[HoleFacts] = field(default_factory=list)

    @property
    def is_cut_larger(self) -> bool:
        return bool(self.cut_width_mm) and self.cut_width_mm != self.width_mm


@dataclass(frozen=True, kw_only=True)
class TicketGlass:
    """Whole sheets of one glass to take, from which lots, and how they are cut."""

    code: str
    name: str
    sheets: int
    sheet_width_mm: Fraction
    sheet_height_mm: Fraction
    plan: list[TicketSheet]
    picks: list[Pick]
    short: Decimal


@dataclass(frozen=True, kw_only=True)
class TicketIngredient:
    """A measured ingredient; code is that of a material, or "" for a solution mixed on this ticket.

    solution_key: code and version of that solution. Tickets of before held none, only its name.
    amount: as it was worked out; to_read: as the balance or the vessel reads; hard: what helps one that they do not
    read well. Tickets of before hold neither.
    """

    number: int
    code: str
    name: str
    amount: Decimal
    unit: str
    make_up: bool
    instruction: str
    end_point: str
    picks: list[Pick]
    short: Decimal
    solution_key: str = ""
    to_read: Decimal | None = None
    hard: HardToMeasure | None = None

    @property
    def to_measure(self) -> Decimal:
        """Return the amount that stands on the ticket."""
        return self.amount if self.to_read is None else self.to_read


@dataclass(frozen=True, kw_only=True)
class TicketMix:
    """One batch to make. key names it on the bench, m3b1 being batch 1 of mix 3.

    solution: its name as printed; solution_key: code and version, which no renaming changes. Tickets of before held no
    key: `with_solution_keys` gives it to them.
    """

    key: str
    solution: str
    version: int
    strength: Fraction
    volume_ml: Fraction
    batch: int
    batches: int
    mixed_for: str
    recipe: str
    step: int | None
    load: int | None
    pane: str
    inside: str
    keeps: bool
    works_at_once: bool
    ammoniacal: bool
    reject_if: str
    cautions: str
    agents: list[str]
    ingredients: list[TicketIngredient]
    solution_key: str = ""
    #: hazard statements of what is in it; tickets of before hold none
    statements: list[str] = field(default_factory=list)
    #: it holds something besides water
    chemical: bool = True
    #: what each of the loads that share it needs, in mL, in order; load is the one that it is mixed with
    shared_ml: dict[int, Fraction] = field(default_factory=dict)
    #: how long loads may take of it from the beginning of mixing, where several share it
    works_for_minutes: Fraction | None = None
    #: made once for this job and another; its amounts are then this job's share. Tickets of before hold none
    together: Together | None = None

    def serves(self, load: int) -> bool:
        """Say whether a load of its recipe takes of it: the one it is mixed with, and those that share it."""
        return load == self.load or load in self.shared_ml

    @property
    def last_load(self) -> int | None:
        return max(self.shared_ml, default=self.load)


@dataclass(frozen=True, kw_only=True)
class TicketPart:
    solution: str
    strength: Fraction
    share: Fraction
    mixed_for: str
    #: code and version, which no renaming changes; tickets of before hold none
    solution_key: str = ""


@dataclass(frozen=True, kw_only=True)
class TicketStep:
    number: int
    kind: str
    name: str
    how: str
    coats: int
    parts: list[TicketPart]
    volume_per_load_ml: dict[str, Fraction]
    dwell_minutes: Fraction
    attended: bool
    motion: str
    pane_lies: str
    drying: str
    rinse_full: bool
    rinse_water: str
    surface_before: str
    hands: str
    temperature_low_c: Fraction | None
    temperature_high_c: Fraction | None
    instructions: str
    looks_good: str
    cautions: str
    agents: list[str]
    #: tickets printed before it was written down say it in their instructions
    rinse_collected: bool = False
    #: by load and pane, without the load's loss; tickets of before hold none
    volume_per_pane_ml: dict[str, dict[str, Fraction]] = field(default_factory=dict)
    #: hazard statements of what it puts on; tickets of before hold none
    statements: list[str] = field(default_factory=list)
    #: its parts hold something besides water
    chemical: bool = True
    #: its dwell is for each pane; tickets of before say it by what is mixed pane by pane
    dwells_by_pane: bool = False
    #: what it treats of a face: all of it, a rim, or the share that corners and masks are
    zone: str = "whole"
    rim_width_mm: Fraction = Fraction(0)
    zone_share: Fraction = Fraction(0)


@dataclass(frozen=True, kw_only=True)
class TicketLoad:
    number: int
    panes: list[str]
    oversize_method: str
    no_layout_found: bool


@dataclass(frozen=True, kw_only=True)
class TicketRecipe:
    key: str
    finish: str
    version: int
    loads: list[TicketLoad]
    steps: list[TicketStep]


@dataclass(frozen=True, kw_only=True)
class TicketCrate:
    number: int
    panes: dict[str, int]
    gross_kg: Fraction


@dataclass(frozen=True, kw_only=True)
class TicketMatch:
    """Neighbours: what hangs where, and why they cannot match wholly, if they cannot."""

    name: str
    panes: list[tuple[str, str]]
    apart_because: list[str]


@dataclass(frozen=True, kw_only=True)
class TicketPlan:
    made_on: date
    panes: list[TicketPane]
    glass: list[TicketGlass]
    recipes: list[TicketRecipe]
    mixes: list[TicketMix]
    warnings: list[str]
    timetable: Timetable | None = None
    crates: list[TicketCrate] = field(default_factory=list)
    carrying_cautions: list[str] = field(default_factory=list)
    match_groups: list[TicketMatch] = field(default_factory=list)

    @property
    def loads_by_anchor(self) -> dict[str, tuple[TicketRecipe, TicketLoad]]:
        """Return every load with its recipe, by its name on the ticket, at the bench and in records: r1l2."""
        return {load_anchor(at, load.number): (recipe, load)
                for at, recipe in enumerate(self.recipes, start=1) for load in recipe.loads}


def load_anchor(recipe_at: int, load: int) -> str:
    """Return the name of a load of a ticket's recipe_at-th recipe, from 1."""
    return f"r{recipe_at}l{load}"


def plan_ticket(estimate: Estimate, lots: Mapping[str, Sequence[LotOnShelf]], day: date) -> TicketPlan:
    """Turn an estimate into what a helper needs, with the lots to take each amount from.

    lots: what stands on the shelf, by material code. Picks follow one another, so that the
    ticket's amounts empty a lot before they open the next.
    """
    shelves = {code: Shelf(_of_one_lot(estimate, code, mine, day), day) for code, mine in lots.items()}
    mixes = [
        _mix(mix, batch, estimate, shelves) for mix in _bench_order(estimate.mixes) for batch in mix.batches
    ]
    glass = _glass(estimate, shelves)
    return TicketPlan(
        made_on=day, panes=_panes(estimate), glass=glass, recipes=_recipes(estimate), mixes=mixes,
        warnings=[warning.sentence for warning in estimate.warnings], timetable=estimate.timetable,
        crates=[
            TicketCrate(number=crate.number, panes={str(line): count for line, count in crate.panes.items()},
                        gross_kg=crate.gross_kg)
            for crate in estimate.carrying.crates
        ],
        carrying_cautions=[caution.sentence for caution in estimate.carrying.cautions],
        match_groups=_matches(estimate, glass),
    )


def _of_one_lot(estimate: Estimate, code: str, lots: Sequence[LotOnShelf], day: date) -> list[LotOnShelf]:
    """Return the lots to pick from: where neighbours are to match, one that serves the whole job, if one does."""
    if not groups_of(estimate.basis):
        return list(lots)
    sheets = sum(use.sheets for use in estimate.glass.sheets if use.glass == code)
    needed = as_decimal(estimate.amounts.get(code, Fraction(0)) + sheets, 3)
    whole = [lot for lot in picking_order(lots) if lot.usable_on(day) and lot.on_hand >= needed]
    return whole[:1] or list(lots)


def _matches(estimate: Estimate, glass: Sequence[TicketGlass]) -> list[TicketMatch]:
    """Return each match group with its panes by place, and what keeps it from one load, one lot or one recipe."""
    found = []
    lots = {use.code: [pick.lot_number for pick in use.picks] for use in glass}
    for name, lines in groups_of(estimate.basis).items():
        numbers = {line.number for line in lines}
        loads = [load for mine in estimate.loads.values() for load in mine
                 if any(pane.line_number in numbers for pane in load.panes)]
        apart = [warning.sentence for warning in estimate.warnings if warning.about_a_group and warning.subject == name]
        if len(loads) > 1 and not apart:
            apart.append(f"Match group {name} is worked in {len(loads)} loads: compare them wet and dry as they go.")
        for code in dict.fromkeys(line.glass for line in lines if line.route == "sheet"):
            if len(lots.get(code, [])) > 1:
                apart.append(f"Its glass comes from {len(lots[code])} lots, {', '.join(lots[code])}: lay them side by "
                             "side on white paper before cutting.")
        found.append(TicketMatch(
            name=name, apart_because=apart,
            panes=[(line.place or "not said", f"{line.number}.{copy}")
                   for line in lines for copy in range(1, line.quantity + 1)],
        ))
    return found


def _bench_order(mixes: Sequence[Mix]) -> list[Mix]:
    """Return mixes in the order of the work: what keeps first, then load by load; nested before their parents."""
    children: dict[int, list[Mix]] = {}
    for mix in mixes:
        if mix.parent_mix is not None:
            children.setdefault(mix.parent_mix, []).append(mix)
    ordered: list[Mix] = []

    def add(mix: Mix) -> None:
        for child in children.get(mix.number, []):
            add(child)
        ordered.append(mix)

    tops = [mix for mix in mixes if mix.parent_mix is None]
    for_job = [mix for mix in reversed(tops) if mix.mixed_for == "job"]
    others = [mix for mix in tops if mix.mixed_for != "job"]
    for mix in for_job + sorted(others, key=_of_the_hand):
        add(mix)
    return ordered


def _of_the_hand(mix: Mix) -> tuple[object, ...]:
    """Sort by load and step; what loads share stands before what it may go into."""
    return mix.recipe, mix.load or 0, mix.step or 0, not mix.shared, -mix.number if mix.shared else 0


def _take(shelves: dict[str, Shelf], code: str, amount: Decimal) -> tuple[list[Pick], Decimal]:
    if amount <= 0:
        return [], Decimal(0)
    return shelves[code].take(amount) if code in shelves else ([], amount)


def _mix(mix: Mix, batch: Batch, estimate: Estimate, shelves: dict[str, Shelf]) -> TicketMix:
    hazards = hazards_within([mix.solution.key], estimate.basis.shelf)
    cautions = [mix.solution.cautions, *own_cautions(mix.solution.key, estimate.basis.shelf)]
    readability_g = estimate.basis.house.balance_readability_g
    ingredients = []
    for measured in batch.ingredients:
        code, amount = measured.ingredient.material or "", as_decimal(measured.amount, 3)
        picks, short = _take(shelves, code, amount) if code else ([], Decimal(0))
        ingredients.append(TicketIngredient(
            number=measured.ingredient.number, code=code, name=measured.name, amount=amount, unit=measured.unit,
            make_up=measured.ingredient.make_up, instruction=measured.ingredient.instruction,
            end_point=measured.ingredient.end_point, picks=picks, short=short,
            solution_key=measured.ingredient.solution or "",
            to_read=as_decimal(as_tools_read(measured.amount, measured.unit, readability_g), 3),
            hard=hard_in_mix(measured, batch.volume_ml, readability_g),
        ))
    return TicketMix(
        key=f"m{mix.number}b{batch.number}", solution=mix.solution.name, version=mix.solution.version_number,
        strength=mix.strength, volume_ml=batch.volume_ml, batch=batch.number, batches=len(mix.batches),
        mixed_for=mix.mixed_for, recipe=mix.recipe, step=mix.step, load=mix.load, pane=mix.pane,
        inside=f"m{mix.parent_mix}" if mix.parent_mix else "", keeps=mix.solution.keeps,
        works_at_once=mix.solution.works_at_once, ammoniacal=is_ammoniacal_silver(hazards.agents),
        reject_if=mix.solution.reject_if, cautions=" ".join(filter(None, cautions)),
        agents=sorted(hazards.agents), statements=sorted(hazards.statements), chemical=hazards.chemical,
        ingredients=ingredients, solution_key=mix.solution.key,
        shared_ml={share.load: share.needed_ml for share in mix.shared},
        works_for_minutes=shared_for_minutes(mix.solution, estimate.basis.shelf) if len(mix.shared) > 1 else None,
    )


def is_of(part: TicketPart, mix: TicketMix) -> bool:
    """Say whether a part of a step is the solution of a mix: the same version; by name alone on tickets of before."""
    if part.solution_key and mix.solution_key:
        return part.solution_key == mix.solution_key
    return part.solution == mix.solution


def with_solution_keys(plan: TicketPlan, solutions: Mapping[str, SolutionFacts]) -> TicketPlan:
    """Return a plan whose mixes all name their solution by key, found by the name and version that they do hold.

    solutions: those of the quote that the ticket was planned from, by key, as frozen: their names are of that day.
    """
    keys = {(solution.name, solution.version_number): key for key, solution in solutions.items()}
    return replace(plan, mixes=[
        mix if mix.solution_key else replace(mix, solution_key=keys.get((mix.solution, mix.version), ""))
        for mix in plan.mixes
    ])


def _panes(estimate: Estimate) -> list[TicketPane]:
    panes = []
    for size in estimate.sizes:
        line = size.line
        recipe = estimate.basis.recipes[line.recipe]
        for copy in range(1, estimate.panes[line.number].panes_to_start + 1):
            panes.append(TicketPane(
                label=Pane(size=size, copy=copy).label, line=line.number, finish=recipe.finish, recipe=recipe.key,
                shape=line.shape, width_mm=line.width_mm, height_mm=line.height_mm, area_m2=size.area_m2,
                glass=estimate.basis.glasses[line.glass].name, route=line.route, edge=line.edge, backing=line.backing,
                kg=size.pane_kg,
                match_group=line.match_group, spare=copy > line.quantity, note=line.note, place=line.place,
                cut_width_mm=size.cut_width_mm, cut_height_mm=size.cut_height_mm, holes=list(line.holes),
            ))
    return panes


def _glass(estimate: Estimate, shelves: dict[str, Shelf]) -> list[TicketGlass]:
    found = []
    for use in estimate.glass.sheets:
        glass = estimate.basis.glasses[use.glass]
        picks, short = _take(shelves, use.glass, Decimal(use.sheets))
        found.append(TicketGlass(
            code=use.glass, name=glass.name, sheets=use.sheets, sheet_width_mm=glass.sheet_width_mm or Fraction(0),
            sheet_height_mm=glass.sheet_height_mm or Fraction(0), picks=picks, short=short,
            plan=[
                sheet_to_cut(sheet) for sheet in use.plan
            ],
        ))
    return found


def _recipes(estimate: Estimate) -> list[TicketRecipe]:
    volumes = {(use.recipe, use.step, use.load): use.volume_ml for use in estimate.applied}
    return [
        TicketRecipe(
            key=recipe.key, finish=recipe.finish, version=recipe.version_number,
            loads=[_load(load) for load in estimate.loads[recipe.key]],
            steps=[
                replace(
                    step_of(step, estimate.basis.shelf, {
                        str(load.number): volumes[recipe.key, step.number, load.number]
                        for load in estimate.loads[recipe.key] if (recipe.key, step.number, load.number) in volumes
                    }),
                    volume_per_pane_ml=_by_pane(step, estimate.loads[recipe.key]),
                )
                for step in _in_order(recipe, estimate.timetable)
            ],
        )
        for recipe in estimate.basis.line_recipes()
    ]


def _by_pane(step: StepFacts, loads: Sequence[Load]) -> dict[str, dict[str, Fraction]]:
    """Return what a step puts on each pane of each load, in mL."""
    if not step.parts:
        return {}
    return {
        str(load.number): {pane.label: pane_volume_ml(step, wetted_area_m2(pane.size, step)) for pane in load.panes}
        for load in loads
    }


def _in_order(recipe: RecipeFacts, timetable: Timetable) -> list[StepFacts]:
    """Return a recipe's steps in the order in which its timetable has them: a quote of before keeps its own."""
    order = [step.step for load in timetable.loads if load.recipe == recipe.key for step in load.steps
             if not step.only_mixing]
    return sorted(recipe.steps, key=lambda step: order.index(step.number) if step.number in order else len(order))


def _load(load: Load) -> TicketLoad:
    return TicketLoad(
        number=load.number, panes=[pane.label for pane in load.panes], oversize_method=load.oversize_method,
        no_layout_found=load.no_layout_found,
    )


def step_of(step: StepFacts, facts: Facts, volumes: dict[str, Fraction]) -> TicketStep:
    whole = sum((part.parts for part in step.parts), Fraction(0))
    hazards = hazards_within([part.solution for part in step.parts], facts)
    return TicketStep(
        number=step.number, kind=step.kind, name=step.name, how=step.how, coats=int(step.coats),
        parts=[
            TicketPart(solution=facts.solutions[part.solution].name, strength=part.strength,
                       share=part.parts / whole, mixed_for=part.mixed_for, solution_key=part.solution)
            for part in step.parts
        ],
        volume_per_load_ml=volumes, dwell_minutes=step.dwell_minutes, attended=step.attended, motion=step.motion,
        pane_lies=step.pane_lies, drying=step.drying, rinse_full=step.rinse_full,
        rinse_collected=step.rinse_collected, rinse_water=step.rinse_water,
        surface_before=step.surface_before, hands=step.hands, temperature_low_c=step.temperature_low_c,
        temperature_high_c=step.temperature_high_c, instructions=step.instructions, looks_good=step.looks_good,
        cautions=step.cautions,
        agents=sorted(hazards.agents), statements=sorted(hazards.statements), chemical=hazards.chemical,
        dwells_by_pane=step.dwells_by_pane, zone=step.zone, rim_width_mm=step.rim_width_mm, zone_share=step.zone_share,
    )
