"""How a job stands and what is done next, in words, and the button that does it: the one source of both."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from django.urls import reverse

from jobs.models import Job, Quote
from jobs.money.of_job import Money
from jobs.quotes.basis import is_ordered_so
from jobs.quotes.way_out import WayOut
from jobs.work import quote_states, states
from jobs.work.overtaken import order_changed

#: where the form of booking stands: it stands only where booking comes next
BOOK = "#book"


@dataclass(frozen=True, kw_only=True)
class NextStep:
    """what: a short sentence; label, address: of its button; posts: it does it at once; keyed: once for each page.
    other: label and address of the opposite answer, where the next action is an answer.

    Without a label nothing is left to do.
    """

    what: str
    label: str = ""
    address: str = ""
    posts: bool = False
    keyed: bool = False
    other: tuple[str, str] | None = None
    sends: Mapping[str, str] = field(default_factory=dict)


def next_in_words(job: Job, paid: Money, waits_for: str = "") -> str:
    """Return how a job stands and what comes next. paid: its money; waits_for: what its ticket waits for, in words.

    job: with its quotes, tickets and runs fetched; nothing is asked.
    """
    if job.is_waiting:
        return _of_quotes_in_words(list(job.order.quotes.all()))
    waiting, run = job.waiting_revision, next(iter(job.open_runs), None)
    if waiting is not None and job.state == states.BOOKED:
        return f"{waiting} waits for the customer's word; until then what was agreed before stands."
    if run is not None and order_changed(run):
        return f"The order was changed: print {str(run.ticket).lower()} anew."
    if run is not None and job.state == states.BOOKED:
        return f"{run.ticket} is printed: begin at the bench."
    if job.state == states.DELIVERED and paid.still_due:
        return f"Delivered: {paid.due_in_words} is still to come."
    if job.is_cancelled and paid.still_here_in_words:
        return f"Cancelled: {paid.still_here_in_words} that came in is still here, give it back."
    if waits_for and run is None and job.state == states.BOOKED:
        return f"Booked: its ticket waits for {waits_for}."
    return states.NEXT[job.state]


def _of_quotes_in_words(quotes: Sequence[Quote]) -> str:
    """Return the sentence of a job that is not booked. quotes: the newest first."""
    quotes = quote_states.not_replaced(quotes)
    accepted = next((quote for quote in quotes if quote.is_accepted), None)
    if accepted is not None and quotes[0].is_unanswered:
        stands = "lapsed" if quotes[0].is_lapsed else "sent"
        return f"{quotes[0]} is {stands} while {accepted} is accepted: record the customer's answer."
    if accepted is not None:
        what = "sample and deposit are in" if accepted.deposit else "the sample is approved"
        return f"The quote is accepted: book it when {what}."
    if not quotes:
        return states.NEXT[states.ENQUIRY]
    newest, standing = quotes[0], quotes[0].standing
    if standing == quote_states.SENT:
        return states.NEXT[states.QUOTED]
    return f"{newest} is {'a draft' if standing == quote_states.DRAFT else standing}: {quote_states.NEXT[standing]}"


def next_step(job: Job, panes_left: int, paid: Money, waits_for: str = "") -> NextStep:
    """Return what comes next. panes_left: what a part done job still falls short of; paid: its money.

    waits_for: what its ticket waits for, in words.
    """
    what = next_in_words(job, paid, waits_for)

    def post(label: str, name: str, args: list[int] | None = None, *, other: tuple[str, str] | None = None,
             **more: str) -> NextStep:
        return NextStep(what=what, label=label, address=reverse(f"jobs:{name}", args=args or [job.number]), posts=True,
                        other=other, keyed=name == "quote", sends=more)

    if job.is_waiting:
        return _of_quote(job, what, list(job.order.quotes.all()), post)
    waiting = job.waiting_revision
    if waiting is not None and job.state == states.BOOKED:
        return post("Mark as accepted", "accepted", [waiting.pk],
                    other=("Mark as declined", reverse("jobs:declined", args=[waiting.pk])))
    if job.state in (states.BOOKED, states.ON_THE_BENCH):
        run = next(iter(job.open_runs), None)
        if run is None and waits_for:
            return NextStep(what=what, label="Look at what it waits for", address="#samples")
        if run is None:
            return post("Make the work ticket", "ticket")
        if order_changed(run):
            return post("Print it anew", "print_anew", ticket=str(run.ticket.number))
        began = job.state == states.ON_THE_BENCH
        return NextStep(what=what, label="Go on at the bench" if began else "Begin at the bench",
                        address=reverse("jobs:steps", args=[run.pk]))
    if job.state == states.PART_DONE:
        return post(f"Print a ticket for the {panes_left} pane{'' if panes_left == 1 else 's'} left", "further_ticket")
    if job.state == states.FINISHED:
        return post("Mark as delivered", "deliver")
    if job.is_cancelled and paid.still_here_in_words:
        return NextStep(what=what, label="Record what was given back", address="#in-back-amount")
    if job.state == states.DELIVERED and paid.still_due:
        return NextStep(what=what, label="Record what came in", address="#in-money-amount")
    return NextStep(what=what, label="Order again", address="#again")


def put_right_first(step: NextStep, refusal: str, ways: Sequence[WayOut]) -> NextStep:
    """Return what comes before a quote that would be refused; the step itself where it is no quote, or would not be.

    refusal: why no quote can be saved; ways: where that is put right.
    """
    if not step.keyed or not ways:
        return step
    return NextStep(what=refusal, label=ways[0].words, address=ways[0].address)


def _of_quote(job: Job, what: str, quotes: Sequence[Quote], post: Callable[..., NextStep]) -> NextStep:
    quotes = quote_states.not_replaced(quotes)
    if not quotes:
        return post("Save as quote", "quote")
    newest, accepted = quotes[0], next((quote for quote in quotes if quote.is_accepted), None)
    if newest.is_unanswered and newest.is_lapsed and accepted is not None:
        return post("Mark as declined", "declined", [newest.pk])
    if newest.choices and newest.standing == quote_states.SENT:  # accepted with one of its options: on its own page
        return NextStep(what=what, label="Look at its options", address=reverse("jobs:quote_page", args=[newest.pk]))
    if newest.is_unanswered and accepted is not None:
        declined = reverse("jobs:declined", args=[newest.pk])
        return post("Mark as accepted", "accepted", [newest.pk], other=("Mark as declined", declined))
    if accepted is not None:
        return _of_accepted(job, what, newest, accepted, post)
    if newest.standing == quote_states.DRAFT:
        return post("Mark as sent", "sent", [newest.pk])
    if newest.standing == quote_states.SENT:
        return post("Mark as accepted", "accepted", [newest.pk])
    return post("Save a new revision at today's price", "quote")


def _of_accepted(
    job: Job, what: str, newest: Quote, accepted: Quote, post: Callable[..., NextStep],
) -> NextStep:
    """An accepted quote is booked, unless the order was changed since: then that is quoted first."""
    if is_ordered_so(job.order, accepted):
        return NextStep(what=what, label="Book the job", address=BOOK)
    changed = f"The order was changed since {accepted} was accepted"
    if newest.standing == quote_states.DRAFT:
        return replace(post("Mark as sent", "sent", [newest.pk]), what=f"{changed}: look {newest} over and send it.")
    again = post("Save a new revision at today's price", "quote")
    return replace(again, what=f"{changed}: save it as a new revision and have it accepted.")
