"""Order again: an order's lines copied into a new enquiry, without its dates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from jobs.draft import draft_of
from jobs.models import Order
from jobs.orders.saving import OrderError, save_order
from jobs.quotes.pricing import price_ahead
from recipes.models import RecipeVersion
from studio.house.clock import today
from studio.house.models import Person


@dataclass(frozen=True, kw_only=True)
class Versions:
    """One finish of an order: the version ordered, whether it is still in use, and the newest in use, if any."""

    ordered: RecipeVersion
    still_in_use: bool
    newest: RecipeVersion | None

    def chosen(self, newest: bool) -> RecipeVersion | None:
        """Return the version to order: the newest, or the same where it is still in use; None where there is none."""
        return self.ordered if self.still_in_use and not newest else self.newest


def versions_of(order: Order) -> list[Versions]:
    """Return the finishes of an order with the versions they could be ordered in now. order: with its lines fetched."""
    mine = {line.recipe_version_id: line.recipe_version for line in order.lines.all()}
    rows = RecipeVersion.objects.filter(finish__in={version.finish_id for version in mine.values()}).in_use()
    in_use = sorted(rows.select_related("finish"), key=lambda version: version.number)
    newest = {version.finish_id: version for version in in_use}
    known = {version.pk for version in in_use}
    return [Versions(ordered=version, still_in_use=pk in known, newest=newest.get(version.finish_id))
            for pk, version in sorted(mine.items())]


def order_again(*, order: Order, by: Person, form_key: UUID, newest: bool) -> tuple[Order, str]:
    """Enter an order's lines and bought-in items anew, for the same customer and without dates; say which versions.

    newest: in the newest version in use of each finish; else in the same where it is still in use. A form's key counts
    once. Raises OrderError for a finish without a version in use, and any refusal of the estimate.
    """
    versions = versions_of(order)
    chosen = {row.ordered.pk: row.chosen(newest) for row in versions}
    without = sorted({row.ordered.finish.name for row in versions if chosen[row.ordered.pk] is None})
    if without:
        raise OrderError(f"No version of {', '.join(without)} is in use now: put one in use, then order again.")
    draft = draft_of(order)
    draft = replace(
        draft, bought_in=tuple(replace(item, due_on=None) for item in draft.bought_in),
        lines=tuple(replace(line, recipe_version_id=_pk(chosen[line.recipe_version_id])) for line in draft.lines),
    )
    typed = [row.size_text for row in order.lines.all()]
    made = save_order(
        by=by, form_key=form_key, customer=order.customer, title=order.title,
        typed_lines=list(zip(typed, draft.lines, strict=True)), bought_in=draft.bought_in,
        discount_share=order.discount_share, discount_amount=order.discount_amount,
        discount_reason=order.discount_reason, note=order.note, ahead=price_ahead(draft, today()),
    )
    return made, _in_words(versions, chosen)


def _pk(version: RecipeVersion | None) -> int:
    assert version is not None
    return int(version.pk)


def _in_words(versions: Sequence[Versions], chosen: dict[int, RecipeVersion | None]) -> str:
    said = []
    for row in versions:
        now = chosen[row.ordered.pk]
        if now is None or now.pk == row.ordered.pk:
            said.append(f"{row.ordered}, as before.")
        else:
            why = "" if row.still_in_use else ", which is no longer in use"
            said.append(f"{now} in place of version {row.ordered.number}{why}.")
    return " ".join(said)
