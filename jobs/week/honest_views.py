"""Worked out when somebody asks: when an order could be ready, and what would make a late job ready sooner."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from jobs.models import Job
from jobs.orders.order_form import OrderSheet
from jobs.orders.shown import offer_of_today, order_of, page
from jobs.week.honest import honest_day_of, longest_of_draft, names_days
from jobs.week.kept import standing_plan
from jobs.week.remedies import remedies_of
from jobs.week.week_page import jobs_of, rows_of
from studio.house.http import DeskRequest, posted_from, render_page_or_part
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May


@allowed(May.ORDERS)
@require_safe
def honest_day(request: DeskRequest, number: int) -> HttpResponse:
    """The day that a quote of this order could name today, beside all that is booked and may come."""
    job = get_object_or_404(Job.objects.select_related("order__customer"), number=number)
    found, refusal = None, ""
    if not job.is_waiting:
        refusal = f"{job} is {job.get_state_display()}: the week says when it is ready."
    else:
        try:
            found = honest_day_of(job.order)
        except DaybookError as why:
            refusal = str(why)
    return render_page_or_part(request, "jobs/week/honest.html", "day", {
        "job": job, "found": found, "refusal": refusal, "named": names_days()})


@allowed(May.ORDERS)
@posted_from("jobs:new")
def ready_of_typed(request: DeskRequest) -> HttpResponse:
    """The day that a quote of what is typed could name today; in place of the button for htmx, else the whole form."""
    order = order_of(request.POST.get("job"))
    sheet = OrderSheet(offer_of_today(), request.POST, order)
    found, why = None, ""
    draft, left_out = sheet.draft()
    if left_out or not draft.lines:
        why = "Correct the lines first: then their day can be told."
    else:
        try:
            found = honest_day_of(order, longest_of_draft(draft))
        except DaybookError as refusal:
            why = str(refusal)
    context = {"found": found, "no_day": why, "asked_day": True}
    if not request.htmx:
        return page(request, sheet, order, more=context)
    return render(request, "jobs/week/ready_of_typed.html", context)


@allowed(May.ORDERS)
@require_safe
def sooner(request: DeskRequest, number: int) -> HttpResponse:
    """What was tried for a job of the plan, each with the plan that shows it. Nothing is changed."""
    job = get_object_or_404(Job.objects.select_related("order__customer"), number=number)
    standing = standing_plan()
    mine = next((each for each in jobs_of(standing, [], customers=False) if each.number == number), None)
    found = remedies_of(job) if mine is not None and mine.ready is not None else []
    return render(request, "jobs/week/sooner.html", {
        "job": job, "mine": mine, "remedies": [
            (remedy, [row for row in rows_of(remedy.plan) if row.job == number]) for remedy in found]})
