"""The estimate in the order in which a person reads it: rows of words and figures for the price panel. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from jobs.drawings.price_pictures import Picture, pictures_of
from jobs.drawings.sheets import SheetDrawing, draw_sheet
from jobs.drawings.timeline import Timeline, draw_timeline
from jobs.estimating.carrying import LOCAL_CODES
from jobs.estimating.cutting.cut_list import sheet_to_cut
from jobs.estimating.estimate import Estimate
from jobs.estimating.mixes import Mix, unit_cost
from jobs.estimating.price_contents import PriceContents, price_contents
from studio.kit.rounding import decimal_string


@dataclass(frozen=True, kw_only=True)
class MaterialRow:
    name: str
    amount: Fraction
    unit: str
    unit_cost: Fraction
    source: str
    cost: Fraction


@dataclass(frozen=True, kw_only=True)
class MixRow:
    """A kind of mix made `times` times alike."""

    mix: Mix
    times: int
    served: str


@dataclass(frozen=True, kw_only=True)
class PriceSentences:
    """What the price panel shows beside the estimate itself."""

    estimate: Estimate
    preference: str
    chemistry: Fraction
    labour: Fraction
    overhead: Fraction
    glass: Fraction
    bought_in: Fraction
    rework: Fraction
    lines: list[tuple[object, ...]]
    local_codes: str = LOCAL_CODES

    @cached_property
    def timeline(self) -> Timeline:
        return draw_timeline(self.estimate.timetable, {
            recipe.key: recipe.finish for recipe in self.estimate.basis.line_recipes()
        })

    @cached_property
    def materials(self) -> list[MaterialRow]:
        return _materials(self.estimate)

    @cached_property
    def mixes(self) -> list[MixRow]:
        return _mixes(self.estimate)

    @cached_property
    def drawings(self) -> list[SheetDrawing]:
        """Return the cutting plan, sheet by sheet."""
        return [
            draw_sheet(sheet_to_cut(sheet), sheet.width_mm, sheet.height_mm, self.preference)
            for use in self.estimate.glass.sheets for sheet in use.plan
        ]

    @property
    def panes(self) -> int:
        """Return how many panes are ordered."""
        return sum(line.quantity for line in self.estimate.basis.lines)

    @property
    def glass_kg(self) -> Fraction:
        return sum((crate.glass_kg for crate in self.estimate.carrying.crates), Fraction(0))

    @property
    def has_own_markups(self) -> bool:
        return any(item.price is not None for item in self.estimate.basis.bought_in)

    @cached_property
    def pictures(self) -> list[Picture]:
        return pictures_of(self.estimate, self.contents)

    @cached_property
    def contents(self) -> PriceContents:
        """Return what is in the price: worked out several times over, so only when somebody looks."""
        return price_contents(self.estimate)

    @property
    def margin(self) -> Fraction:
        return self.estimate.price.before_rounding - self.estimate.price.cost

    @property
    def where_it_goes(self) -> list[tuple[str, Fraction, str]]:
        """Return what the net is made of: name, money, and its share of the largest in hundredths, for a bar."""
        price = self.estimate.price
        rows = [(name, amount) for name, amount in (
            ("Chemistry", self.chemistry), ("Glass", self.glass), ("Labour", self.labour),
            ("Overhead", self.overhead), ("Bought in", self.bought_in), ("Rework", self.rework),
        ) if amount]
        rows.append(("Margin and rounding", price.price - price.own_prices_change - price.cost))
        rows += [(name, amount) for name, amount in (
            ("Own prices", price.own_prices_change), ("Discount", -price.discount)) if amount]
        most = max([amount for _, amount in rows] + [Fraction(1)])
        return [(name, amount, decimal_string(max(amount, Fraction(0)) / most * 100, 1)) for name, amount in rows]

    @property
    def rounding(self) -> Fraction:
        price = self.estimate.price
        return price.price - price.own_prices_change - price.before_rounding


def price_sentences(estimate: Estimate, preference: str = "metric") -> PriceSentences:
    """Return the rows that explain an estimate's price; sizes in drawings in the studio's units."""
    costs = estimate.costs

    def total(name: str) -> Fraction:
        return sum((getattr(cost, name) for cost in costs), Fraction(0))

    return PriceSentences(
        estimate=estimate, preference=preference, chemistry=total("chemistry"),
        labour=total("labour"), overhead=total("overhead"), glass=total("glass"), bought_in=total("bought_in"),
        rework=total("rework"),
        lines=[
            (size, estimate.panes[size.line.number], cost, estimate.labour[size.line.number], line_price,
             estimate.basis.recipes[size.line.recipe], estimate.basis.glasses[size.line.glass])
            for size, cost, line_price in zip(estimate.sizes, costs, estimate.price.line_prices, strict=True)
        ],
    )


def _materials(estimate: Estimate) -> list[MaterialRow]:
    rows = []
    for key, amount in estimate.amounts.items():
        material = estimate.basis.shelf.materials[key]
        cost = unit_cost(material)
        source = material.unit_cost_source
        if material.unit_cost_date is not None:
            source += f", {material.unit_cost_date:%d %b %Y}"
        rows.append(MaterialRow(
            name=material.name, amount=amount, unit=material.stock_unit, unit_cost=cost, source=source,
            cost=amount * cost,
        ))
    return sorted(rows, key=lambda row: -row.cost)


def _mixes(estimate: Estimate) -> list[MixRow]:
    """Group mixes that are alike in solution, strength, purpose and volume."""
    alike: dict[tuple[object, ...], list[Mix]] = {}
    for mix in estimate.mixes:
        key = (mix.solution.key, mix.strength, mix.mixed_for, mix.recipe, mix.step, mix.batches[0].volume_ml,
               len(mix.batches))
        alike.setdefault(key, []).append(mix)
    words = {"pane": "each pane", "load": "each load", "loads": "several loads", "job": "the whole job",
             "batch": "another mix"}
    return [
        MixRow(mix=group[0], times=len(group), served=words[group[0].mixed_for]) for group in alike.values()
    ]
