"""What a quote freezes of an order: its estimate, and each choice of it where a customer may choose."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from jobs.choices import Choice, choices_of, chosen
from jobs.draft import OrderDraft
from jobs.estimating.estimate import Estimate
from jobs.estimating.output import as_output
from jobs.estimating.price_contents import price_contents
from jobs.frozen import freeze
from jobs.models import Order
from jobs.quotes.frozen_plan import freeze_plan
from jobs.quotes.pricing import price_order
from jobs.quotes.wording import wording_of
from recipes.facts import RecipeFacts
from recipes.finishes.in_doubt import refuse_doubts
from studio.exact import MONEY_DECIMALS
from studio.house.models import House
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal

SUMS = ("net", "tax", "total", "deposit")


class QuoteError(DaybookError):
    """The quote cannot be made, or cannot go to that state."""


class NotInUse(QuoteError):
    """Some recipe versions of the order are not in use."""

    def __init__(self, recipes: Sequence[RecipeFacts]) -> None:
        named = ", ".join(f"{recipe.finish} {recipe.version_number}" for recipe in recipes)
        super().__init__("Only a recipe version in use can be quoted: put it in use first, or choose another. "
                         f"Not in use: {named}.")
        self.recipes = recipes


def check_in_use(estimate: Estimate) -> None:
    """Refuse an estimate of recipe versions that are not in use. Raises NotInUse."""
    not_in_use = [recipe for recipe in estimate.basis.line_recipes() if not recipe.in_use]
    if not_in_use:
        raise NotInUse(not_in_use)


@dataclass(frozen=True, kw_only=True)
class WorkedOut:
    """An estimate, and what a quote freezes of it. choices: by key, what else of it may be chosen comes to."""

    estimate: Estimate
    plan: Any
    figures: Any
    choices: Mapping[str, WorkedOut] = field(default_factory=dict)


def worked_out_of(estimate: Estimate) -> WorkedOut:
    figures = as_output(estimate, price_contents(estimate))
    return WorkedOut(estimate=estimate, plan=freeze_plan(estimate), figures=figures)


def worked_out_now(
    draft: OrderDraft, day: date, own_reservation: int | None = None, before: WorkedOut | None = None,
) -> WorkedOut:
    """Return what an order comes to: as worked out before where that rests on just what stands now, else anew.

    Raises what its estimate raises.
    """
    estimate = price_order(draft, day, own_reservation, before.estimate if before else None)
    return before if before is not None and estimate is before.estimate else worked_out_of(estimate)


def freeze_choices(
    order: Order, house: House, draft: OrderDraft, day: date, before: Mapping[str, WorkedOut],
) -> list[dict[str, Any]]:
    """Return every choice of an order, worked out and frozen as a quote is; nothing where there is nothing to choose.

    before: by key, what was worked out before this transaction. Raises what its estimates raise, NotInUse, InDoubt,
    TooMuchToChoose.
    """
    offered = choices_of(draft)
    return [_frozen_choice(order, house, choice, worked_out_now(
        chosen(draft, choice), day, before=before.get(choice.key))) for choice in offered] if len(offered) > 1 else []


def longest_choice(worked_out: WorkedOut) -> Estimate:
    """Return the estimate of what is ready last of all that may be chosen, so that a day holds whichever is."""
    return longest_of(choice.estimate for choice in (worked_out, *worked_out.choices.values()))


def longest_of(estimates: Iterable[Estimate]) -> Estimate:
    return max(estimates, key=lambda estimate: (estimate.go_ahead.days, sum(map(len, estimate.loads.values()))))


def _frozen_choice(order: Order, house: House, choice: Choice, worked_out: WorkedOut) -> dict[str, Any]:
    estimate, price = worked_out.estimate, worked_out.estimate.price
    check_in_use(estimate)
    refuse_doubts(estimate.basis.line_recipes(), estimate.basis.shelf)
    return {
        "key": choice.key, "label": choice.label, "option": choice.option, "optional": list(choice.optional),
        "lines": list(choice.lines), "basis": freeze(estimate.basis), "plan": worked_out.plan,
        "figures": worked_out.figures, "wording": wording_of(order, house, estimate),
        **{name: f"{as_decimal(getattr(price, name), MONEY_DECIMALS):f}" for name in SUMS},
    }


def refuse_choices(draft: OrderDraft) -> list[dict[str, Any]]:
    """Refuse options in the order of a booked job: what is booked is chosen. Raises QuoteError."""
    if len(choices_of(draft)) > 1:
        raise QuoteError("This job is booked: options are for a quote before that. Say of each line that it is always "
                         "offered.")
    return []
