"""Saves an order with its lines and its job, once for each form; an order that cannot be made is never saved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from jobs import acts
from jobs.draft import DraftBoughtIn, DraftLine, OrderDraft, draft_of
from jobs.estimating.estimate import Estimate
from jobs.estimating.hole_words import read_holes
from jobs.estimating.refusals import EstimateError
from jobs.line_fields import LINE_FIELDS, to_column
from jobs.models import BoughtIn, Customer, Job, JobAct, Order, OrderLine, SiteRecord
from jobs.orders.site import Opening
from jobs.orders.sizes import finished_size
from jobs.quotes.pricing import price_order
from jobs.work import states
from studio.house.clock import now, today
from studio.house.models import House, Person
from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened, differing, in_words, saved_here, tried_three_times, write
from studio.kit.rounding import decimal_string, plain
from studio.kit.units import size_unit


class OrderError(DaybookError):
    """The order cannot be saved as it stands."""


TypedLine = tuple[str, DraftLine]
OWN_VALUES = ("customer", "title", "due_on", "discount_share", "discount_amount", "discount_reason", "note")


@tried_three_times
@transaction.atomic
def save_order(
    *, by: Person, form_key: UUID, customer: Customer, title: str, typed_lines: Sequence[TypedLine],
    bought_in: Sequence[DraftBoughtIn] = (), due_on: date | None = None, discount_share: Decimal = Decimal(0),
    discount_amount: Decimal = Decimal(0), discount_reason: str = "", note: str = "", ahead: Estimate | None = None,
) -> Order:
    """Enter an order and its job; sent twice with one key it is one order.

    typed_lines: what was typed as a size, beside the line as understood. ahead: as `price_order` takes it.
    Raises OrderError without lines, and any refusal of the estimate: what cannot be made is not saved.
    """
    if customer.forgotten_on is not None:
        raise OrderError(f"{customer}: enter the order for a new customer instead.", "customer")
    House.objects.select_for_update().first()  # one job number at a time
    known = Order.objects.filter(form_key=form_key).first()
    if known is not None:
        return known
    order = Order(
        customer=customer, title=title, due_on=due_on, discount_share=discount_share,
        discount_amount=discount_amount, discount_reason=discount_reason, note=note, entered_at=now(),
        entered_by=by, form_key=form_key,
    )
    order.full_clean()
    order.save(force_insert=True)
    _write_content(order, typed_lines, bought_in, ahead=ahead)
    Job.objects.create(order=order, number=(Job.objects.aggregate(last=Max("number"))["last"] or 0) + 1)
    return order


@transaction.atomic
def change_order(
    *, order: Order, saves: int, typed_lines: Sequence[TypedLine], bought_in: Sequence[DraftBoughtIn] = (),
    by: Person | None = None, act: states.Act = states.CHANGE, ahead: Estimate | None = None,
) -> Order:
    """Save an order's own values and lines over what is there, unless somebody else did so first.

    saves: how often it had been saved when it was opened. act: as what the order is changed; by whom it is.
    ahead: as `price_order` takes it.
    Raises ChangedMeanwhile, OrderError once the job is booked, and any refusal of the estimate.
    """
    job = Job.objects.select_for_update().get(order=order.pk)  # nobody books it meanwhile, nor writes an act
    saved = Order.objects.select_for_update().get(pk=order.pk)
    states.check(job.state, act, OrderError)
    check_opened(saved, saves, _what_differs(saved, order, typed_lines, bought_in))
    order.saves = saved.saves
    order.full_clean()
    order.save(force_update=True)
    order.lines.all().delete()
    order.bought_in.all().delete()
    _write_content(order, typed_lines, bought_in, job.reservation_id, ahead)
    if act is states.CHANGE:
        acts.record(job, JobAct.Kind.ORDER_CHANGED, by)
    return order


def _what_differs(
    saved: Order, order: Order, typed_lines: Sequence[TypedLine], bought_in: Sequence[DraftBoughtIn],
) -> str:
    """Return in words what a saved order holds otherwise than was typed: its lines, bought-in items, own values."""
    own = [name for name in OWN_VALUES if getattr(saved, name) != getattr(order, name)]
    found = [*_lines_that_differ(saved, typed_lines), *_items_that_differ(saved, bought_in)]
    return "; ".join([*found, *([in_words(saved, own)] if own else [])]) or "just what you typed"


def _lines_that_differ(order: Order, typed_lines: Sequence[TypedLine]) -> Iterator[str]:
    """Say each line that reads otherwise than was typed for its number, and whether there are more or fewer."""
    typed = {line.number: (text, line) for text, line in typed_lines}
    rows = list(order.lines.select_related("recipe_version__finish", "glass").order_by("number"))
    for row, line in zip(rows, draft_of(order).lines, strict=True):
        text, own = typed.pop(row.number, ("", None))
        names = [] if own is None else [
            field.name.removesuffix("_id") for field in LINE_FIELDS
            if getattr(line, field.name) != getattr(own, field.name)]
        if own is None or names or text != row.size_text:
            rest = [name for name in names if name not in ("quantity", "width_mm", "height_mm", "recipe_version")]
            more = f", {in_words(row, rest)}" if rest else ""
            yield f"line {row.number}: {row.quantity} × {row.size_text}, {row.recipe_version}{more}"
    if typed:
        yield f"no line {', '.join(map(str, typed))}"


def _items_that_differ(order: Order, bought_in: Sequence[DraftBoughtIn]) -> Iterator[str]:
    saved = draft_of(order).bought_in
    for item in saved:
        if item not in bought_in:
            yield f"{item.name} at {plain(item.cost)}{_item_in_words(item)}"
    names = {item.name for item in saved}
    yield from (f"no {item.name}" for item in bought_in if item.name not in names)


def _item_in_words(item: DraftBoughtIn) -> str:
    """Return what is said of a bought-in item behind its name and cost."""
    said = [f"for line {item.line_number}" if item.line_number else "for the order",
            f"{item.days} day{'' if item.days == 1 else 's'}", f"needed before {item.before}"]
    if item.markup_share is not None:
        said.append(f"mark-up {decimal_string(Fraction(item.markup_share) * 100, 2)} %")
    if item.due_on is not None:
        said.append(f"due {item.due_on:%d %b %Y}")
    return f" ({', '.join(said)})"


@transaction.atomic
def save_site_record(order: Order, line_number: int, saves: int | None, values: dict[str, Any]) -> SiteRecord:
    """Save what was measured for a line, over what was there.

    saves: what the form was opened with. Raises ChangedMeanwhile when somebody else measured it since.
    """
    Order.objects.select_for_update().get(pk=order.pk)  # one first record of a line at a time
    row = SiteRecord.objects.select_for_update().filter(order=order, line_number=line_number).first()
    if row is None:
        row = SiteRecord(order=order, line_number=line_number)
    else:
        check_opened(row, saves, differing(row, values))
    write(row, values)
    saved_here(row)
    return row


def check_can_be_made(draft: OrderDraft, reserved: int | None = None, ahead: Estimate | None = None) -> None:
    """Refuse what cannot be made at today's bench, by the same estimate that a quote is made from.

    Raises a DaybookError that names line and field: too large for the bench, cut after toughening, no such edge, ….
    A material without a price refuses nothing here.
    """
    try:
        price_order(draft, today(), reserved, ahead)
    except EstimateError as refusal:
        if not refusal.wants_prices:  # an enquiry is kept before its price is known: only its quote is refused
            raise


@transaction.atomic
def take_opening(*, order: Order, number: int, opening: Opening) -> str:
    """Set a line to the opening as measured, its joint unchanged; return the size it now has.

    The narrowest width and the lowest height count. Raises what change_order raises.
    """
    draft = draft_of(order)
    typed = {row.number: row.size_text for row in order.lines.all()}
    text = f"{decimal_string(opening.width_mm, 6)} x {decimal_string(opening.height_mm, 6)} mm"
    lines = []
    for line in draft.lines:
        if line.number == number:
            width, height = finished_size(opening.width_mm, opening.height_mm, line.joint_mm)
            holes = read_holes(line.holes_text, _default_unit(), (width, height))  # what is at the centre stays there
            line = replace(line, opening=True, width_mm=width, height_mm=height, holes=holes)
        lines.append((text if line.number == number else typed[line.number], line))
    change_order(order=order, saves=order.saves, typed_lines=lines, bought_in=draft.bought_in)
    return text


def _default_unit() -> str:
    house = House.objects.first()
    return size_unit(house.units if house else "metric")


def _write_content(
    order: Order, typed_lines: Sequence[TypedLine], bought_in: Sequence[DraftBoughtIn], reserved: int | None = None,
    ahead: Estimate | None = None,
) -> None:
    if not typed_lines:
        raise OrderError("The order has no lines yet: enter a size, a quantity and a finish.")
    check_can_be_made(OrderDraft(
        lines=tuple(line for _, line in typed_lines), bought_in=tuple(bought_in),
        discount_share=order.discount_share, discount_amount=order.discount_amount,
        discount_reason=order.discount_reason,
    ), reserved, ahead)
    for typed, line in typed_lines:
        row = order_line(order, typed, line)
        row.full_clean()
        row.save(force_insert=True)
    for item in bought_in:
        row_in = BoughtIn(
            order=order, name=item.name, cost=item.cost, line_number=item.line_number, kind=item.kind,
            markup_share=item.markup_share, days=item.days, due_on=item.due_on, before=item.before,
        )
        row_in.full_clean()
        row_in.save(force_insert=True)


def order_line(order: Order, typed: str, line: DraftLine) -> OrderLine:
    """Return the row of a line, not yet saved."""
    return OrderLine(
        order=order, number=line.number, size_text=typed,
        **{field.name: to_column(field, getattr(line, field.name)) for field in LINE_FIELDS},
    )
