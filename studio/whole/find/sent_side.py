"""Find among what went out to customers and came back: letters by e-mail, private links and their answers."""

from __future__ import annotations

from collections.abc import Iterator

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.timezone import localtime

from jobs.models import Quote, QuoteLink, QuoteMail
from jobs.models.quotes import frozen_of
from studio.house.clock import today
from studio.whole.find.asking import Found, holding, named
from studio.whole.find.wanted import Wanted

_FROZEN = frozen_of("quote")


def letters(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield letters with quotes, the newest first, by whom they went to and what they say."""
    rows = QuoteMail.objects.select_related("quote__order__customer").defer(*_FROZEN).order_by("-pk")
    columns = ("addresses", "subject", "text", "quote__order__title", "quote__order__customer__name", "state")
    for mail, why in holding(rows, wanted, columns, lambda mail: (
        ("", f"Letter with {_small(mail.quote)}: {mail.quote.order.title}"), ("to", mail.addresses),
        ("subject", mail.subject), ("customer", mail.quote.order.customer.name), ("state", mail.get_state_display()),
        ("letter", mail.text),
    ), own="letter with quote revision not known to be written"):
        yield Found(name=named(f"Letter with {_small(mail.quote)}: {mail.quote.order.title}", wanted),
                    about=f"{mail.get_state_display()}, {date_format(localtime(mail.written_at), 'j M Y')}", why=why,
                    address=_at(mail.quote))


def links(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield private links, the newest first, by their quote, how they stand, and what was answered there."""
    rows = QuoteLink.objects.select_related("quote__order__customer", "answer").defer(*_FROZEN).order_by("-pk")
    columns = ("quote__order__title", "quote__order__customer__name", "answer__name", "answer__said", "answer__choice")
    for link, why in holding(rows, wanted, columns, lambda link: (
        ("", _link_name(link)), ("customer", link.quote.order.customer.name), ("state", link.standing_on(today())),
        *((("answered by", link.answer.name), ("said", link.answer.said), ("chosen", link.answer.choice))
          if hasattr(link, "answer") else ()),
    ), own="private link of quote revision open withdrawn over accepted declined there"):
        yield Found(name=named(_link_name(link), wanted), about=f"{link.quote.order.customer.name}, "
                    f"{link.standing_on(today())}", why=why, address=_at(link.quote))


def _link_name(link: QuoteLink) -> str:
    return f"Private link of {_small(link.quote)}: {link.quote.order.title}"


def _small(quote: Quote) -> str:
    return f"quote {quote.label}"


def _at(quote: Quote) -> str:
    return f"{reverse('jobs:quote_page', args=[quote.pk])}#links"
