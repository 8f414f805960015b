"""Private addresses of quotes: made, found again by their token, withdrawn. A token is told once and kept nowhere."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from jobs.models import Job, Quote, QuoteLink
from jobs.quotes.paper import quote_paper
from jobs.quotes.quoting import mark_sent
from jobs.work.possible import possible
from studio.house.clock import now, today
from studio.house.models import Person
from studio.kit.errors import DaybookError
from studio.kit.locks import tried_three_times
from studio.kit.private_tokens import hash_of

#: 256 bits; a token of any other form is none
TOKEN_BYTES = 32
_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}")


class NoLink(DaybookError):
    """A private link cannot be made or withdrawn."""


@dataclass(frozen=True, kw_only=True)
class MadeLink:
    """A link and its address; the address is "" where the same form made it before: it is told once."""

    link: QuoteLink
    address: str


def address_of(token: str) -> str:
    """Return the whole address that a customer is given."""
    return settings.PUBLIC_URL + reverse("jobs:customers_page", args=[token])


def link_of(token: str) -> QuoteLink | None:
    """Return the link that a token opens, open or not; None for whatever is no token of one. One query."""
    if not _TOKEN.fullmatch(token):
        return None
    rows = QuoteLink.objects.select_related("quote__order__job", "quote__order__customer", "quote__paper", "answer")
    return rows.filter(token_hash=hash_of(token)).first()


def check_day(quote: Quote, until: date | None) -> date:
    """Return the last day of a link: the quote's own where none is said. Raises NoLink."""
    if until is None:
        return quote.valid_until
    if until < today():
        raise NoLink("That day is over: the link would open nothing.", "until")
    if until > quote.valid_until:
        raise NoLink(f"{quote} is valid until {quote.valid_until:%d %b %Y}: its link does not last longer.", "until")
    return until


def check_goes_out(quote: Quote) -> None:
    """Refuse what is with nobody and does not go to anybody any more. Raises NoLink."""
    job = quote.order.job
    can = possible(job, quote, list(quote.order.quotes.all()))
    if not (can.send or can.accept):
        raise NoLink(f"{quote} is {quote.standing} and {job} {job.state}: no customer is asked about it any more.")


def write_link(quote: Quote, by: Person, key: UUID, until: date) -> tuple[QuoteLink, str]:
    """Keep a new link; return it with its token."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    link = QuoteLink.objects.create(quote=quote, key=key, token_hash=hash_of(token), made_at=now(), made_by=by,
                                    valid_until=until)
    return link, token


def make_link(*, quote: Quote, by: Person, key: UUID, until: date | None = None) -> MadeLink:
    """Make a quote's private address anew; the ones before open nothing any more. A draft is marked as sent by it.

    until: its last day, or the quote's. Raises NoLink, QuoteError.
    """
    known = QuoteLink.objects.filter(key=key).first()
    if known is not None:
        return MadeLink(link=known, address="")
    until = check_day(quote, until)
    check_goes_out(quote)
    quote_paper(quote)  # kept before anybody looks: a look changes nothing
    return _make(quote, by, key, until)


@tried_three_times
@transaction.atomic
def _make(quote: Quote, by: Person, key: UUID, until: date) -> MadeLink:
    Job.objects.select_for_update().get(order=quote.order_id)
    known = QuoteLink.objects.filter(key=key).first()
    if known is not None:
        return MadeLink(link=known, address="")
    if Quote.objects.get(pk=quote.pk).state == Quote.State.DRAFT:
        mark_sent(quote, by)
    withdraw_all(quote, by)
    link, token = write_link(quote, by, key, until)
    return MadeLink(link=link, address=address_of(token))


def withdraw_all(quote: Quote, by: Person, but: QuoteLink | None = None) -> None:
    """Let no address of a quote open it any more, but for one."""
    for link in QuoteLink.objects.select_for_update().filter(quote=quote, withdrawn_at=None):
        if link != but:
            link.withdraw(by, now())


@tried_three_times
@transaction.atomic
def withdraw(*, link: QuoteLink, by: Person) -> QuoteLink:
    """Withdraw a link, once: its address opens nothing any more. What was answered there stays."""
    link = QuoteLink.objects.select_for_update().get(pk=link.pk)
    link.withdraw(by, now())
    return link


