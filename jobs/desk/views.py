"""The owner's list of jobs, and a job's page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.desk.job_page import job_of, show_job
from jobs.models import Job
from studio.house.clock import today
from studio.house.http import DeskRequest
from studio.kit.access import owner_only
from studio.kit.asking import fetched


@owner_only
@require_safe
def job_list(request: DeskRequest) -> HttpResponse:
    """Every job, newest first, or those in one state."""
    wanted = request.GET.get("state", "")
    rows = Job.objects.select_related("order__customer", "quote")
    if wanted in Job.State.values:
        rows = rows.standing(wanted, today())
    jobs = fetched(rows, "order__quotes", "order__lines")
    return render(request, "jobs/desk/list.html", {"jobs": jobs, "wanted": wanted, "states": Job.State.choices})


@owner_only
@require_safe
def job_page(request: DeskRequest, number: int) -> HttpResponse:
    return show_job(request, job_of(number))
