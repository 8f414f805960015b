"""The same order with one line, or all of them, in every other finish in use: what each would cost a customer.

Everything is gathered once; each finish is then an estimate of the whole order with that one thing changed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from jobs.draft import OrderDraft
from jobs.estimating.basis import Basis, LineFacts
from jobs.estimating.estimate import Estimate, estimate_basis
from jobs.orders.order_form import OrderSheet
from jobs.quotes.basis import basis_of
from recipes.models import RecipeVersion
from studio.house.clock import today
from studio.kit.currencies import show_money
from studio.kit.errors import DaybookError


@dataclass(frozen=True, kw_only=True)
class OtherFinish:
    """An order with another finish. each: net for a pane of the line, or the order's net; refused: why it cannot be."""

    version: int
    name: str
    is_chosen: bool
    each: Fraction | None = None
    difference: str = ""
    refused: str = ""


def in_other_finishes(sheet: OrderSheet, at: int | None) -> dict[str, Any]:
    """Return a line of a form, or with None the whole order, in every finish in use.

    The answer holds `finishes` and `currency`, or `refusal`.
    """
    draft, _ = sheet.draft()
    forms = sheet.lines.forms
    number = forms[at].number if at is not None and at < len(forms) else 0
    if not draft.lines or (at is not None and number not in {line.number for line in draft.lines}):
        return {"refusal": "Give the line its size, finish, glass and edge first."}
    versions = _newest_in_use()
    try:
        gathered, keys = _gathered(draft, versions)
        now = estimate_basis(replace(gathered, lines=gathered.lines[:len(draft.lines)]))
    except DaybookError as refusal:
        return {"refusal": str(refusal)}
    chosen = {line.recipe_version_id for line in draft.lines if at is None or line.number == number}
    finishes = [
        _in_finish(now, gathered.lines[:len(draft.lines)], keys[version.pk], number, version, chosen)
        for version in versions
    ]
    return {"finishes": finishes, "currency": gathered.house.currency, "number": number}


def _newest_in_use() -> list[RecipeVersion]:
    newest: dict[int, RecipeVersion] = {}
    for version in RecipeVersion.objects.in_use().select_related("finish").order_by("finish__name", "number"):
        newest[version.finish_id] = version
    return list(newest.values())


def _gathered(draft: OrderDraft, versions: list[RecipeVersion]) -> tuple[Basis, dict[int, str]]:
    """Return the basis of an order with every finish's recipe in it, and the recipes' keys by version.

    After the order's own lines stands one for each version, so that its recipe is gathered too.
    """
    first, count = draft.lines[0], len(draft.lines)
    more = tuple(
        replace(first, number=count + place, recipe_version_id=version.pk)
        for place, version in enumerate(versions, start=1)
    )
    basis = basis_of(replace(draft, lines=(*draft.lines, *more)), today())
    if basis.nesting == "patterns":  # a plan for each finish, all with the same little effort, so that they compare
        basis = replace(basis, nesting="quick patterns")
    return basis, {version.pk: line.recipe for version, line in zip(versions, basis.lines[count:], strict=True)}


def _in_finish(
    now: Estimate, lines: tuple[LineFacts, ...], recipe: str, number: int, version: RecipeVersion, chosen: set[int]
) -> OtherFinish:
    """Estimate the order with a line, or with number 0 every line, in that recipe."""
    named: dict[str, Any] = {"version": version.pk, "name": f"{version.finish.name}, version {version.number}",
                             "is_chosen": chosen == {version.pk}}
    changed = tuple(replace(line, recipe=recipe) if number in (0, line.number) else line for line in lines)
    try:
        then = estimate_basis(replace(now.basis, lines=changed))
    except DaybookError as refusal:
        return OtherFinish(**named, refused=str(refusal))
    before, after = _figure(now, number), _figure(then, number)
    return OtherFinish(**named, each=after, difference=_difference(after - before, now.basis.house.currency))


def _figure(estimate: Estimate, number: int) -> Fraction:
    if not number:
        return estimate.price.net
    return next(price.each for price in estimate.line_prices if price.number == number)


def _difference(more: Fraction, currency: str) -> str:
    """Return “£5.00 more”, “£5.00 less” or “the same”."""
    shown = show_money(abs(more), currency)
    if shown == show_money(Fraction(0), currency):
        return "the same"
    return f"{shown} {'more' if more > 0 else 'less'}"

