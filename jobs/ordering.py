"""Save an order with its lines and its job, once for each form."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from jobs.hole_words import as_kept
from jobs.models import BoughtIn, Customer, Job, Order, OrderLine
from jobs.order_draft import DraftBoughtIn, DraftLine
from jobs.work import states
from studio.clock import now
from studio.errors import DaybookError
from studio.exact import LENGTH_DECIMALS, RATIO_DECIMALS
from studio.locks import ChangedMeanwhile
from studio.models import House, Person
from studio.rounding import as_decimal


class OrderError(DaybookError):
    """The order cannot be saved as it stands."""


TypedLine = tuple[str, DraftLine]


@transaction.atomic
def save_order(
    *, by: Person, form_key: UUID, customer: Customer, title: str, typed_lines: Sequence[TypedLine],
    bought_in: Sequence[DraftBoughtIn] = (), needed_by: date | None = None, discount_share: Decimal = Decimal(0),
    discount_amount: Decimal = Decimal(0), discount_reason: str = "", note: str = "",
) -> Order:
    """Enter an order and its job; sent twice with one key it is one order.

    typed_lines: what was typed as a size, beside the line as understood.
    """
    known = Order.objects.filter(form_key=form_key).first()
    if known is not None:
        return known
    House.objects.select_for_update().first()  # one job number at a time
    order = Order(
        customer=customer, title=title, needed_by=needed_by, discount_share=discount_share,
        discount_amount=discount_amount, discount_reason=discount_reason, note=note, entered_at=now(),
        entered_by=by, form_key=form_key,
    )
    order.full_clean()
    order.save(force_insert=True)
    _write_content(order, typed_lines, bought_in)
    Job.objects.create(order=order, number=(Job.objects.aggregate(last=Max("number"))["last"] or 0) + 1)
    return order


@transaction.atomic
def change_order(
    *, order: Order, version: int, typed_lines: Sequence[TypedLine], bought_in: Sequence[DraftBoughtIn] = (),
) -> Order:
    """Save an order's own values and lines over what is there, unless somebody else did so first.

    version: the version that was opened. Raises ChangedMeanwhile, or OrderError once the job is booked.
    """
    kept = Order.objects.select_for_update().get(pk=order.pk)
    if kept.version != version:
        lines = "; ".join(
            f"{line.quantity} × {line.size_text}, {line.recipe_issue}"
            for line in kept.lines.select_related("recipe_issue__finish")
        )
        raise ChangedMeanwhile(
            f"Somebody else saved this order meanwhile. It now reads “{kept.title}”: {lines}. What you typed is below: "
            "open the order in another tab, compare, and save again from there."
        )
    states.check(Job.objects.get(order=kept).state, states.CHANGE, OrderError)
    order.version = version + 1
    order.full_clean()
    order.save(force_update=True)
    order.lines.all().delete()
    order.bought_in.all().delete()
    _write_content(order, typed_lines, bought_in)
    return order


def _write_content(order: Order, typed_lines: Sequence[TypedLine], bought_in: Sequence[DraftBoughtIn]) -> None:
    if not typed_lines:
        raise OrderError("The order has no lines yet: enter a size, a quantity and a finish.")
    for typed, line in typed_lines:
        row = order_line(order, typed, line)
        row.full_clean()
        row.save(force_insert=True)
    for thing in bought_in:
        row_in = BoughtIn(
            order=order, name=thing.name, cost=thing.cost, line_number=thing.line_number, kind=thing.kind,
            markup_share=thing.markup_share, days=thing.days, due_on=thing.due_on, before=thing.before,
        )
        row_in.full_clean()
        row_in.save(force_insert=True)


def _optional(value: Fraction | None, decimals: int) -> Decimal | None:
    return None if value is None else as_decimal(value, decimals)


def order_line(order: Order, typed: str, line: DraftLine) -> OrderLine:
    """Return the row of a line, not yet saved."""
    return OrderLine(
        order=order, number=line.number, shape=line.shape, size_text=typed,
        width_mm=as_decimal(line.width_mm, LENGTH_DECIMALS), height_mm=as_decimal(line.height_mm, LENGTH_DECIMALS),
        area_m2=_optional(line.area_m2, RATIO_DECIMALS), perimeter_mm=_optional(line.perimeter_mm, LENGTH_DECIMALS),
        quantity=line.quantity, recipe_issue_id=line.recipe_issue_id, glass_id=line.glass_id, route=line.route,
        cut_price_per_m2=line.cut_price_per_m2, cut_minimum_each=line.cut_minimum_each, edge=line.edge,
        backing=line.backing, plan=line.plan, own_panes_to_start=line.own_panes_to_start,
        oversize_method=line.oversize_method, match_group=line.match_group, note=line.note, place=line.place,
        opening=line.opening, joint_mm=as_decimal(line.joint_mm, LENGTH_DECIMALS), holes_text=line.holes_text,
        holes=as_kept(line.holes),
    )
