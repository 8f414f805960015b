"""Settling, one by one, what the customer's letter leaves open, and opening it again."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from jobs.desk.job_page import job_of, show_job
from jobs.orders.letters import open_points, settle_point
from studio.house.http import REFUSED, DeskRequest
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May


@allowed(May.ORDERS)
@require_POST
def settle_letter(request: DeskRequest, number: int, key: str) -> HttpResponse:
    """Settle one thing of the letter without changing the order; with “again”, open it."""
    job = job_of(number)
    again = "again" in request.POST
    try:
        settle_point(job.order, key, request.user, again=again)
    except DaybookError as refusal:
        return show_job(request, job, REFUSED, refusal=str(refusal))
    still = open_points(job.order).in_words
    messages.success(request, "Open again." if again else f"Settled. Still to settle: {still}." if still else
                     "Settled: the letter leaves nothing open.")
    return redirect(f"{reverse('jobs:job', args=[number])}#letter")
