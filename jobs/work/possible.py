"""What can be done with one quote of a job now: a button stands only where its act is possible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jobs.models import Job, Quote
from jobs.work import quote_states, states


@dataclass(frozen=True, kw_only=True)
class Possible:
    """send, accept, decline: whether the quote can be sent, accepted or declined as it and its job stand."""

    send: bool = False
    accept: bool = False
    decline: bool = False

    @property
    def anything(self) -> bool:
        return self.send or self.accept or self.decline


def possible(job: Job, quote: Quote, quotes: Sequence[Quote]) -> Possible:
    """Return what can be done with a quote. quotes: all of its order.

    Of a job not booked: a draft that a later revision followed is neither sent nor accepted any more, nor is a quote
    accepted beside a newer one that is out. Of a booked one only the revision that waits is answered.
    """
    if not job.is_waiting:
        waits = job.waiting_revision is not None and job.quote_id == quote.pk
        return Possible(accept=waits, decline=waits and states.allows(job.state, states.DECLINE))
    newer = [row for row in quote_states.not_replaced(quotes) if row.revision > quote.revision]
    overtaken = any(row.state in (quote_states.SENT, quote_states.ACCEPTED) for row in newer)
    old_draft = bool(newer) and quote.state == quote_states.DRAFT
    return Possible(
        send=quote.can_send and not newer, accept=quote.can_accept and not overtaken and not old_draft,
        decline=quote.can_decline and not old_draft,
    )
