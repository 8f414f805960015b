"""What is agreed of a booked job while a revision of its order waits for the customer, and its way back.

A change of a booked order that nobody agreed to yet carries the agreed order with it: said no to, or unbooked, the
order, its quote and its promised stock are just what they were. No ticket is printed while a revision waits, so
that nothing is made of what is not agreed and nothing of the bench stands in the way back.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from jobs.kept_orders import Kept, as_it_stands, write_back
from jobs.models import Job, Order, Quote, WorkTicket
from jobs.work import states
from studio.house.clock import now
from studio.kit.errors import DaybookError

#: where the wording of a waiting revision keeps it, and the order that the revision asks for
KEPT, ASKED = "agreed", "asked"


class NotAgreed(DaybookError):
    """The agreed order cannot stand again, or nothing is to be done while a revision of it waits."""


def kept_with(before: Quote, order: Order) -> Kept:
    """Return what a revision that waits keeps: the order as it stands, or what one that waited before it kept."""
    if before.is_unanswered:
        return dict(before.wording.get(KEPT, {}))
    return {**as_it_stands(order), "revision": before.revision}


def agreed_of(quotes: Sequence[Quote], waiting: Quote) -> Quote | None:
    """Return the quote that is agreed while a revision waits; None where the revision does not say which."""
    revision = waiting.wording.get(KEPT, {}).get("revision")
    return next((quote for quote in quotes if quote.revision == revision), None)


def check_nothing_waits(job: Job, what: str) -> None:
    """Refuse to do something before the bench while a revision of a booked order waits. Raises NotAgreed.

    A job may be on the bench with one that was saved before this was asked: it goes on.
    """
    waiting = job.waiting_revision
    if waiting is not None and job.state == states.BOOKED:
        raise NotAgreed(f"{waiting} waits for the customer's word: record that it is accepted or "
                        f"declined, then {what}.")


def restore(job: Job, waiting: Quote, answered: str) -> Quote:
    """Let what was agreed stand again in place of a waiting revision; return its quote. job: locked; it is not saved.

    answered: the state that the revision goes to. Its promised stock is the caller's to swap. Raises NotAgreed.
    """
    agreed = agreed_of(list(job.order.quotes.all()), waiting)
    if agreed is None:
        raise NotAgreed(f"The order as it was before {waiting} was not kept: change it back as a revision of its own.")
    waiting.state, waiting.decided_at = answered, now()
    waiting.save(update_fields=["state", "decided_at"])
    agreed.state = Quote.State.ACCEPTED
    agreed.save(update_fields=["state"])
    write_back(job.order, waiting.wording[KEPT])
    return agreed


def why_answer_stays(job: Job, quote: Quote, quotes: Sequence[Quote], tickets: Iterable[WorkTicket]) -> str:
    """Return why the answer to a revision of a booked job is not undone, in a sentence; nothing where it can be.

    quotes: of the job's order, the newest first; tickets: the job's. Nothing is asked.
    """
    if quote.state not in (Quote.State.ACCEPTED, Quote.State.DECLINED) or not {KEPT, ASKED} <= quote.wording.keys():
        return f"{quote} was no revision that waited for the customer, or is from before its order was kept."
    if quotes[0].pk != quote.pk:
        return f"{quotes[0]} is newer than {quote}: the order was changed once more since."
    agreed, stands = agreed_of(quotes, quote), Quote.State.REPLACED if quote.is_accepted else Quote.State.ACCEPTED
    rests_on = quote if quote.is_accepted else agreed
    if agreed is None or agreed.state != stands or rests_on is None or job.quote_id != rests_on.pk:
        return f"{job} is booked with another quote by now."
    if job.booked_at is not None and job.booked_at > quote.made_at:
        return f"{job} was booked since {quote} was answered: undo the booking first."
    if any(ticket.made_at > quote.made_at for ticket in tickets):
        return f"A ticket was printed since {quote} was saved: change the order by a revision of its own."
    return ""


def wait_again(job: Job, quote: Quote) -> None:
    """Let an answered revision wait for the customer again. job: locked; not saved. Its promises are the caller's."""
    if not quote.is_accepted:
        agreed = agreed_of(list(job.order.quotes.all()), quote)
        assert agreed is not None  # why_answer_stays says so
        agreed.state = Quote.State.REPLACED
        agreed.save(update_fields=["state"])
        write_back(job.order, quote.wording[ASKED])
    quote.state, quote.decided_at = Quote.State.SENT, None
    quote.save(update_fields=["state", "decided_at"])
