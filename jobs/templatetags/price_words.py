"""Sentences about a price for templates: each is put together here from what the estimate found."""

from __future__ import annotations

from datetime import date as Date

from django import template
from django.template.defaultfilters import date

from jobs.drawings.price_pictures import Picture
from jobs.estimating.basis import Basis, BoughtInFacts, House
from jobs.estimating.cutting.plans import CuttingPlan
from jobs.estimating.glass import SheetUse
from jobs.estimating.go_ahead import GoAhead, WishedFor, wished_for
from jobs.estimating.mixes import Mix
from jobs.estimating.own_prices import LinePrice
from jobs.estimating.price import LineCost, Price
from jobs.estimating.silver import SilverBalance
from jobs.estimating.spoilage import PanesPlanned
from jobs.estimating.take_off import TakeOff
from jobs.quotes.price_sentences import MixRow
from studio.house.clock import today
from studio.house.templatetags.figures import amount, as_length, as_read, money, percent, size

register = template.Library()


def counted(number: int, noun: str) -> str:
    """Return “1 sheet” or “2 sheets”."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


@register.simple_tag
def wished_for_in_words(ready: GoAhead, due_on: Date | None) -> WishedFor | None:
    """Return how the day that a customer wishes for compares with what an order needs; the owner alone reads it."""
    return wished_for(due_on, today(), ready) if due_on is not None else None


@register.simple_tag
def sheets_in_words(use: SheetUse, basis: Basis, currency: str) -> str:
    """Return what the stock of one size costs: sheets, credit, kept offcuts, and how much of it becomes panes."""
    glass = basis.glasses[use.glass]
    sheets = f"{counted(use.sheets, 'sheet')} at {money(use.sheet_cost, currency)} ({glass.sheet_cost_source})"
    words = f"{glass.name}: {sheets}"
    if use.credit:
        words += f", less {money(use.credit, currency)} for offcuts"
    if use.kept_offcuts:
        word = "kept offcut" if len(use.kept_offcuts) == 1 else "kept offcuts"
        words += f", and {word} {', '.join(map(str, use.kept_offcuts))}"
        words += f" at {money(use.kept_cost, currency)}" if use.kept_cost else ""
    if use.plan:
        words += f"; {percent(use.used_share)} of it becomes panes"
    return words + "."


@register.simple_tag
def plan_in_words(plan: CuttingPlan, currency: str) -> str:
    """Return how good a cutting plan is known to be."""
    words = f"{plan.glass.name}: {counted(len(plan.sheets), 'piece')} of stock. "
    if plan.fewest_sheets is None:
        words += f"No plan needs less than {amount(plan.fewest_m2, 2)} m² of stock."
    elif plan.fewest_sheets == len(plan.sheets):
        words += "No plan needs fewer."
    else:
        words += f"No plan needs fewer than {plan.fewest_sheets}."
    if plan.first_cost > plan.cost:
        words += f" The first plan cost {money(plan.first_cost, currency)}; this one {money(plan.cost, currency)}."
    return words


@register.simple_tag
def mix_in_words(row: MixRow) -> str:
    """Return how often a mix is mixed, of what, how strong and for what: “2 × Silver part, for each load”."""
    often = f"{row.times} × " if row.times > 1 else ""
    strength = f", {amount(row.mix.strength, 6)} × strength" if row.mix.strength != 1 else ""
    return f"{often}{row.mix.solution.name}{strength}, for {row.served}"


@register.filter
def batches_in_words(mix: Mix) -> str:
    """Return how many batches of how much: “2 × 450 mL”."""
    often = f"{len(mix.batches)} × " if len(mix.batches) > 1 else ""
    return f"{often}{amount(mix.batches[0].volume_ml)} mL"


@register.simple_tag
def volume_in_words(row: MixRow, basis: Basis) -> str:
    """Return why a mix is as large as it is: what is needed, what it is rounded up to, the smallest batch."""
    words = f"Needed {amount(row.mix.needed_ml)} mL" + (" or so" if row.times > 1 else "")
    words += f", rounded up to {amount(basis.house.increment_ml)} mL"
    smallest = row.mix.solution.minimum_batch_ml
    return words + (f", at least {amount(smallest)} mL" if smallest else "")


@register.simple_tag
def bought_in_words(item: BoughtInFacts, currency: str) -> str:
    """Return a bought-in item with its cost, its own mark-up, when it is due and what it is needed before."""
    words = item.name + (f", line {item.line}" if item.line else "") + f": {money(item.cost, currency)}"
    if item.price is not None:
        words += f", sold at {money(item.price, currency)} with its own mark-up of {percent(item.markup_share)}"
    if item.due_on:
        words += f"; due {date(item.due_on, 'j M Y')}, needed before {item.needed_before}"
    elif item.days:
        words += f"; takes {counted(item.days, 'day')}, needed before {item.needed_before}"
    return words


@register.simple_tag
def rounding_in_words(price: Price, basis: Basis) -> str:
    """Return how a price was rounded up, by way of the minimum charge where that is more."""
    house = basis.house
    if price.before_rounding < house.minimum_charge:
        start = f"Raised to the minimum charge of {money(house.minimum_charge, house.currency)}, then rounded up"
    else:
        start = f"{money(price.before_rounding, house.currency, 4)}, rounded up"
    return f"{start} to a multiple of {money(house.price_step, house.currency)}."


@register.simple_tag
def own_price_in_words(line: LinePrice, currency: str) -> str:
    """Return a line's own price beside the worked-out one, and what it leaves: its margin, or that it is below cost."""
    words = f"Line {line.number}: own price {money(line.own_each, currency)} each; worked out "
    words += f"{money(line.worked_out_each, currency)} each. "
    return words + (margin_in_words(line, currency) if line.net else "Nothing is charged for it.")


@register.simple_tag
def margin_in_words(line: LinePrice, currency: str) -> str:
    """Return what a line's price leaves above its cost, or plainly that it is below cost."""
    if line.below_cost:
        short = money(line.cost_each - line.each, currency)
        return f"Below cost: it costs {money(line.cost_each, currency)} each, {short} more than its price."
    return f"It leaves a margin of {percent(line.margin_left)}; it costs {money(line.cost_each, currency)} each."


@register.simple_tag
def size_in_words(found: TakeOff, units: str) -> str:
    """Return from which opening a size came, if from one, and how the pane is cut."""
    line, words = found.line, ""
    if line.opening:
        opening = size(line.shape, found.opening_width_mm, found.opening_height_mm, units)
        finished = size(line.shape, line.width_mm, line.height_mm, units)
        words = f"Opening {opening}, joint {as_length(line.joint_mm, units)}; finished {finished}; "
    return words + f"Cut {size('rectangle', found.cut_width_mm, found.cut_height_mm, units)}."


@register.simple_tag
def rounded_up_to(house: House) -> str:
    """Return the name of the rounding in the price: “Rounded up to 5.00”."""
    return f"Rounded up to {money(house.price_step, house.currency)}"


@register.filter
def yield_in_words(plan: PanesPlanned) -> str:
    """Return where a line's yield comes from."""
    if plan.own_yield:
        return "Yield set by the owner."
    counts = f"Yield from runs: (good {plan.good} + 9) / (started {plan.started} + 10)."
    if plan.band is None:
        return counts
    up_to = f" and up to {amount(plan.band.up_to_m2)} m²" if plan.band.up_to_m2 else ""
    return f"Only panes over {amount(plan.band.over_m2)} m²{up_to} count. {counts}"


@register.filter
def spoilage_in_words(plan: PanesPlanned) -> str:
    """Return what is planned for spoilt panes."""
    if plan.plan == "spares":
        return f"Chance of enough good panes: {percent(plan.chance_met)}."
    return "Rework plan: spoilt panes are silvered again."


@register.simple_tag
def costs_in_words(cost: LineCost, currency: str) -> str:
    """Return a line's cost by kind; rework and bought-in items only where there are any."""
    words = (
        f"Chemistry {money(cost.chemistry, currency)}, glass {money(cost.glass, currency)}, "
        f"labour {money(cost.labour, currency)}, overhead {money(cost.overhead, currency)}"
    )
    words += f", rework {money(cost.rework, currency)}" if cost.rework else ""
    return words + (f", bought-in items {money(cost.bought_in, currency)}" if cost.bought_in else "") + "."


@register.simple_tag
def picture_in_words(picture: Picture, currency: str) -> str:
    """Return a picture of bars in words, for those who do not see it."""
    return f"{picture.title}: " + "; ".join(f"{bar.name} {money(bar.amount, currency)}" for bar in picture.bars)


@register.filter
def silver_rest(silver: SilverBalance) -> str:
    """Return where the silver is that is neither on glass nor in leftovers."""
    if silver.rest_g is None:
        return "the film would hold more than went in: the rest is unknown"
    return f"the rest, {as_read(silver.rest_g, 'g')}, is in rinses and residue, for the waste containers"
