"""The owner's list of jobs, and a job's page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.desk.job_list import customers_with_jobs, list_of, next_of
from jobs.desk.job_page import job_of, show_job
from jobs.models import Job
from jobs.work import states
from studio.house.clock import today
from studio.house.http import DeskRequest
from studio.house.models import HouseRates
from studio.kit.access import allowed
from studio.kit.roles import May


@allowed(May.ORDERS)
@require_safe
def job_list(request: DeskRequest) -> HttpResponse:
    """The jobs that the address asks for, what is next first."""
    listing, rates = list_of(request), HouseRates.known_on(today())
    asked = {name: request.GET.get(name, "") for name in ("state", "customer", "q")}
    waiting = Job.objects.filter(state=states.FINISHED).count()
    return render(request, "jobs/desk/list.html", {
        "listing": listing, "asked": asked, "states": Job.State.choices, "customers": customers_with_jobs(),
        "today": today(), "next": next_of(list(listing.rows), rates.currency if rates else ""),
        "any": any(asked.values()), "not_delivered": waiting,
    })


@allowed(May.ORDERS)
@require_safe
def job_page(request: DeskRequest, number: int) -> HttpResponse:
    return show_job(request, job_of(number))
