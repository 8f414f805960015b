"""What is owed: by whom, since when, by request; what was delivered and never asked for; what is in beyond all that.

A fixed number of queries, however many jobs there were.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from jobs.acts import fees_of
from jobs.models import Job, JobAct, MoneyRequest, Quote
from jobs.models.quotes import frozen_of
from jobs.money.in_rows import not_even
from jobs.money.sums import Asked, standings
from jobs.work import states
from studio.kit.asking import among

NOTHING = Decimal(0)
_SIGNS = {JobAct.Kind.PAID: 1, JobAct.Kind.GIVEN_BACK: -1}


@dataclass(frozen=True, kw_only=True)
class OpenRequest:
    """A request that is not paid in full: what was asked, taken back and paid of it, and what is open."""

    request: MoneyRequest
    credited: Decimal
    paid: Decimal
    open: Decimal
    days_late: int


@dataclass(frozen=True, kw_only=True)
class Owes:
    """A customer who owes: in all, since the oldest day that an open request was due."""

    pk: int
    name: str
    requests: list[OpenRequest]

    @property
    def open(self) -> Decimal:
        return sum((row.open for row in self.requests), NOTHING)

    @property
    def late(self) -> Decimal:
        return sum((row.open for row in self.requests if row.days_late), NOTHING)

    @property
    def since(self) -> date:
        return min(row.request.due_on for row in self.requests)

    @property
    def days_late(self) -> int:
        return max(row.days_late for row in self.requests)


@dataclass(frozen=True, kw_only=True)
class OfAJob:
    """Money of one job that no request explains."""

    job: Job
    amount: Decimal


@dataclass(frozen=True, kw_only=True)
class Owed:
    """customers: the longest overdue first; not_asked: of delivered jobs; too_much: in beyond what is agreed or asked.
    """

    customers: list[Owes]
    not_asked: list[OfAJob]
    too_much: list[OfAJob]
    currency: str

    @property
    def open(self) -> Decimal:
        return sum((row.open for row in self.customers), NOTHING)

    @property
    def late(self) -> Decimal:
        return sum((row.late for row in self.customers), NOTHING)

    @property
    def requests(self) -> Iterator[OpenRequest]:
        return (row for customer in self.customers for row in customer.requests)


def owed(day: date, currency: str, customer: int | None = None) -> Owed:
    """Return what is owed on a day. currency: of the rates; customer: only theirs.

    The database finds the jobs that are not even; of those alone requests and payments are read.
    """
    rows = Job.objects.all() if customer is None else Job.objects.filter(order__customer=customer)
    rows = not_even(rows).select_related("order__customer", "quote").defer(*frozen_of("quote")).order_by("number")
    jobs = {job.pk: job for job in rows}
    asked: dict[int, list[MoneyRequest]] = defaultdict(list)
    requests = MoneyRequest.objects.to_sum_up().order_by("number")
    for request in among(requests, "job_id", jobs):
        request.job = jobs[request.job_id]
        asked[request.job_id].append(request)
    paid = _paid(jobs)
    by_customer: dict[int, Owes] = {}
    for mine in sorted(asked.values(), key=lambda mine: mine[0].number):
        for one in _open(mine, paid.get(mine[0].job_id, NOTHING), day):
            who = one.request.job.order.customer
            by_customer.setdefault(who.pk, Owes(pk=who.pk, name=who.name, requests=[])).requests.append(one)
    not_asked, too_much = [], []
    for job, quoted in _agreed(jobs.values()):
        came_in = paid.get(job.pk, NOTHING)
        asked_for = sum((row.total for row in asked.get(job.pk, ())), NOTHING)
        agreed = quoted + fees_of(asked.get(job.pk, ()))
        expected = asked_for if job.is_cancelled else max(agreed, asked_for)
        if came_in > expected:
            too_much.append(OfAJob(job=job, amount=came_in - expected))
        elif job.state == states.DELIVERED and agreed > max(asked_for, came_in):
            not_asked.append(OfAJob(job=job, amount=agreed - max(asked_for, came_in)))
    customers = sorted(by_customer.values(), key=lambda one: (one.since, one.name))
    return Owed(customers=customers, currency=currency, not_asked=not_asked, too_much=too_much)


def _paid(jobs: Iterable[int]) -> dict[int, Decimal]:
    """Return what is in of each job, of the acts that stand."""
    found: dict[int, Decimal] = defaultdict(Decimal)
    for act in among(JobAct.objects.filter(kind__in=_SIGNS, undone_by=None), "job_id", jobs):
        found[act.job_id] += _SIGNS[JobAct.Kind(act.kind)] * (act.amount or NOTHING)
    return found


def _open(rows: Iterable[MoneyRequest], paid: Decimal, day: date) -> Iterator[OpenRequest]:
    by_number = {row.number: row for row in rows}
    found, _ = standings([Asked(number=row.number, total=row.total, due_on=row.due_on,
                                credits=row.credits.number if row.credits else None)
                          for row in by_number.values()], paid)
    for one in found:
        if one.open > 0:
            request = by_number[one.asked.number]
            yield OpenRequest(request=request, credited=one.credited, paid=one.paid, open=one.open,
                              days_late=request.days_late(day))


def _agreed(jobs: Iterable[Job]) -> Iterator[tuple[Job, Decimal]]:
    """Yield the jobs that are agreed, or of which money is in, with what is agreed.

    One that a revision waits for is left out until the answer: what is agreed is only in what the revision keeps.
    """
    of = list(jobs)
    accepted = {quote.order_id: quote.total for quote in among(
        Quote.objects.filter(state=Quote.State.ACCEPTED).defer(*frozen_of()).order_by("revision"), "order_id",
        (job.order_id for job in of if job.quote is None))}
    for job in of:
        if job.quote is None:
            yield job, accepted.get(job.order_id, NOTHING)
        elif job.quote.state != Quote.State.SENT:
            yield job, job.quote.total
