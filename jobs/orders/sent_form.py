"""An order form that was sent: written over its order, refused beside its fields, or answered once it is saved.

The same for an order before it is booked and for a change of one that is.
"""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect

from jobs.estimating.estimate import Estimate
from jobs.models import Job, Order
from jobs.orders.letters import keep_letter
from jobs.orders.order_form import OrderSheet
from jobs.orders.saving import change_order
from jobs.orders.shown import page
from jobs.work import states
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.kit.errors import DaybookError

#: tells the page that a form is saved, so that what the browser kept of it is thrown away
SAVED = "saved-order"
KEPT_FOR_SECONDS = 7 * 86_400


def write_over(
    request: DeskRequest, sheet: OrderSheet, order: Order, act: states.Act = states.CHANGE,
    ahead: Estimate | None = None,
) -> Order:
    """Save what was sent over an order, its letter too; raises as change_order does. Within a transaction.

    ahead: what was sent, worked out before it.
    """
    for name, value in sheet.own_values().items():
        setattr(order, name, value)
    changed = change_order(order=order, saves=sent_saves(request), typed_lines=sheet.typed_lines(), by=request.user,
                           bought_in=sheet.bought_in_items(), act=act, ahead=ahead)
    keep_letter(changed, request.POST, request.user)
    return changed


def refused(
    request: DeskRequest, sheet: OrderSheet, order: Order | None, refusal: DaybookError | ValidationError
) -> HttpResponse:
    """Return the form as it was typed, with why it is not saved."""
    if isinstance(refusal, DaybookError):
        carry_new_saves(request, refusal)
        sheet.put(refusal)
    else:
        sheet.refusal = " ".join(refusal.messages)
    return page(request, sheet, order, REFUSED, price=False)


def to_saved_job(request: DeskRequest, sheet: OrderSheet, job: Job) -> HttpResponse:
    """Lead to the job of a saved order, and let the browser throw away what it kept of this form at this count."""
    answer = redirect("jobs:job", job.number)
    answer.set_cookie(
        f"{SAVED}-{sheet.order.cleaned_data['key']}", request.POST.get("saves", ""), max_age=KEPT_FOR_SECONDS,
        samesite="Strict", secure=request.is_secure(),
    )
    return answer
