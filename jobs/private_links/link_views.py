"""What the desk does with a quote's private links: made, shown once, withdrawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from jobs.models import CustomerAnswer, Quote, QuoteLink
from jobs.private_links.links import make_link, withdraw
from jobs.work.possible import possible
from studio.house.clock import today
from studio.house.form_keys import KeyField
from studio.house.http import REFUSED, DeskRequest
from studio.house.typed_fields import DayField
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May

_TOLD = "private_link"
_TONES = {"open": "doing", "over": "attention", "accepted there": "good", "declined there": "danger"}


class LinkForm(forms.Form):
    """A private link: until when it opens."""

    key = KeyField()
    until = DayField(required=False, label="Open until",
                     help_text="For instance in 2 weeks. Empty: as long as the quote is valid.")


@dataclass(frozen=True, kw_only=True)
class LinkRow:
    """A link as the desk reads it: a word of how it stands, its tone, and what was answered there."""

    link: QuoteLink
    state: str
    tone: str
    answer: CustomerAnswer | None
    is_open: bool


def links_shown(quote: Quote) -> dict[str, Any]:
    """Return what a quote's page says of its private links, with the form of a new one where the customer is asked."""
    rows = quote.links.select_related("made_by", "answer").order_by("-pk")
    job = quote.order.job
    can = possible(job, quote, list(quote.order.quotes.all()))
    return {"links": [_row(link) for link in rows], "link_form": LinkForm() if can.send or can.accept else None,
            "mails": list(quote.mails.select_related("by").order_by("-pk"))}


def _row(link: QuoteLink) -> LinkRow:
    answer: CustomerAnswer | None = getattr(link, "answer", None)
    state = link.standing_on(today())
    return LinkRow(link=link, state=state, tone=_TONES.get(state, ""), answer=answer,
                   is_open=link.is_open_on(today()))


def quote_of(pk: int) -> Quote:
    return get_object_or_404(Quote.objects.select_related("order__job", "order__customer", "paper", "made_by"), pk=pk)


@allowed(May.ORDERS)
@require_POST
def new_link(request: DeskRequest, pk: int) -> HttpResponse:
    """Make a quote's private link anew, and lead to the page that shows it once."""
    quote, form = quote_of(pk), LinkForm(request.POST)
    if form.is_valid():
        try:
            made = make_link(quote=quote, by=request.user, key=form.cleaned_data["key"],
                             until=form.cleaned_data["until"])
        except DaybookError as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        else:
            if made.address:
                request.session[_TOLD] = [made.link.pk, made.address]
            return redirect("jobs:link_once", made.link.pk)
    return render(request, "jobs/private_links/new.html", {"quote": quote, "job": quote.order.job, "form": form},
                  status=REFUSED)


@allowed(May.ORDERS)
@require_safe
def link_once(request: DeskRequest, pk: int) -> HttpResponse:
    """Show a link that was just made: once, and nothing keeps it."""
    link = get_object_or_404(QuoteLink.objects.select_related("quote__order__customer"), pk=pk)
    of, address = request.session.get(_TOLD, [0, ""])
    if of != pk:
        messages.warning(request, "That link was shown once, and nothing keeps it. Nobody noted it? Make it anew.")
        return redirect("jobs:quote_page", link.quote_id)
    if request.method == "GET":
        del request.session[_TOLD]
    return render(request, "jobs/private_links/once.html", {"link": link, "quote": link.quote, "address": address})


@allowed(May.ORDERS)
@require_POST
def withdraw_link(request: DeskRequest, pk: int) -> HttpResponse:
    link = withdraw(link=get_object_or_404(QuoteLink.objects.select_related("quote"), pk=pk), by=request.user)
    messages.success(request, f"The link of {link.quote} is withdrawn: it opens nothing any more.")
    return redirect("jobs:quote_page", link.quote_id)
