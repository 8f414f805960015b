"""The owner's pages of the jobs: the list, a job, its quotes, booking and tickets. One address per action."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from django.contrib import messages
from django.db.models import Prefetch, prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from jobs.draft import draft_of
from jobs.estimating.estimate import Estimate
from jobs.looking_back.comparison import compare
from jobs.looking_back.made_so_far import beyond_what_was_made
from jobs.models import Job, Quote, WorkTicket
from jobs.quotes.basis_moved import BasisMoved, basis_moved
from jobs.quotes.frozen_plan import stock_needed
from jobs.quotes.paper import quote_paper
from jobs.quotes.pricing import price_order, shortages_of
from jobs.quotes.quoting import decide, mark_sent, save_quote
from jobs.work.booking import book_job, cancel, deliver, frozen_estimate, frozen_plan
from jobs.work.forms import BookingForm
from jobs.work.ticketing import make_ticket
from recipes.models import RecipeVersion
from studio.house.clock import today
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest, pdf_response, sent_saves
from studio.house.models import HouseRates
from studio.kit.access import owner_only
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile


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


def _job(number: int) -> Job:
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
    in_use_now = RecipeVersion.objects.filter(finish_id__in=[one.finish_id for one in mine]).in_use()
    for version in in_use_now.select_related("finish").order_by("number"):
        newest[version.finish_id] = version
    return [
        (one, newest[one.finish_id]) for one in sorted(mine, key=lambda version: version.pk)
        if one.finish_id in newest and newest[one.finish_id].number > one.number
    ]


def _page(request: DeskRequest, job: Job, status: int = 200, **more: Any) -> HttpResponse:
    day = today()
    context: dict[str, Any] = {
        "job": job, "order": job.order, "quotes": list(job.order.quotes.all()), "today": day,
        "newer": _newer_versions(job), "compared": compare(job),
        "rates": HouseRates.known_on(day),
    }
    if job.shows_shortages:
        context |= _prices(job, day)
    if "booking" not in more:
        ready = context["done"].promise.hand_over_on if "done" in context else None
        context["booking"] = BookingForm(initial={"due_on": job.due_on or job.order.due_on or ready})
    return render(request, "jobs/desk/job.html", {**context, **more}, status=status)


def _prices(job: Job, day: date) -> dict[str, Any]:
    """Return what the page says of a job before the bench: today's price beside its quote's; booked, what it needs.

    A booked job needs what its quote's plan froze, whatever today's price would be, or whether there is one.
    """
    context: dict[str, Any] = {}
    if job.quote is not None:
        plan = frozen_plan(job.quote)
        context = {"done": plan.done, "shortages": shortages_of(plan.stock, day, leaving_out=job.reservation_id)}
    try:
        done = price_order(draft_of(job.order), day, job.reservation_id)
    except DaybookError as refusal:
        return context or {"refusal": str(refusal)}
    if not context:
        context = {"done": done, "shortages": shortages_of(stock_needed(done), day)}
    return {**context, "moved": _moved(job, done), "beyond": beyond_what_was_made(done)}


def _moved(job: Job, now: Estimate) -> tuple[Quote, BasisMoved] | None:
    """Return the newest quote that is still open, with what it rests on that has moved since; None: nothing has."""
    quote = next(iter(job.order.quotes.all()), None)
    if quote is None or not quote.stands_open:
        return None
    found = basis_moved(frozen_estimate(quote), now)
    return (quote, found) if found.moved else None


@owner_only
@require_safe
def job_page(request: DeskRequest, number: int) -> HttpResponse:
    return _page(request, _job(number))


def _act(request: DeskRequest, number: int, act: Callable[[Job], str]) -> HttpResponse:
    """Do one thing to a job and say so, or show why it cannot be done."""
    job = _job(number)
    try:
        said = act(job)
    except DaybookError as refusal:
        return _page(request, job, REFUSED, refusal=str(refusal))
    messages.success(request, said)
    return redirect("jobs:job", number)


@owner_only
@require_POST
def make_quote(request: DeskRequest, number: int) -> HttpResponse:
    """Save today's estimate as a quote, frozen."""
    key = sent_key(request)

    def act(job: Job) -> str:
        return f"{save_quote(order=job.order, by=request.user, form_key=key)} is saved and frozen."

    return _act(request, number, act)


def _decide(request: DeskRequest, pk: int, *, accept: bool) -> HttpResponse:
    quote = get_object_or_404(Quote.objects.select_related("order__job"), pk=pk)

    def act(_: Job) -> str:
        decided = decide(quote=quote, accepted=accept)
        return f"{decided} is {decided.state}."

    return _act(request, quote.order.job.number, act)


@owner_only
@require_POST
def accepted(request: DeskRequest, pk: int) -> HttpResponse:
    return _decide(request, pk, accept=True)


@owner_only
@require_POST
def declined(request: DeskRequest, pk: int) -> HttpResponse:
    return _decide(request, pk, accept=False)


@owner_only
@require_POST
def sent(request: DeskRequest, pk: int) -> HttpResponse:
    """Mark a quote as sent: from now on its paper is kept as it is."""
    quote = get_object_or_404(Quote.objects.select_related("order__job"), pk=pk)

    def act(_: Job) -> str:
        mark_sent(quote)
        quote_paper(quote)
        return f"{quote} is marked as sent."

    return _act(request, quote.order.job.number, act)


@owner_only
@require_safe
def quote_pdf(request: DeskRequest, pk: int) -> HttpResponse:
    quote = get_object_or_404(Quote.objects.select_related("order__job", "paper"), pk=pk)
    return pdf_response(quote_paper(quote), f"quote-{quote.number}-{quote.revision}.pdf")


def _asked_for(form: BookingForm) -> str:
    """Return what a booking asked for, in words: a job that is booked shows no form to keep it in."""
    sent = form.cleaned_data
    due = f"{sent['due_on']:%d %b %Y}" if sent["due_on"] else "not said"
    because = f", going ahead because “{sent['waived_because']}”" if sent["waived_because"] else ""
    return f"You asked for: due {due}{because}."


@owner_only
@require_POST
def book(request: DeskRequest, number: int) -> HttpResponse:
    """Book the job: sample and deposit are in, or the owner says why not."""
    job = _job(number)
    form = BookingForm(request.POST)
    if not form.is_valid():
        return _page(request, job, REFUSED, booking=form)
    try:
        book_job(job=job, by=request.user, saves=sent_saves(request), **form.cleaned_data)
    except ChangedMeanwhile as refusal:
        return _page(request, job, REFUSED, refusal=f"{refusal} {_asked_for(form)}")
    except DaybookError as refusal:
        form.add_error(refusal.field or None, str(refusal))
        return _page(request, job, REFUSED, booking=form)
    messages.success(request, "The job is booked and its stock is promised.")
    return redirect("jobs:job", number)


@owner_only
@require_POST
def ticket(request: DeskRequest, number: int) -> HttpResponse:
    """Print a work ticket and open its run."""
    return _act(request, number, lambda job: f"{make_ticket(job=job, by=request.user)} is ready to print.")


@owner_only
@require_POST
def cancel_job(request: DeskRequest, number: int) -> HttpResponse:
    def act(job: Job) -> str:
        cancel(job=job, saves=sent_saves(request))
        return "The job is cancelled; what was promised to it is free again."

    return _act(request, number, act)


@owner_only
@require_POST
def deliver_job(request: DeskRequest, number: int) -> HttpResponse:
    def act(job: Job) -> str:
        deliver(job=job)
        return "The job is delivered."

    return _act(request, number, act)
