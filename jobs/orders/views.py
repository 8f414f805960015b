"""The order page: an order is entered and its price shown as it is typed; the page, and the part that htmx swaps."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from jobs.estimating.estimate import Estimate
from jobs.models import Order
from jobs.orders.letters import keep_letter, open_points
from jobs.orders.order_form import OrderSheet
from jobs.orders.saving import save_order
from jobs.orders.sent_form import refused, to_saved_job, write_over
from jobs.orders.shown import offer_of_today, order_of, page, priced
from jobs.quotes.pricing import price_ahead
from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, posted_from
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def new_order(request: DeskRequest) -> HttpResponse:
    """The empty order form; saved, it becomes an order with its job."""
    if request.method != "POST":
        return page(request, OrderSheet(offer_of_today()), None)
    return _save(request, OrderSheet(offer_of_today(), request.POST), None)


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def edit_order(request: DeskRequest, number: int) -> HttpResponse:
    order = order_of(number)
    if request.method != "POST" and order is not None and not order.job.can_change:
        messages.error(request, f"This job is {order.job.standing}: its order stands as it was.")
        return redirect("jobs:job", number)
    if request.method != "POST":
        return page(request, OrderSheet(offer_of_today(), order=order), order)
    return _save(request, OrderSheet(offer_of_today(), request.POST, order), order)


@allowed(May.ORDERS)
@posted_from("jobs:new")
def price_now(request: DeskRequest) -> HttpResponse:
    """Price what is typed, without saving: the part for htmx, the page without JavaScript."""
    order = order_of(request.POST.get("job"))
    return page(request, OrderSheet(offer_of_today(), request.POST, order), order)


@allowed(May.MARGINS)
@posted_from("jobs:new")
def price_working(request: DeskRequest) -> HttpResponse:
    """How the price of what is typed comes about: fetched when somebody opens it, a page of its own otherwise."""
    return _looked_into(request, "jobs/orders/working.html")


@allowed(May.MARGINS)
@posted_from("jobs:new")
def price_contents(request: DeskRequest) -> HttpResponse:
    """What is in the price of what is typed: fetched when somebody opens it, a page of its own otherwise."""
    return _looked_into(request, "jobs/orders/contents.html")


def _looked_into(request: DeskRequest, template: str) -> HttpResponse:
    order = order_of(request.POST.get("job"))
    sheet = OrderSheet(offer_of_today(), request.POST, order)
    if not request.htmx:
        return page(request, sheet, order, more={"part": template})
    return render(request, template, priced(sheet, order))


def _save(request: DeskRequest, sheet: OrderSheet, order: Order | None) -> HttpResponse:
    if not sheet.is_valid():
        return page(request, sheet, order, REFUSED)
    try:
        ahead = price_ahead(sheet.draft()[0], today(), order.job.reservation_id if order else None)
        saved = _write(request, sheet, order, ahead)
    except (DaybookError, ValidationError) as refusal:
        return refused(request, sheet, order, refusal)
    still = open_points(saved).in_words
    messages.success(request, f"The order is saved. Still to settle: {still}." if still else "The order is saved.")
    return to_saved_job(request, sheet, saved.job)


@transaction.atomic
def _write(request: DeskRequest, sheet: OrderSheet, order: Order | None, ahead: Estimate | None) -> Order:
    if order is not None:
        return write_over(request, sheet, order, ahead=ahead)
    order = save_order(
        by=request.user, form_key=sheet.order.cleaned_data["key"], typed_lines=sheet.typed_lines(),
        bought_in=sheet.bought_in_items(), ahead=ahead, **sheet.own_values(),
    )
    keep_letter(order, request.POST, request.user)
    return order
