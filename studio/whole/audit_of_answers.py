"""Check what customers answered, and what they could choose from, against the quotes as they are frozen."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from jobs.models import CustomerAnswer, Quote, QuoteMail
from jobs.models.quotes import frozen_of
from jobs.quotes.fingerprint import fingerprint
from jobs.quotes.freezing import SUMS
from studio.kit.asking import FEW, rows_by_key
from studio.whole.looked_at import LookedAt


def _answers(since: LookedAt) -> Iterator[str]:
    """An answer is of the quote that its hash was taken of, and names one of its choices where there are any."""
    for answer in rows_by_key(CustomerAnswer.objects.select_related("link__quote"), FEW):
        quote = answer.link.quote
        if answer.quote_sha256 != fingerprint(quote):
            yield f"{answer.name} answered another quote than {quote} is: its mark is not the one that was kept."
        labels = {choice["label"] for choice in quote.choices} or {""}
        if answer.accepted and answer.choice not in labels:
            yield f"{answer.name} accepted “{answer.choice}”, which {quote} does not offer."


def _choices(since: LookedAt) -> Iterator[str]:
    """Each choice of a quote comes to what its figures say, and the quote to what its first choice comes to."""
    for quote in rows_by_key(Quote.objects.exclude(choices=[]).defer("basis", "plan", "wording"), FEW):
        for choice in quote.choices:
            price = choice["figures"]["price"]
            if any(Decimal(choice[name]) != Decimal(price[name]) for name in SUMS):
                yield f"{quote}, {choice['label']}, was frozen at {choice['total']}, its figures say {price['total']}."
        if any(Decimal(quote.choices[0][name]) != getattr(quote, name) for name in SUMS):
            yield f"{quote} was frozen at {quote.total}, its first choice at {quote.choices[0]['total']}."


def _letters(since: LookedAt) -> Iterator[str]:
    """A letter goes with a link of its own quote."""
    for mail in rows_by_key(QuoteMail.objects.select_related("quote", "link").defer(*frozen_of("quote")), FEW):
        if mail.link.quote_id != mail.quote_id:
            yield f"A letter with {mail.quote} went with a link of another quote."


CHECKS = (_answers, _choices, _letters)
