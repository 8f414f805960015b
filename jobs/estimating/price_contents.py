"""What is in a price, and how it changes with silver, quantity and spoilage.

Formula: every what-if is the whole estimate with one input changed; the cost band is cost at the 10th and 90th
percentile of spoilt panes, Binomial(n, 1 − y), line by line. Source: any statistical handbook.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from fractions import Fraction
from math import comb
from typing import Any

from jobs.estimating.basis import Basis, Nesting
from jobs.estimating.estimate import Estimate, estimate_basis
from jobs.estimating.price import LineCost
from jobs.estimating.spoilage import PanesPlanned
from recipes.chemistry.mixing import HardToMeasure, hard_in_mix
from recipes.facts import Shelf
from studio.kit.errors import DaybookError
from studio.kit.rounding import decimal_string as text

STALE_AFTER = timedelta(days=180)
QUANTITY_FACTORS = (Fraction(1, 2), Fraction(2), Fraction(5), Fraction(10))
SILVER_RISE = Fraction(11, 10)
SILVER_FACTORS = (Fraction(3, 4), Fraction(5, 4), Fraction(3, 2), Fraction(2))


@dataclass(frozen=True, kw_only=True)
class TooLittle:
    """An ingredient of a mix that the studio's tools do not read well, and what would help."""

    solution: str
    ingredient: str
    amount: Fraction
    unit: str
    hard: HardToMeasure

    def as_output(self) -> dict[str, Any]:
        if self.hard.stock is None:
            return {"solution": self.solution, "ingredient": self.ingredient, "amount_ml": text(self.amount),
                    "larger_mix_ml": text(self.hard.larger_ml)}
        return {"solution": self.solution, "ingredient": self.ingredient, "amount_g": text(self.amount),
                "larger_mix_ml": text(self.hard.larger_ml),
                "stock_solution_g_per_l": text(self.hard.stock.grams_per_litre),
                "stock_solution_ml": text(self.hard.stock.measured_ml)}


@dataclass(frozen=True, kw_only=True)
class PriceContents:
    silver_rise_price: Fraction | None
    prices_by_factor: dict[str, Fraction | None]
    stale_costs: tuple[str, ...]
    drafts: tuple[str, ...]
    too_little: tuple[TooLittle, ...]
    never_tried: tuple[str, ...]
    keep_too_short: tuple[str, ...]
    clock_minutes: Fraction
    band_low: Fraction
    band_high: Fraction
    prices_by_silver: dict[str, Fraction | None]

    def as_output(self) -> dict[str, Any]:
        return {
            "price_with_silver_10_percent_dearer": None if self.silver_rise_price is None
            else text(self.silver_rise_price),
            "price_by_silver_factor": {
                factor: None if price is None else text(price) for factor, price in self.prices_by_silver.items()
            },
            "price_by_quantity_factor": {
                factor: None if price is None else text(price) for factor, price in self.prices_by_factor.items()
            },
            "unit_costs_older_than_180_days": list(self.stale_costs),
            "draft_recipes": list(self.drafts),
            "never_tried": list(self.never_tried), "mixes_that_keep_less_than_the_job": list(self.keep_too_short),
            "clock_minutes": text(self.clock_minutes),
            "cost_band_p10": text(self.band_low), "cost_band_p90": text(self.band_high),
            "too_little_to_weigh": [one.as_output() for one in self.too_little if one.hard.stock is not None],
            "too_little_to_pour": [one.as_output() for one in self.too_little if one.hard.stock is None],
        }


def price_contents(estimate: Estimate) -> PriceContents:
    """Work out what is in a price: each figure is the estimate again with one input changed."""
    basis = estimate.basis
    low, high = cost_band(estimate)
    return PriceContents(
        silver_rise_price=_net_or_none(_with_silver_at(basis, SILVER_RISE)),
        prices_by_silver={
            text(factor): _net_or_none(_with_silver_at(basis, factor)) for factor in SILVER_FACTORS
        } if estimate.silver.into_job_g else {},
        prices_by_factor={
            text(factor): _net_or_none(_with_quantity(basis, factor)) for factor in QUANTITY_FACTORS
        },
        stale_costs=_stale(basis, estimate), drafts=tuple(
            f"{recipe.finish}, version {recipe.version_number}" for recipe in basis.line_recipes() if not recipe.in_use
        ),
        too_little=_too_little(estimate), never_tried=_never_tried(estimate),
        keep_too_short=_keep_too_short(estimate), clock_minutes=clock_minutes(estimate), band_low=low, band_high=high,
    )


def _net_or_none(basis: Basis) -> Fraction | None:
    try:
        return estimate_basis(basis).price.net
    except DaybookError:  # at that quantity the order cannot be made: shown as such, not as a price
        return None


def _with_silver_at(basis: Basis, factor: Fraction) -> Basis:
    materials = {
        key: replace(material, unit_cost=material.unit_cost * factor)
        if material.silver_g_per_unit > 0 and material.unit_cost is not None else material
        for key, material in basis.shelf.materials.items()
    }
    return replace(basis, shelf=Shelf(materials=materials, solutions=basis.shelf.solutions))


def _with_quantity(basis: Basis, factor: Fraction) -> Basis:
    # four further plans of up to ten times the panes: one that is a little dearer than need be will do
    nesting: Nesting = "quick patterns" if basis.nesting == "patterns" else basis.nesting
    return replace(basis, nesting=nesting, lines=tuple(
        replace(line, quantity=max((line.quantity * factor).__ceil__(), 1), own_panes_to_start=None)
        for line in basis.lines
    ))


def _stale(basis: Basis, estimate: Estimate) -> tuple[str, ...]:
    oldest = basis.as_of - STALE_AFTER
    dated = [
        (material.name, material.unit_cost_source, material.unit_cost_date)
        for material in (basis.shelf.materials[key] for key in estimate.amounts)
    ]
    dated += [
        (glass.name, glass.sheet_cost_source, glass.sheet_cost_date)
        for glass in (basis.glasses[use.glass] for use in estimate.glass.sheets)
    ]
    return tuple(f"{name}: {source}, {on:%d %b %Y}" for name, source, on in dated if on is not None and on < oldest)


def _too_little(estimate: Estimate) -> tuple[TooLittle, ...]:
    """Return what the tools do not read well, each ingredient of a solution once: in the smallest mix of it."""
    found: dict[tuple[str, str], TooLittle] = {}
    for mix in estimate.mixes:
        for batch in mix.batches:
            for measured in batch.ingredients:
                hard = hard_in_mix(measured, batch.volume_ml, estimate.basis.house.balance_readability_g)
                named = (mix.solution.name, measured.name)
                if hard is not None and (named not in found or measured.amount < found[named].amount):
                    found[named] = TooLittle(
                        solution=mix.solution.name, ingredient=measured.name, amount=measured.amount,
                        unit=measured.unit, hard=hard,
                    )
    return tuple(found.values())


def _never_tried(estimate: Estimate) -> tuple[str, ...]:
    """Say what of this order goes beyond all that was made well of its finish so far."""
    found = []
    for recipe in estimate.basis.line_recipes():
        sizes = [size for size in estimate.sizes if size.line.recipe == recipe.key]
        if recipe.started == 0:
            found.append(f"{recipe.finish} has never been run: nobody knows yet how it comes out.")
            continue
        largest, panes = max(size.area_m2 for size in sizes), sum(size.line.quantity for size in sizes)
        if largest > recipe.largest_good_m2:
            found.append(
                f"{recipe.finish}: the largest pane here is {text(largest, 3)} m², the largest made well so far "
                f"{text(recipe.largest_good_m2, 3)} m². Ridges, drying lines and edges do not scale by calculation."
            )
        if panes > recipe.most_good_in_a_run:
            found.append(f"{recipe.finish}: {panes} pane{'' if panes == 1 else 's'} here, at most "
                         f"{recipe.most_good_in_a_run} in one run so far.")
    return tuple(found)


def clock_minutes(estimate: Estimate) -> Fraction:
    """Return the job's time with one pair of hands: all labour, and dwell that nobody attends, load by load."""
    waiting = Fraction(0)
    for recipe in estimate.basis.line_recipes():
        waiting += sum((step.all_dwell_minutes(len(load.panes)) for load in estimate.loads[recipe.key]
                        for step in recipe.steps if not step.attended), Fraction(0))
    return estimate.minutes + waiting


def _keep_too_short(estimate: Estimate) -> tuple[str, ...]:
    clock = clock_minutes(estimate)
    return tuple(dict.fromkeys(
        mix.solution.name for mix in estimate.mixes
        if mix.mixed_for == "job" and mix.solution.keeps_minutes is not None and mix.solution.keeps_minutes < clock
    ))


def spoilt_at_least(started: int, yield_share: Fraction, chance: Fraction) -> int:
    """Return the smallest k with P(Binomial(started, 1 − y) ≤ k) ≥ chance."""
    so_far = Fraction(0)
    for spoilt in range(started + 1):
        so_far += comb(started, spoilt) * (1 - yield_share) ** spoilt * yield_share ** (started - spoilt)
        if so_far >= chance:
            return spoilt
    return started


def cost_band(estimate: Estimate) -> tuple[Fraction, Fraction]:
    """Return the cost at p10 and p90 of spoilt panes, line by line.

    rework: the cost with that many reworks; spares: the cost of the good panes then missing.
    """
    low = high = Fraction(0)
    for cost in estimate.costs:
        plan = estimate.panes[cost.number]
        once = cost.total - cost.rework
        low += once + _extra(estimate, plan, cost, Fraction(1, 10))
        high += once + _extra(estimate, plan, cost, Fraction(9, 10))
    return low, high


def _extra(estimate: Estimate, plan: PanesPlanned, cost: LineCost, chance: Fraction) -> Fraction:
    labour, house = estimate.labour[cost.number], estimate.basis.house
    quantity = next(line.quantity for line in estimate.basis.lines if line.number == cost.number)
    spoilt = spoilt_at_least(plan.panes_to_start, plan.yield_share, chance)
    edges = labour.cutting_and_edges
    steps = cost.chemistry + labour.bench.pay(house) + labour.bench.overhead(house)
    glass = cost.glass + edges.pay(house) + edges.overhead(house)
    if plan.plan == "rework":
        return (steps + house.glass_loss_share * glass) * spoilt / plan.panes_to_start
    missing = max(quantity - (plan.panes_to_start - spoilt), 0)
    return (steps + glass) * missing / plan.panes_to_start
