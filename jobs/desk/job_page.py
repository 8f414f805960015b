"""A job's page: what it gathers of the order, its quotes, its price today and its runs, and how an act is answered."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from django.contrib import messages
from django.db.models import Prefetch, prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from jobs.draft import draft_of
from jobs.estimating.estimate import Estimate
from jobs.looking_back.comparison import compare, rework_of
from jobs.looking_back.made_so_far import beyond_what_was_made
from jobs.models import Job, Quote, Run, WorkTicket
from jobs.quotes.costs_changed import CostsChanged, costs_changed
from jobs.quotes.frozen_plan import stock_needed
from jobs.quotes.pricing import price_order, shortages_of
from jobs.work.booking import frozen_estimate, frozen_plan
from jobs.work.clock import standing_of_job
from jobs.work.forms import BookingForm, CancelForm
from jobs.work.in_doubt import jobs_in_doubt
from jobs.work.overtaken import overtaken
from recipes.models import RecipeVersion
from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, carry_new_saves
from studio.house.models import House, HouseRates
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError


def job_of(number: int) -> Job:
    quotes = Quote.objects.select_related("made_by", "paper")
    tickets = WorkTicket.objects.select_related("made_by", "run__finished_by", "run__made_safe_by", "paper")
    rows = Job.objects.select_related("order__customer", "quote", "reservation")
    job = get_object_or_404(rows.prefetch_related(Prefetch("tickets", tickets)), number=number)
    prefetch_related_objects([job.order], Prefetch("quotes", quotes), "bought_in")
    paths = ("order__lines__recipe_version__finish", "order__lines__glass", "reservation__amounts__material")
    return fetched([job], *paths)[0]


def _newer_versions(job: Job) -> list[tuple[RecipeVersion, RecipeVersion]]:
    """Return the recipe versions of a job that a newer one in use has followed."""
    mine = {line.recipe_version for line in job.order.lines.all()}
    newest: dict[int, RecipeVersion] = {}
    in_use_now = RecipeVersion.objects.filter(finish_id__in=[version.finish_id for version in mine]).in_use()
    for version in in_use_now.select_related("finish").order_by("number"):
        newest[version.finish_id] = version
    return [
        (version, newest[version.finish_id]) for version in sorted(mine, key=lambda row: row.pk)
        if version.finish_id in newest and newest[version.finish_id].number > version.number
    ]


def _open_runs(job: Job) -> list[Run]:
    return [run for ticket in job.tickets.all() if (run := ticket.own_run) is not None and run.is_open]


def show_job(request: DeskRequest, job: Job, status: int = 200, **more: Any) -> HttpResponse:
    day = today()
    context: dict[str, Any] = {
        "job": job, "order": job.order, "quotes": list(job.order.quotes.all()), "today": day,
        "newer": _newer_versions(job), "compared": compare(job), "rework": rework_of(job),
        "rates": HouseRates.known_on(day),
        "doubts": [said for _, doubts in jobs_in_doubt([job]) for said in doubts],
        "overtaken": [said for _, sentences in overtaken(_open_runs(job)) for said in sentences],
        "standing": standing_of_job(job, House.objects.first() or House()),
    }
    if job.shows_shortages:
        context |= _prices(job, day)
    if "estimate" in context:
        context["shows_margin"] = context["estimate"].price.margin_reached is not None
    if "cancelling" not in more:
        context["cancelling"] = CancelForm()
    if "booking" not in more:
        ready = context["estimate"].promise.hand_over_on if "estimate" in context else None
        context["booking"] = BookingForm(initial={"due_on": job.due_on or job.order.due_on or ready})
    return render(request, "jobs/desk/job.html", {**context, **more}, status=status)


def _prices(job: Job, day: date) -> dict[str, Any]:
    """Return what the page says of a job before the bench: today's price beside its quote's; booked, what it needs.

    A booked job needs what its quote's plan froze, whatever today's price would be, or whether there is one.
    """
    context: dict[str, Any] = {}
    if job.quote is not None:
        plan = frozen_plan(job.quote)
        short = shortages_of(plan.stock, day, own_reservation=job.reservation_id)
        context = {"estimate": plan.estimate, "shortages": short}
    try:
        estimate = price_order(draft_of(job.order), day, job.reservation_id)
    except DaybookError as refusal:
        return context or {"refusal": str(refusal)}
    if not context:
        context = {"estimate": estimate, "shortages": shortages_of(stock_needed(estimate), day)}
    return {**context, "changed": _costs_changed(job, estimate), "beyond": beyond_what_was_made(estimate)}


def _costs_changed(job: Job, now: Estimate) -> tuple[Quote, CostsChanged] | None:
    """Return the newest quote that is still open, with the costs that have changed since; None: nothing has."""
    quote = next(iter(job.order.quotes.all()), None)
    if quote is None or not quote.stands_open:
        return None
    found = costs_changed(frozen_estimate(quote), now)
    return (quote, found) if found.changes else None


def act_on(request: DeskRequest, number: int, act: Callable[[Job], str]) -> HttpResponse:
    """Do one thing to a job and say so, or show why it cannot be done."""
    job = job_of(number)
    try:
        said = act(job)
    except DaybookError as refusal:
        carry_new_saves(request, refusal)
        return show_job(request, job, REFUSED, refusal=str(refusal))
    messages.success(request, said)
    return redirect("jobs:job", number)
