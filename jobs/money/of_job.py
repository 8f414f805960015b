"""A job's money: what was agreed, what came in, what is still to come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from jobs.acts import fees_of, in_hand
from jobs.models import Job, JobAct, MoneyRequest, Quote
from jobs.money.sums import Asked, standings
from jobs.work.agreed import agreed_of
from studio.house.templatetags.figures import money


@dataclass(frozen=True, kw_only=True)
class RequestStands:
    """How a request for money stands: credited and paid of it, and what is still open. No credit is one."""

    request: MoneyRequest
    credited: Decimal
    paid: Decimal
    open: Decimal
    currency: str

    @property
    def in_words(self) -> str:
        """Return how it stands: “taken back”, “paid”, “£105.00 open”."""
        if self.open > 0:
            return f"{money(self.open, self.currency)} open"
        return "paid" if self.paid > 0 else "taken back"

    @property
    def open_in_words(self) -> str:
        return money(self.open, self.currency)


@dataclass(frozen=True, kw_only=True)
class Money:
    """quote: that is agreed, else the newest; waiting: a revision of a booked one that nobody agreed to; in_hand:
    what came in and was not given back; paid: each act of it that stands; cancelled: nothing more is to come.
    asked: every request for money of it, by number, credits among them; empty where none was fetched."""

    quote: Quote | None
    agreed: bool
    waiting: Quote | None = None
    deposit: Decimal
    in_hand: Decimal
    paid: Sequence[JobAct]
    currency: str
    cancelled: bool = False
    asked: Sequence[MoneyRequest] = ()

    @property
    def fees(self) -> Decimal:
        """Return what was asked for samples, beside what is agreed: of what comes in they are paid first."""
        return fees_of(self.asked)

    @property
    def in_for_the_work(self) -> Decimal:
        """Return what is in beyond the fees of samples."""
        return max(self.in_hand - self.fees, Decimal(0))

    @property
    def due_in_all(self) -> Decimal:
        """Return what is agreed, with what was asked for samples."""
        return (self.quote.total if self.quote is not None else Decimal(0)) + self.fees

    @property
    def asked_for(self) -> Decimal:
        """Return what was asked for in all, less what was taken back."""
        return sum((row.total for row in self.asked), Decimal(0))

    @property
    def requests(self) -> list[RequestStands]:
        """Return how each request stands, by number: what came in is paid on the oldest first."""
        found, _ = standings([as_asked(row) for row in self.asked], self.in_hand)
        rows = {row.number: row for row in self.asked}
        return [RequestStands(request=rows[one.asked.number], credited=one.credited, paid=one.paid, open=one.open,
                              currency=self.currency) for one in found]

    @property
    def open_requests(self) -> list[RequestStands]:
        return [one for one in self.requests if one.open > 0]

    @property
    def open_of_requests(self) -> Decimal:
        return sum((one.open for one in self.open_requests), Decimal(0))

    @property
    def not_asked_for(self) -> Decimal:
        """Return what is still to come that no open request asks for."""
        return max((self.still_due or Decimal(0)) - self.open_of_requests, Decimal(0))

    @property
    def unpaid_in_words(self) -> str:
        """Return what of the deposit, or of the rest, is not in: “£605.00 of the deposit”; "" where all is."""
        missing, due = self.deposit_missing, self.still_due
        if not due:
            return ""
        if missing and missing < due:
            return (f"{money(missing, self.currency)} of the deposit and "
                    f"{money(due - missing, self.currency)} of the balance are")
        return f"{money(due, self.currency)} of {'the deposit' if missing else 'the balance'} is"

    @property
    def still_due(self) -> Decimal | None:
        """Return what is still to come of what is agreed; None where nothing is agreed, or nothing more is due."""
        if self.cancelled or self.quote is None or not self.agreed or self.due_in_all <= self.in_hand:
            return None
        return self.due_in_all - self.in_hand

    @property
    def due_in_words(self) -> str:
        return money(self.still_due, self.currency) if self.still_due else ""

    @property
    def still_here_in_words(self) -> str:
        """Return what of a cancelled job is to be given back."""
        return money(self.to_give_back, self.currency) if self.cancelled and self.to_give_back else ""

    @property
    def asks_no_deposit(self) -> bool:
        return self.quote is not None and not self.deposit

    @property
    def too_much(self) -> Decimal | None:
        if self.cancelled or self.quote is None or not self.agreed or self.due_in_all >= self.in_hand:
            return None
        return self.in_hand - self.due_in_all

    @property
    def to_give_back(self) -> Decimal | None:
        """Return what is in and is owed to nobody's work: of a cancelled job all but its samples' fees, else too much.
        """
        return (self.in_for_the_work or None) if self.cancelled else self.too_much

    @property
    def deposit_missing(self) -> Decimal | None:
        """Return how much of the deposit asked for is not in."""
        if not self.agreed or self.cancelled or not self.deposit:
            return None
        return max(self.deposit + self.fees - self.in_hand, Decimal(0)) or None

    @property
    def missing_in_words(self) -> str:
        """Return what of the deposit comes in once it is said to be in: “€605.00 more came in”."""
        if not self.deposit_missing:
            return ""
        return f"{money(self.deposit_missing, self.currency)} {'more ' if self.in_hand > 0 else ''}came in"

    @property
    def standing_until_answer(self) -> Quote | None:
        """Return the quote that stands while a revision waits for the customer's word."""
        return self.quote if self.waiting is not None and self.agreed else None

    @property
    def paid_in_words(self) -> list[tuple[JobAct, str]]:
        """Return each act of money with what it is: the deposit is in with the one that reaches it."""
        found, so_far, reached = [], -self.fees, self.deposit <= 0
        for act in self.paid:
            so_far += in_hand([act])
            if act.went_back:
                found.append((act, "Given back"))
                continue
            found.append((act, "In" if reached or so_far < self.deposit else "Deposit in"))
            reached = reached or so_far >= self.deposit
        return found

    @property
    def deposit_is_in(self) -> bool:
        return self.agreed and self.deposit > 0 and self.in_hand >= self.deposit + self.fees


def as_asked(row: MoneyRequest) -> Asked:
    """Return a request as the sums read it. Its credited one is asked of the database unless it was fetched."""
    return Asked(number=row.number, total=row.total, due_on=row.due_on,
                 credits=row.credits.number if row.credits is not None else None)


def requests_of(job: Job) -> list[MoneyRequest]:
    """Return every request of a job, by number, each with the one that it credits. One query."""
    return list(job.money_requests.to_sum_up())


def agreed_quote(job: Job) -> Quote | None:
    """Return the quote that is agreed: while a revision of a booked job waits the one before it; None: none is."""
    quotes = list(job.order.quotes.all())
    if waiting := job.waiting_revision:
        return agreed_of(quotes, waiting)
    return job.quote or next((quote for quote in quotes if quote.is_accepted), None)


def money_of(job: Job, acts: Sequence[JobAct], currency: str, asked: Sequence[MoneyRequest] = ()) -> Money:
    """Return the money of a job. acts: all of it, in order; currency: of the rates, where no quote says it.

    asked: its requests, by number, each with the one that it credits.
    """
    undone = {act.undoes_id for act in acts if act.undoes_id}
    money = (JobAct.Kind.PAID, JobAct.Kind.GIVEN_BACK)
    paid = [act for act in acts if act.kind in money and act.pk not in undone]
    agreed = agreed_quote(job)
    quote = agreed or next(iter(job.order.quotes.all()), None)
    return Money(
        quote=quote, agreed=agreed is not None, waiting=job.waiting_revision, paid=paid,
        deposit=quote.deposit if quote else Decimal(0), asked=asked,
        in_hand=in_hand(paid), currency=quote.currency if quote else currency, cancelled=job.is_cancelled,
    )
