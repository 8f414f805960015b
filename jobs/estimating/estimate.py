"""The whole estimate: every stage in the order of the data, from a basis to the price.

Formulas and sources stand in the modules of the stages. Here costs are charged to lines (`line_costs`): chemistry by
started area n·A within its recipe version; bought-in items of the whole order by started area over all lines; rework
(1/y − 1)·(chemistry + bench labour and overhead + g·(glass + cutting and edges)), y the yield, g the glass lost, bench
labour that of the steps and of mixing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from jobs.estimating.basis import Basis
from jobs.estimating.carrying import Carrying, carrying
from jobs.estimating.cutting.looked_over import Cutting
from jobs.estimating.cutting.plans import plan_cutting
from jobs.estimating.glass import GlassCost, glass_cost, unpriced_glasses
from jobs.estimating.go_ahead import GoAhead, go_ahead
from jobs.estimating.holes import check_holes, hole_warnings
from jobs.estimating.labour import LineLabour, line_labour
from jobs.estimating.loads import Load, plan_loads
from jobs.estimating.matching import matching_warnings
from jobs.estimating.mixes import Mix, amounts_by_material, chemistry_by_recipe, refuse_unpriced
from jobs.estimating.own_prices import LinePrice, line_prices, with_own_prices
from jobs.estimating.price import LineCost, Price, line_shares, price_up
from jobs.estimating.promise import Promise, promise
from jobs.estimating.refusals import EstimateError, EstimateWarning, warn
from jobs.estimating.sharing import plan_shared_mixes
from jobs.estimating.silver import SilverBalance, silver_balance
from jobs.estimating.spoilage import PanesPlanned, plan_panes
from jobs.estimating.take_off import TakeOff, take_off
from jobs.estimating.timetable import Timetable, mixing_of, timetable
from jobs.estimating.volumes import Applied, Need, applied_volumes
from recipes.facts import RecipeFacts
from recipes.finishes.bench_rules import in_bench_order

#: The version of the arithmetic: raised with every change by which the same basis may come to another figure.
#: A frozen plan says which one it was worked out by; only one of today's is compared with a fresh estimate.
ARITHMETIC = 3


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """Every figure of an order. Lines are keyed by line number, recipes by their key."""

    basis: Basis
    sizes: tuple[TakeOff, ...]
    panes: dict[int, PanesPlanned]
    loads: dict[str, tuple[Load, ...]]
    applied: tuple[Applied, ...]
    needs: tuple[Need, ...]
    mixes: tuple[Mix, ...]
    amounts: dict[str, Fraction]
    glass: GlassCost
    labour: dict[int, LineLabour]
    costs: tuple[LineCost, ...]
    price: Price
    silver: SilverBalance
    warnings: tuple[EstimateWarning, ...]
    carrying: Carrying

    @cached_property
    def timetable(self) -> Timetable:
        """Return when each load starts; worked out when somebody looks."""
        house = self.basis.house
        recipes = in_order_of_the_bench(self.basis)
        return timetable(recipes, self.loads, house.hands, house.benches, mixing_of(self.mixes, house))

    @property
    def promise(self) -> Promise:
        """Return the days until delivery, if work begins on the day of the estimate."""
        return promise(self.basis, self.before_bench_minutes, self.timetable.finish_minutes)

    @property
    def go_ahead(self) -> GoAhead:
        """Return how many working days after go-ahead it is ready: what screens and papers say."""
        return go_ahead(self.basis, self.before_bench_minutes, self.timetable.finish_minutes)

    @property
    def before_bench_minutes(self) -> Fraction:
        cutting = sum((labour.cutting_and_edges.total for labour in self.labour.values()), Fraction(0))
        return self.basis.house.setup_minutes + cutting

    @property
    def subject_to_sample(self) -> list[RecipeFacts]:
        """Return the recipes that this studio has not tried to its liking: quoted subject to an approved sample."""
        return [recipe for recipe in self.basis.line_recipes() if recipe.subject_to_sample]

    @property
    def started_m2(self) -> dict[int, Fraction]:
        return {size.line.number: size.area_m2 * self.panes[size.line.number].panes_to_start for size in self.sizes}

    @property
    def line_prices(self) -> list[LinePrice]:
        """Return what each line comes to, with the price of its own where it has one."""
        return line_prices(self.price, self.basis.lines, self.costs)

    @property
    def minutes(self) -> Fraction:
        return sum((labour.all.total for labour in self.labour.values()), Fraction(0))

    @property
    def chance_all_met(self) -> Fraction:
        """Return the chance that every line has enough good panes in one go."""
        chance = Fraction(1)
        for plan in self.panes.values():
            chance *= plan.chance_met
        return chance


def in_order_of_the_bench(basis: Basis) -> list[RecipeFacts]:
    """Return the recipes of an order with their steps as the bench does them."""
    return [in_bench_order(recipe, basis.shelf) for recipe in basis.line_recipes()]


def estimate_basis(basis: Basis, cutting: Cutting = plan_cutting) -> Estimate:
    """Work out every figure of an order.

    cutting: gives the plan of each glass; those of before, looked over, are `looked_over.cut_as`.
    Raises EstimateError, MixError or SolutionCycle: a sentence for the person who entered it.
    """
    if not basis.lines:
        raise EstimateError("no lines")
    for line in basis.lines:
        check_holes(line)
    sizes = tuple(take_off(line, basis.edges[line.edge], basis.glasses[line.glass]) for line in basis.lines)
    panes = {
        size.line.number: plan_panes(size.line, basis.recipes[size.line.recipe], basis.house, size.area_m2)
        for size in sizes
    }
    started = {number: plan.panes_to_start for number, plan in panes.items()}
    loads, warnings = _loads(basis, sizes, started)
    applied, needs = [], []
    for recipe in basis.line_recipes():
        more_applied, more_needs = applied_volumes(recipe, loads[recipe.key])
        applied += more_applied
        needs += more_needs
    mixes = plan_shared_mixes(needs, in_order_of_the_bench(basis), loads, basis.shelf, basis.house)
    refuse_unpriced(mixes, unpriced_glasses(basis), basis.shelf)
    warnings += not_measurable(mixes)
    warnings += matching_warnings(basis)
    warnings += hole_warnings(basis)
    warnings += rim_warnings(basis)
    glass = glass_cost(basis, sizes, started, cutting)
    labour = line_labour(basis, sizes, loads, started, mixes)
    costs = line_costs(basis, sizes, panes, chemistry_by_recipe(mixes, basis.shelf), glass, labour)
    weights = [size.area_m2 * started[size.line.number] for size in sizes]
    worked_out = price_up(costs, weights, basis.house, basis.discount)
    shares = line_shares(costs, weights)
    return Estimate(
        basis=basis, sizes=sizes, panes=panes, loads=loads, applied=tuple(applied), needs=tuple(needs),
        mixes=tuple(mixes), amounts=amounts_by_material(mixes), glass=glass, labour=labour, costs=costs,
        price=with_own_prices(worked_out, basis.lines, shares, basis.house, basis.discount),
        silver=silver_balance(basis, mixes, sizes, panes), warnings=tuple(warnings),
        carrying=carrying(sizes, basis.house),
    )


def rim_warnings(basis: Basis) -> list[EstimateWarning]:
    """Return a warning for every rim of a shape of which only the bounding rectangle is known."""
    return [
        warn("rim of another shape", line.name, line=line.number, step=str(step.number))
        for line in basis.lines if line.shape == "other"
        for step in basis.recipes[line.recipe].steps if step.zone == "rim"
    ]


def not_measurable(mixes: Sequence[Mix]) -> list[EstimateWarning]:
    """Return a warning for every ingredient whose amount above zero rounds to nothing."""
    return list(dict.fromkeys(
        warn("not measurable", measured.name, solution=mix.solution.name, unit=measured.unit)
        for mix in mixes for measured in mix.batches[0].ingredients if measured.not_measurable
    ))


def _loads(
    basis: Basis, sizes: Sequence[TakeOff], started: Mapping[int, int]
) -> tuple[dict[str, tuple[Load, ...]], list[EstimateWarning]]:
    loads: dict[str, tuple[Load, ...]] = {}
    warnings: list[EstimateWarning] = []
    for recipe in basis.line_recipes():
        of_recipe = [(size, started[size.line.number]) for size in sizes if size.line.recipe == recipe.key]
        plan = plan_loads(recipe.key, of_recipe, basis.house, recipe.finish)
        loads[recipe.key] = plan.loads
        warnings += plan.warnings
    return loads, warnings


def line_costs(
    basis: Basis, sizes: Sequence[TakeOff], panes: Mapping[int, PanesPlanned], chemistry: Mapping[str, Fraction],
    glass: GlassCost, labour: Mapping[int, LineLabour],
) -> tuple[LineCost, ...]:
    """Charge every cost to its line, rework included."""
    house = basis.house
    started_m2 = {size.line.number: size.area_m2 * panes[size.line.number].panes_to_start for size in sizes}
    all_m2 = sum(started_m2.values(), Fraction(0))
    for_all = sum((item.cost for item in basis.bought_in if item.line is None), Fraction(0))
    costs = []
    for size in sizes:
        number, recipe = size.line.number, size.line.recipe
        recipe_m2 = sum((started_m2[line.number] for line in basis.lines_of(recipe)), Fraction(0))
        line_minutes, plan = labour[number], panes[number]
        chemistry_cost = chemistry.get(recipe, Fraction(0)) * started_m2[number] / recipe_m2
        rework = Fraction(0)
        if plan.plan == "rework":
            bench, edges = line_minutes.bench, line_minutes.cutting_and_edges
            glass_again = glass.by_line[number] + edges.pay(house) + edges.overhead(house)
            once_more = chemistry_cost + bench.pay(house) + bench.overhead(house)
            rework = (1 / plan.yield_share - 1) * (once_more + house.glass_loss_share * glass_again)
        share = started_m2[number] / all_m2
        own = sum((item.cost for item in basis.bought_in if item.line == number), Fraction(0))
        own_markups = [
            (item.cost, item.price, Fraction(1) if item.line == number else share) for item in basis.bought_in
            if item.price is not None and item.line in (number, None)
        ]
        costs.append(LineCost(
            number=number, chemistry=chemistry_cost, labour=line_minutes.all.pay(house),
            overhead=line_minutes.all.overhead(house), glass=glass.by_line[number],
            bought_in=own + for_all * share, rework=rework,
            own_markup_cost=sum((cost * part for cost, _, part in own_markups), Fraction(0)),
            own_markup_price=sum(((price or 0) * part for _, price, part in own_markups), Fraction(0)),
        ))
    return tuple(costs)
