"""Changing the order of a booked job: the order form, then what it changes in stock, ticket and price, then saved."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from jobs.models import Order
from jobs.orders import views as order_views
from jobs.orders.order_form import OrderSheet
from jobs.orders.sent_form import refused, to_saved_job, write_over
from jobs.orders.shown import offer_of_today, order_of, page
from jobs.quotes.quoting import work_out_before
from jobs.work import states
from jobs.work.revising import Revised, preview, revise
from studio.house.form_keys import KeyField
from studio.house.http import REFUSED, DeskRequest
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May

#: the fields of the page that shows the differences; all others are the order form's and travel with it
WHY, AGREED_BY, SURE, KEY = "change-why", "change-agreed_by", "change-sure", "change-key"
OWN = frozenset({WHY, AGREED_BY, SURE, KEY, "csrfmiddlewaretoken"})


class ChangeForm(forms.Form):
    """What was asked, who agreed to it, and the key that the change counts once by."""

    key = KeyField()
    why = forms.CharField(max_length=200, label="What was asked", help_text="It stays in the job's story.")
    agreed_by = forms.CharField(
        max_length=200, required=False, label="Who agreed, and how",
        help_text="For instance: R. Askew, by telephone. Empty: the new quote is sent and waits for the customer.",
    )


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def order(request: DeskRequest, number: int) -> HttpResponse:
    """The order of a job: changed freely before it is booked, by a revision after."""
    row = order_of(number)
    if row is None or not row.job.can_revise:
        return order_views.edit_order(request, number)
    if request.method != "POST":
        messages.warning(request, "This job is booked. Change the order and save: before anything is saved you see "
                                  "what that changes in stock, ticket and price.")
        return page(request, OrderSheet(offer_of_today(), order=row), row)
    return _changed(request, OrderSheet(offer_of_today(), request.POST, row), row)


def _changed(request: DeskRequest, sheet: OrderSheet, order: Order) -> HttpResponse:
    if not sheet.is_valid():
        return page(request, sheet, order, REFUSED)
    sure = SURE in request.POST
    form = ChangeForm(request.POST if sure else None, prefix="change")

    before = work_out_before(sheet.draft()[0], order.job.reservation_id)

    def change() -> Order:
        return write_over(request, sheet, order, states.REVISE, before.estimate if before else None)

    try:
        if sure and form.is_valid():
            sent: dict[str, Any] = form.cleaned_data
            revised = revise(job=order.job, by=request.user, change=change, key=sent["key"], why=sent["why"],
                             agreed_by=sent["agreed_by"], worked_out=before)
            messages.success(request, _said(revised))
            return to_saved_job(request, sheet, order.job)
        looked = preview(job=order.job, by=request.user, change=change, key=sheet.order.cleaned_data["key"],
                         worked_out=before)
    except (DaybookError, ValidationError) as refusal:
        return refused(request, sheet, order, refusal)
    typed = [(name, value) for name, values in request.POST.lists() if name not in OWN for value in values]
    return render(request, "jobs/desk/revise.html", {
        "job": order.job, "revised": looked, "typed": typed, "form": form,
    }, status=REFUSED if form.is_bound else 200)


def _said(revised: Revised) -> str:
    ticket = f" {revised.ticket} is overtaken: print it anew." if revised.ticket else ""
    waits = "" if revised.quote.is_accepted else " It waits for the customer's word."
    return f"{revised.quote} is saved and its stock promised in place of {revised.before}.{waits}{ticket}"
