"""The order page: an order is entered and its price shown as it is typed; the page, and the part that htmx swaps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from jobs.draft import draft_of
from jobs.estimating.estimate import Estimate
from jobs.models import Customer, Job, Order
from jobs.orders.line_form import Offer
from jobs.orders.order_form import OrderSheet
from jobs.orders.pasted_sizes import Pasted, read_pasted
from jobs.orders.presets import save_preset
from jobs.orders.rows import (
    Row,
    another,
    choices_of,
    duplicated,
    rows_of,
    spread,
    with_line_moved,
    with_pasted,
    with_rows,
)
from jobs.orders.saving import change_order, save_order
from jobs.quotes.frozen_plan import stock_needed
from jobs.quotes.price_sentences import price_sentences
from jobs.quotes.pricing import price_order, shortages_of
from studio.house.clock import today
from studio.house.http import (
    REFUSED,
    DeskRequest,
    carry_new_saves,
    render_page_or_part,
    sent_saves,
    whole_number,
)
from studio.house.models import House, HouseRates
from studio.kit.access import owner_only
from studio.kit.errors import DaybookError


def _offer() -> Offer:
    house = House.objects.first()
    return Offer(HouseRates.known_on(today()), house.units if house else "metric")


def _order_of(number: str | int | None) -> Order | None:
    if number in (None, ""):
        return None
    job = get_object_or_404(Job.objects.select_related("order__customer"), number=number)
    order = job.order
    order.job = job
    return order


def _priced(sheet: OrderSheet, order: Order | None) -> dict[str, Any]:
    """Price what can be priced; put a refusal beside its field."""
    if sheet.bound:
        draft, left_out = sheet.draft()
    elif order is not None:
        draft, left_out = draft_of(order), []
    else:
        return {"estimate": None}
    if not draft.lines:
        return {"estimate": None, "left_out": left_out}
    day, reserved = today(), order.job.reservation_id if order else None
    try:
        estimate: Estimate = price_order(draft, day, reserved)
    except DaybookError as refusal:
        sheet.put(refusal)
        return {"estimate": None, "refusal": str(refusal), "left_out": left_out}
    return {
        "estimate": estimate, "left_out": left_out, "sentences": price_sentences(estimate, sheet.offer.preference),
        "shortages": shortages_of(stock_needed(estimate), day, own_reservation=reserved),
    }


def _page(
    request: DeskRequest, sheet: OrderSheet, order: Order | None, status: int = 200, price: bool = True
) -> HttpResponse:
    context = _priced(sheet, order) if price else {"estimate": None}
    return render_page_or_part(request, "jobs/orders/order.html", "price", {
        "sheet": sheet, "order": order, "job": order.job if order else None, **context,
    }, status=status)


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def new_order(request: DeskRequest) -> HttpResponse:
    """The empty order form; saved, it becomes an order with its job."""
    if request.method != "POST":
        return _page(request, OrderSheet(_offer()), None)
    return _save(request, OrderSheet(_offer(), request.POST), None)


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def edit_order(request: DeskRequest, number: int) -> HttpResponse:
    order = _order_of(number)
    if request.method != "POST" and order is not None and not order.job.can_change:
        messages.error(request, f"This job is {order.job.standing}: its order stands as it was.")
        return redirect("jobs:job", number)
    if request.method != "POST":
        return _page(request, OrderSheet(_offer(), order=order), order)
    return _save(request, OrderSheet(_offer(), request.POST, order), order)


@owner_only
@require_POST
def price_now(request: DeskRequest) -> HttpResponse:
    """Price what is typed, without saving: the part for htmx, the page without JavaScript."""
    order = _order_of(request.POST.get("job"))
    return _page(request, OrderSheet(_offer(), request.POST, order), order)


@owner_only
@require_POST
def price_contents(request: DeskRequest) -> HttpResponse:
    """What is in the price of what is typed: fetched when somebody opens it."""
    order = _order_of(request.POST.get("job"))
    context = _priced(OrderSheet(_offer(), request.POST, order), order)
    if context["estimate"] is None:
        return HttpResponse("Correct the order first.")
    return render(request, "jobs/quotes/price_contents.html", {**context, "contents": context["sentences"].contents})


Arrange = Callable[[list[Row], Row], list[Row]]


def _arranged(
    request: DeskRequest, arrange: Arrange, data: QueryDict | None = None, pasted: Pasted | None = None
) -> HttpResponse:
    """The same form with its lines arranged anew; nothing is saved.

    arrange: the lines and the choices that a new one starts with, to the lines as they are then.
    """
    order = _order_of(request.POST.get("job"))
    offer, data = _offer(), request.POST.copy() if data is None else data
    rows = rows_of(data)
    rows = arrange(rows, choices_of(rows, offer.preset_choices(data.get("preset", ""))))
    data = with_rows(data, rows)
    sheet = OrderSheet(offer, data, order)
    context = _priced(sheet, order)
    for form in sheet.lines.forms:
        if not form.data.get(form.add_prefix("size_text"), "").strip():
            form.errors.clear()  # nothing is wrong with a line nobody has filled in yet
    for name in ("title", "new_customer"):
        if not data.get(name, "").strip():
            sheet.order.errors.pop(name, None)
    return render(request, "jobs/orders/order.html", {
        "sheet": sheet, "order": order, "job": order.job if order else None, "fresh_line": True,
        "pasted": pasted, "pasted_text": data.get("pasted", ""), **context,
    })


@owner_only
@require_POST
def another_line(request: DeskRequest) -> HttpResponse:
    return _arranged(request, another)


@owner_only
@require_POST
def lines_pasted(request: DeskRequest) -> HttpResponse:
    """Read sizes into lines; what could mean two things stays in the box, and so does what finds no room."""
    data = request.POST.copy()
    pasted = read_pasted(data.get("pasted", ""), _offer().default_unit)

    def arrange(rows: list[Row], choices: Row) -> list[Row]:
        rows, no_room = with_pasted(rows, pasted.lines, choices)
        unread = [*(passage.written for passage in pasted.marked), *(line.written for line in no_room)]
        data["pasted"] = "\n".join(unread)
        return rows

    return _arranged(request, arrange, data, pasted)


@owner_only
@require_POST
def duplicate_line(request: DeskRequest, at: int) -> HttpResponse:
    """at: the line, counted from 0, here and below."""
    return _arranged(request, lambda rows, _: duplicated(rows, at))


@owner_only
@require_POST
def line_up(request: DeskRequest, at: int) -> HttpResponse:
    return _arranged(request, lambda rows, _: with_line_moved(rows, at, -1))


@owner_only
@require_POST
def line_down(request: DeskRequest, at: int) -> HttpResponse:
    return _arranged(request, lambda rows, _: with_line_moved(rows, at, 1))


@owner_only
@require_POST
def spread_line(request: DeskRequest, at: int) -> HttpResponse:
    """Give every line this one's choices."""
    return _arranged(request, lambda rows, _: spread(rows, at))


@owner_only
@require_POST
def save_line_as_preset(request: DeskRequest, at: int) -> HttpResponse:
    """Save a line as a preset of its customer, and say so."""
    def arrange(rows: list[Row], _: Row) -> list[Row]:
        _save_preset(request, rows, at)
        return rows

    return _arranged(request, arrange)


def _save_preset(request: DeskRequest, rows: list[Row], at: int) -> None:
    """Save a line as a preset of its customer, and say so."""
    customer = Customer.objects.filter(pk=whole_number(request.POST.get("customer", ""))).first()
    try:
        preset = save_preset(customer, request.POST.get("preset_name", ""), rows[at] if at < len(rows) else {})
    except DaybookError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"Saved for {preset.customer.name} as “{preset.name}”: new lines can start from it.")


def _save(request: DeskRequest, sheet: OrderSheet, order: Order | None) -> HttpResponse:
    if not sheet.is_valid():
        return _page(request, sheet, order, REFUSED)
    try:
        saved = _write(request, sheet, order)
    except DaybookError as refusal:
        carry_new_saves(request, refusal)
        sheet.put(refusal)
        return _page(request, sheet, order, REFUSED, price=False)
    except ValidationError as refusal:
        sheet.refusal = " ".join(refusal.messages)
        return _page(request, sheet, order, REFUSED, price=False)
    messages.success(request, "The order is saved.")
    return redirect("jobs:job", saved.job.number)


@transaction.atomic
def _write(request: DeskRequest, sheet: OrderSheet, order: Order | None) -> Order:
    values = sheet.order.cleaned_data
    share, amount = values["discount"]
    own: dict[str, Any] = {
        "title": values["title"], "due_on": values["due_on"], "discount_share": share,
        "discount_amount": amount, "discount_reason": values["discount_reason"], "note": values["note"],
    }
    customer = sheet.order.customer_row()
    if order is None:
        return save_order(
            by=request.user, form_key=values["key"], customer=customer, typed_lines=sheet.typed_lines(),
            bought_in=sheet.bought_in_items(), **own,
        )
    order.customer = customer
    for name, value in own.items():
        setattr(order, name, value)
    return change_order(
        order=order, saves=sent_saves(request), typed_lines=sheet.typed_lines(), bought_in=sheet.bought_in_items()
    )
