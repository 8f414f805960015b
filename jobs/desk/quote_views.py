"""What the owner does with a job's quotes: saved, sent, accepted, declined, printed. One address per action."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST, require_safe

from jobs.desk.job_page import act_on
from jobs.draft import draft_of
from jobs.models import Job, Quote
from jobs.orders.letters import open_points
from jobs.private_links.link_views import links_shown
from jobs.quotes.choosing import choice_of
from jobs.quotes.freezing import QuoteError, WorkedOut, longest_choice
from jobs.quotes.paper import COPIES, paper_or_copy, quote_context, quote_paper
from jobs.quotes.quoting import decide, mark_sent, save_quote, work_out_before
from jobs.week.honest import honest_day_of, names_days
from jobs.work.agreed import agreed_of
from jobs.work.possible import possible
from jobs.work.revising import decline_revision
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest, pdf_response
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May


@allowed(May.ORDERS)
@require_POST
def make_quote(request: DeskRequest, number: int) -> HttpResponse:
    """Save today's estimate as a quote, frozen."""
    key = sent_key(request)

    def act(job: Job) -> str:
        worked_out = work_out_before(draft_of(job.order))
        quote = save_quote(order=job.order, by=request.user, form_key=key, ready=_ready(job, worked_out),
                           worked_out=worked_out)
        still = open_points(job.order).in_words
        return f"{quote} is saved and frozen." + (f" Still to settle: {still}." if still else "")

    return act_on(request, number, act)


def _ready(job: Job, worked_out: WorkedOut | None) -> Mapping[str, Any] | None:
    """Return the first honest day for a quote to name; None where the planner has none, or the week is not set up.

    worked_out: None where the order is refused.
    """
    if worked_out is None or not names_days():
        return None
    try:
        return honest_day_of(job.order, longest_choice(worked_out)).ready
    except DaybookError:  # what refuses the quote is said where it is saved; without a day it says working days
        return None


def _decide(request: DeskRequest, pk: int, *, accept: bool) -> HttpResponse:
    quote = get_object_or_404(Quote.objects.select_related("order__job"), pk=pk)

    who = request.POST.get("who", "")

    def act(_: Job) -> str:
        if not accept and not quote.order.job.is_waiting:
            declined = decline_revision(quote=quote, by=request.user, who=who)
            return f"{declined} is declined: what was agreed before stands again."
        decided = decide(quote=quote, accepted=accept, by=request.user, who=who,
                         choice=request.POST.get("choice", ""))
        return f"{decided} is {decided.state}."

    try:
        if accept and quote.choices:
            choice_of(quote, request.POST.get("choice", ""))
    except QuoteError as refusal:  # said where the options stand
        return _show_quote(request, quote, REFUSED, who=who, choice_errors=[str(refusal)])
    return act_on(request, quote.order.job.number, act)


@allowed(May.ORDERS)
@require_POST
def accepted(request: DeskRequest, pk: int) -> HttpResponse:
    return _decide(request, pk, accept=True)


@allowed(May.ORDERS)
@require_POST
def declined(request: DeskRequest, pk: int) -> HttpResponse:
    return _decide(request, pk, accept=False)


@allowed(May.ORDERS)
@require_POST
def sent(request: DeskRequest, pk: int) -> HttpResponse:
    """Mark a quote as sent: from now on its paper is kept as it is."""
    quote = get_object_or_404(Quote.objects.select_related("order__job"), pk=pk)

    def act(_: Job) -> str:
        mark_sent(quote, request.user)
        quote_paper(quote)
        return f"{quote} is marked as sent."

    return act_on(request, quote.order.job.number, act)


@allowed(May.ORDERS)
@require_safe
def quote_page(request: DeskRequest, pk: int) -> HttpResponse:
    """A quote as the customer reads it, frozen, and what may be done with it next."""
    return _show_quote(request, get_object_or_404(Quote.objects.select_related("order__job", "made_by"), pk=pk))


def _show_quote(request: DeskRequest, quote: Quote, status: int = 200, **more: Any) -> HttpResponse:
    job, quotes = quote.order.job, list(quote.order.quotes.all())
    waiting = job.waiting_revision
    return render(request, "jobs/quotes/quote.html", {
        **quote_context(quote), "job": job, "letter": open_points(quote.order),
        "possible": possible(job, quote, quotes), "until_answer": agreed_of(quotes, waiting) if waiting else None,
        **links_shown(quote), "copies": COPIES, **more,
    }, status=status)


@allowed(May.ORDERS)
@require_safe
def quote_pdf(request: DeskRequest, pk: int) -> HttpResponse:
    """The paper as it is kept; with units a copy in them."""
    quote = get_object_or_404(Quote.objects.select_related("order__job", "paper"), pk=pk)
    return pdf_response(*paper_or_copy(quote, request.GET.get("units", "")))
