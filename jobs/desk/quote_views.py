"""What the owner does with a job's quotes: saved, sent, accepted, declined, printed. One address per action."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_POST, require_safe

from jobs.desk.job_page import act_on
from jobs.models import Job, Quote
from jobs.quotes.paper import quote_paper
from jobs.quotes.quoting import decide, mark_sent, save_quote
from studio.house.form_keys import sent_key
from studio.house.http import DeskRequest, pdf_response
from studio.kit.access import owner_only


@owner_only
@require_POST
def make_quote(request: DeskRequest, number: int) -> HttpResponse:
    """Save today's estimate as a quote, frozen."""
    key = sent_key(request)

    def act(job: Job) -> str:
        return f"{save_quote(order=job.order, by=request.user, form_key=key)} is saved and frozen."

    return act_on(request, number, act)


def _decide(request: DeskRequest, pk: int, *, accept: bool) -> HttpResponse:
    quote = get_object_or_404(Quote.objects.select_related("order__job"), pk=pk)

    def act(_: Job) -> str:
        decided = decide(quote=quote, accepted=accept)
        return f"{decided} is {decided.state}."

    return act_on(request, quote.order.job.number, act)


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

    return act_on(request, quote.order.job.number, act)


@owner_only
@require_safe
def quote_pdf(request: DeskRequest, pk: int) -> HttpResponse:
    quote = get_object_or_404(Quote.objects.select_related("order__job", "paper"), pk=pk)
    return pdf_response(quote_paper(quote), f"quote-{quote.number}-{quote.revision}.pdf")
