"""Pages of silver: a job's, and the whole account."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from jobs.draft import draft_of
from jobs.estimating.published_silver import PUBLISHED
from jobs.looking_back.silver import silver_figures
from jobs.looking_back.silver_account import silver_account
from jobs.models import Job, Run
from jobs.quotes.pricing import price_order
from jobs.work.booking import frozen_estimate
from jobs.work.silver import silver_of_runs
from studio.house.clock import today
from studio.house.http import DeskRequest
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May


@allowed(May.ORDERS)
@require_safe
def job_silver(request: DeskRequest, number: int) -> HttpResponse:
    """A job's silver: as planned, and as its runs took and passed it."""
    job = get_object_or_404(Job.objects.select_related("order__customer", "quote"), number=number)
    context: dict[str, Any] = {"job": job, "published": PUBLISHED}
    try:
        estimate = frozen_estimate(job.quote) if job.quote else price_order(draft_of(job.order), today())
        area = sum((size.area_m2 * size.line.quantity for size in estimate.sizes), Fraction(0))
        context |= silver_figures(estimate, area) | {"area": area}
    except DaybookError as refusal:
        context["refusal"] = str(refusal)
    context["actual"] = _actual(job)
    return render(request, "jobs/looking_back/job_silver.html", context)


def _actual(job: Job) -> dict[str, Fraction] | None:
    """Return grams of silver that a job's finished runs took, and what stands on the panes they passed."""
    runs = list(Run.objects.filter(ticket__job=job, finished_at__isnull=False))
    return silver_of_runs(runs) if runs else None


@allowed(May.ORDERS)
@require_safe
def silver_account_page(request: DeskRequest) -> HttpResponse:
    """Silver bought, on the shelf, on good glass, in containers, sent away, unaccounted."""
    return render(request, "jobs/looking_back/silver_account.html", {"account": silver_account()})
