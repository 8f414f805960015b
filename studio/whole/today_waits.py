"""What waits on whom: customers, suppliers, the studio; and what has a day in the days to come."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from django.urls import reverse
from django.utils.timezone import localtime

from jobs.models import Job, JobAct, Quote
from jobs.money.of_job import Money
from jobs.work import quote_states, states
from studio.kit.currencies import show_money
from studio.kit.units import show_stock
from studio.stockroom.models import Lot, Purchase
from studio.whole.day_words import day_words, days_words, plain_day
from studio.whole.to_do import BegunCount
from studio.whole.today_shelf import Shelf

#: so far ahead what has a day is listed
AHEAD = timedelta(days=14)


@dataclass(frozen=True, kw_only=True)
class Waits:
    """One thing that waits. who: whose move it is; amount: money, for the owner; state: a word, with its tone."""

    who: str
    what: str
    address: str = ""
    amount: str = ""
    soft: str = ""
    state: str = ""
    tone: str = "attention"


@dataclass(frozen=True, kw_only=True)
class OnADay:
    """What is known of one day. events: what it is, its address (or nothing), and a tone."""

    on: date
    words: str
    events: tuple[tuple[str, str, str], ...]


def of_customers(
    jobs: Iterable[Job], quotes: Mapping[int, Quote], money: Mapping[int, Money], day: date,
) -> list[Waits]:
    """Return what customers have to answer, approve or pay: quotes out, and what a booking went ahead without.

    money: by job number, of those whose deposit is not in.
    """
    return [found for job in jobs
            for found in _of_customer(job, quotes.get(job.order_id), money.get(job.number), day)]


def _of_customer(job: Job, quote: Quote | None, paid: Money | None, day: date) -> list[Waits]:
    who, title, address = job.order.customer.name, job.order.title, reverse("jobs:job", args=[job.number])
    if job.state in states.WAITING and quote is not None:
        asked = paid is not None and bool(paid.open_requests)  # then the deposit is among the requests
        return [_answers(who, title, address, quote, day, asked)] if quote.state != quote_states.DRAFT else []
    if job.state not in (states.BOOKED, states.ON_THE_BENCH, states.PART_DONE):
        return []
    booked = localtime(job.booked_at).date() if job.booked_at else day
    why = f", because “{job.waived_because}”" if job.waived_because else ""
    since = f"booked {plain_day(booked, day)} without it{why}"
    found = [_answers(who, title, address, job.waiting_revision, day)] if job.waiting_revision else []
    if not job.sample_approved:
        found.append(Waits(who=who, what=f"approves the sample of {title}", address=address, soft=since))
    if not job.deposit_noted and paid is not None and paid.deposit_missing and not paid.open_requests:
        rest = "rest of the " if paid.in_hand > 0 else ""
        found.append(Waits(
            who=who, what=f"{rest}deposit of {title}", address=address,
            amount=show_money(Fraction(paid.deposit_missing), paid.currency), soft=since,
            state=f"{days_words((day - booked).days)} since" if booked < day else "",
        ))
    return found


def of_requests(jobs: Iterable[Job], money: Mapping[int, Money], day: date) -> list[Waits]:
    """Return the requests for money that are open, the longest overdue first. money: by job number."""
    found = [(one, job) for job in jobs for one in money[job.number].open_requests]
    return [
        Waits(
            who=job.order.customer.name, what=f"{one.request.kind} {one.request.label} of {job.order.title}",
            amount=one.open_in_words, address=reverse("jobs:job_requests", args=[job.number]),
            soft=f"due {plain_day(one.request.due_on, day)}",
            state=f"{days_words(one.request.days_late(day))} late" if one.request.days_late(day) else "",
        )
        for one, job in sorted(found, key=lambda pair: (pair[0].request.due_on, pair[0].request.number))
    ]


def of_delivered(jobs: Iterable[Job], money: Mapping[int, Money], day: date) -> list[Waits]:
    """Return what is still to come of delivered jobs and no request asks for. money: by job number."""
    return [
        Waits(who=job.order.customer.name, what=f"rest of {job.order.title}",
              amount=show_money(Fraction(money[job.number].not_asked_for), money[job.number].currency),
              address=reverse("jobs:job", args=[job.number]), soft=_delivered(job, day))
        for job in jobs if money[job.number].not_asked_for
    ]


def _delivered(job: Job, day: date) -> str:
    at = max((act.at for act in job.acts.all() if act.kind == JobAct.Kind.DELIVERED and act.at), default=None)
    return f"delivered {plain_day(localtime(at).date(), day)}" if at else "delivered"


def _answers(who: str, title: str, address: str, quote: Quote, day: date, asked: bool = False) -> Waits:
    """Return that a quote waits for its answer, or for what its booking needs. asked: the deposit is asked for."""
    label = f"{quote}".lower()
    if quote.is_accepted:
        return Waits(who=who, what=f"{'sample' if asked else 'sample and deposit'} of {title}, {label}",
                     address=address, amount="" if asked else _money(quote.deposit, quote),
                     soft="accepted, not booked yet")
    sent = f"sent {plain_day(localtime(quote.sent_at).date(), day)}, " if quote.sent_at else ""
    lapsed = quote.standing_on(day) == quote_states.LAPSED
    return Waits(
        who=who, what=f"answers {label}, {title}", address=address, amount=_money(quote.total, quote),
        soft=f"{sent}good until {plain_day(quote.valid_until, day)}", state="lapsed" if lapsed else "",
    )


def _money(amount: Decimal, quote: Quote) -> str:
    return show_money(Fraction(amount), quote.currency)


def of_suppliers(purchases: Iterable[Purchase], held: Iterable[Lot], day: date, *, runs_desk: bool) -> list[Waits]:
    """Return ordered goods that did not come, and held lots, each with whose they are. Nobody's price is in it."""
    buying = reverse("jobs:buying") if runs_desk else ""
    found = [_ordered(purchase, buying, day) for purchase in purchases]
    return found + [
        Waits(who=lot.supplier or "Made here", what=f"{lot.material.name}, {lot.lot_number}", soft=lot.hold_reason,
              address=reverse("stockroom:lot", args=[lot.pk]), state="held", tone="danger")
        for lot in held
    ]


def _ordered(purchase: Purchase, buying: str, day: date) -> Waits:
    due = purchase.due_on
    late = due is not None and due < day
    soft = f"promised {plain_day(due, day) if late else day_words(due, day)}" if due else (
        f"ordered {plain_day(purchase.ordered_on, day)}, no day promised")
    return Waits(
        who=purchase.supplier or "A supplier", what=f"{_amount(purchase)} {purchase.material.name}", address=buying,
        soft=soft, state=f"{days_words((day - due).days)} late" if late and due else "",
    )


def _amount(purchase: Purchase) -> str:
    return show_stock(Fraction(purchase.quantity), purchase.material.stock_unit)


def of_the_studio(
    jobs: Iterable[Job], quotes: Mapping[int, Quote], counts: Sequence[BegunCount], day: date, *, runs_desk: bool,
) -> list[Waits]:
    """Return the enquiries to price, for the owner, and the counts begun."""
    found = [
        Waits(who="You", what=f"price {job.order.title}", address=reverse("jobs:job", args=[job.number]),
              soft=f"enquiry of {plain_day(localtime(job.order.entered_at).date(), day)}")
        for job in jobs if runs_desk and job.state in states.WAITING and job.order_id not in quotes
    ]
    return found + [
        Waits(who="The studio", what=f"count {count.place or 'all places'}", address=count.address,
              soft=f"begun {plain_day(count.begun, day)}, {count.counted} of {count.of}") for count in counts
    ]


def of_cancelled(jobs: Iterable[Job], money: Mapping[int, Money]) -> list[Waits]:
    """Return the money of cancelled jobs that is still here and is to be given back. money: by job number."""
    return [
        Waits(who="You", what=f"{still} of a cancelled job is still here",
              address=reverse("jobs:job", args=[job.number]), soft=f"{job.order.title}: give it back, and record it")
        for job in jobs if (still := money[job.number].still_here_in_words)
    ]


def by_day(
    jobs: Iterable[Job], quotes: Mapping[int, Quote], purchases: Iterable[Purchase], shelf: Shelf, *, runs_desk: bool,
) -> list[OnADay]:
    """Return what has a day from today on, day by day, as people said it: nothing here is worked out or promised."""
    day, events = shelf.day, defaultdict[date, list[tuple[str, str, str]]](list)
    for job in jobs:
        if job.due_on and job.is_open and job.was_booked:
            address = reverse("jobs:job", args=[job.number]) if runs_desk else ""
            events[job.due_on].append((f"{job.order.title} is due", address, ""))
        quote = quotes.get(job.order_id)
        if runs_desk and quote is not None and quote.standing_on(day) == quote_states.SENT:
            events[quote.valid_until].append(
                (f"{quote}, {job.order.title}: last day", reverse("jobs:job", args=[job.number]), ""))
    for purchase in purchases:
        if purchase.due_on:
            whose = f", {purchase.supplier}" if purchase.supplier else ""
            events[purchase.due_on].append((f"{_amount(purchase)} {purchase.material.name} to come{whose}",
                                            reverse("jobs:buying") if runs_desk else "", ""))
    for on, lot in shelf.ending:
        events[on].append((f"{lot.material.name}, {lot.lot_number}: expires", reverse("stockroom:lot", args=[lot.pk]),
                           "attention"))
    return [OnADay(on=on, words=day_words(on, day), events=tuple(events[on]))
            for on in sorted(events) if day <= on <= day + AHEAD]
