"""Asks for money: a deposit, the balance, or a credit that takes a request back. Each is a numbered, frozen paper.

Numbers are one series of the studio without a gap: given in the transaction that writes the row, with the studio's own
row locked. What is asked for rests on the quote that is agreed; the balance is what the requests before it left of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from jobs import acts
from jobs.models import Job, MoneyRequest, Quote
from jobs.money.of_job import agreed_quote
from jobs.money.sums import AtARate, Rows, less, net_of, part, rest, summed, tax_of, total_of
from jobs.quotes.wording import in_todays_words
from jobs.work import states
from jobs.work.coming_in import note_deposit
from studio.house.clock import now, today
from studio.house.models import House, Person
from studio.kit.currencies import decimals, show_money
from studio.kit.errors import DaybookError
from studio.kit.locks import tried_three_times
from studio.kit.rounding import places, plain

Kind = MoneyRequest.Kind
#: how the content is written; whoever reads it reads every format there was
FORMAT = 1


class RequestError(DaybookError):
    """The money cannot be asked for, or the request not taken back."""


@dataclass(frozen=True, kw_only=True)
class ToAsk:
    """What can be asked for of a job: the whole that is agreed, what was asked before, and what is left of it.

    before: every request; of_work: those of the price, which samples are beside. fees: of each sample that has one, by
    the name of its finish.
    """

    quote: Quote
    whole: Rows
    before: Sequence[MoneyRequest]
    fees: Sequence[tuple[str, Decimal]] = ()

    @property
    def of_work(self) -> list[MoneyRequest]:
        return [row for row in self.before if not row.is_of_samples]

    @property
    def left(self) -> Rows:
        return rest(self.whole, *(rows_of(row) for row in self.of_work))

    @property
    def fees_left(self) -> Decimal:
        """Return what of the samples' fees was not asked for yet."""
        return max(sum((fee for _, fee in self.fees), Decimal(0)) - acts.fees_of(self.before), Decimal(0))

    @property
    def deposit_left(self) -> Decimal:
        """Return what of the deposit that the quote asks was not asked for yet."""
        asked = total_of(summed(rows_of(row) for row in self.of_work))
        return max(self.quote.deposit - asked, Decimal(0))


def whole_of(quote: Quote) -> Rows:
    """Return what a quote comes to, by rate of tax."""
    wording = in_todays_words(quote.wording, quote.figures, quote.basis)
    return (AtARate(name=wording["tax_name"], share=Decimal(quote.figures["price"]["tax_share"]), net=quote.net,
                    tax=quote.tax),)


def rows_of(row: MoneyRequest) -> Rows:
    """Return what a request asks for by rate of tax, as it was frozen."""
    return tuple(AtARate(name=rate["name"], share=Decimal(rate["share"]), net=Decimal(rate["net"]),
                         tax=Decimal(rate["tax"])) for rate in row.content["taxes"])


def to_ask(job: Job) -> ToAsk | None:
    """Return what can be asked for of a job; None where nothing is agreed."""
    quote = agreed_quote(job)
    return None if quote is None else _asks(job, quote)


def _asks(job: Job, quote: Quote) -> ToAsk:
    samples = job.samples.standing().filter(fee__gt=0).select_related("recipe_version__finish")
    return ToAsk(quote=quote, whole=whole_of(quote), before=list(job.money_requests.select_related("credits")),
                 fees=[(row.recipe_version.finish.name, row.fee) for row in samples])


def fees_to_ask(job: Job) -> ToAsk | None:
    """Return what can be asked for the samples of a job: before anything is agreed too, by the quote that is out."""
    quote = agreed_quote(job) or job.quote_that_counts
    return _asks(job, quote) if quote is not None and quote.total > 0 else None


@tried_three_times
@transaction.atomic
def ask_deposit(
    *, job: Job, by: Person, key: UUID, amount: Decimal, due_on: date | None = None, note: str = "",
) -> MoneyRequest:
    """Ask for a deposit. due_on: the settings' days from today where none is given. A form's key counts once.

    One that asks for all that is left has that at each rate, so that the papers' tax sums to the quote's. Raises
    RequestError for nothing agreed, a cancelled job, or more than is left to ask for.
    """
    job, known = _locked(job, key)
    if known is not None:
        return known
    asks = _agreed(job)
    left = total_of(asks.left)
    _check_amount(amount, asks.quote.currency)
    if amount > left:
        raise RequestError(_no_more(asks, left), "amount")
    rows = asks.left if amount == left else part(asks.whole, amount, _smallest(asks.quote))
    return _write(job, asks, Kind.DEPOSIT, rows, by=by, key=key, due_on=due_on, note=note)


@tried_three_times
@transaction.atomic
def ask_balance(*, job: Job, by: Person, key: UUID, due_on: date | None = None, note: str = "") -> MoneyRequest:
    """Ask for all that the requests before left of what is agreed. A form's key counts once. Raises RequestError."""
    job, known = _locked(job, key)
    if known is not None:
        return known
    asks = _agreed(job)
    if total_of(asks.left) <= 0:
        raise RequestError(_no_more(asks, total_of(asks.left)))
    return _write(job, asks, Kind.BALANCE, asks.left, by=by, key=key, due_on=due_on, note=note)


@tried_three_times
@transaction.atomic
def ask_samples(*, job: Job, by: Person, key: UUID, due_on: date | None = None, note: str = "") -> MoneyRequest:
    """Ask for what the samples of a job cost and was not asked for yet, beside its price. A form's key counts once.

    The tax in a fee is that of the quote. Raises RequestError where no sample has a fee, or all was asked for.
    """
    job, known = _locked(job, key)
    if known is not None:
        return known
    states.check(job.state, states.CAME_IN, RequestError)
    asks = fees_to_ask(job)
    if asks is None:
        raise RequestError("Save a quote first: the tax in the fee is that of the quote.")
    if asks.fees_left <= 0:
        raise RequestError("No sample of this job has a fee that was not asked for: note the fee with the sample.")
    rows = part(asks.whole, asks.fees_left, _smallest(asks.quote))
    asked = _write(job, asks, Kind.SAMPLE, rows, by=by, key=key, due_on=due_on, note=note)
    note_deposit(job)
    return asked


@tried_three_times
@transaction.atomic
def take_back(
    *, request: MoneyRequest, by: Person, key: UUID, why: str, amount: Decimal | None = None,
) -> MoneyRequest:
    """Take a request back by a credit that names it. amount: of a part; None: all of it that still stands.

    A form's key counts once. Raises RequestError without a reason, for a credit, and for more than still stands.
    """
    job, known = _locked(request.job, key)
    if known is not None:
        return known
    states.check(job.state, states.GIVE_BACK, RequestError)
    if request.is_credit:
        raise RequestError("A credit is not taken back: ask for the money anew.")
    if not why.strip():
        raise RequestError("Say why it is taken back: the customer reads it.", "why")
    stands = rest(rows_of(request), *(less(rows_of(row)) for row in request.credited_by.all()))
    if total_of(stands) <= 0:
        raise RequestError(f"{request} was taken back already.")
    if amount is not None:
        _check_amount(amount, request.currency)
        if amount > total_of(stands):
            raise RequestError(f"{_money(total_of(stands), request.currency)} of {request} still stands: no more than "
                               "that is taken back.", "amount")
    rows = stands if amount in (None, total_of(stands)) else part(
        stands, amount or Decimal(0), places(decimals(request.currency)))
    asks = ToAsk(quote=request.quote, whole=whole_of(request.quote), before=list(
        job.money_requests.select_related("credits")))
    credit = _write(job, asks, Kind.CREDIT, less(rows), by=by, key=key, due_on=today(), note=why, credits=request)
    if credit.is_of_samples:
        note_deposit(job)
    return credit


def _locked(job: Job, key: UUID) -> tuple[Job, MoneyRequest | None]:
    """Return a job, locked, and what its form's key counted already."""
    job = Job.objects.select_for_update(of=("self",)).select_related("order__customer").get(pk=job.pk)
    return job, MoneyRequest.objects.filter(key=key).first()


def _agreed(job: Job) -> ToAsk:
    states.check(job.state, states.CAME_IN, RequestError)
    found = to_ask(job)
    if found is None:
        raise RequestError("Nothing is agreed yet: mark the quote as accepted first.")
    return found


def _check_amount(amount: Decimal, currency: str) -> None:
    if amount <= 0:
        raise RequestError("Give an amount above nothing.", "amount")
    if Fraction(amount) % places(decimals(currency)):
        raise RequestError(f"{plain(amount)} is finer than the smallest coin.", "amount")


def _no_more(asks: ToAsk, left: Decimal) -> str:
    agreed = _money(asks.quote.total, asks.quote.currency)
    if left < 0:
        more = _money(-left, asks.quote.currency)
        return f"{more} more than the {agreed} agreed was asked for: take a request back, in part, by a credit."
    if left == 0:
        return f"All of the {agreed} agreed was asked for already."
    return f"{_money(left, asks.quote.currency)} of the {agreed} agreed is left to ask for."


def _money(amount: Decimal, currency: str) -> str:
    return show_money(Fraction(amount), currency)


def _smallest(quote: Quote) -> Fraction:
    return places(decimals(quote.currency))


def _write(
    job: Job, asks: ToAsk, kind: str, rows: Rows, *, by: Person, key: UUID, due_on: date | None, note: str,
    credits: MoneyRequest | None = None,  # noqa: A002 (the column's name)
) -> MoneyRequest:
    """Write a request under the next number, with what its paper says. The job is locked."""
    house = House.objects.select_for_update(of=("self",)).select_related("mark").first()
    if house is None:
        raise RequestError("Say first who the studio is, in its settings.")
    day = today()
    due = due_on or day + timedelta(days=house.request_days)
    if due < day:
        raise RequestError("That day is over: money is due today or later.", "due_on")
    last = MoneyRequest.objects.aggregate(last=Max("number"))["last"]
    return MoneyRequest.objects.create(
        key=key, number=house.request_first_number if last is None else last + 1, prefix=house.request_prefix,
        job=job, quote=asks.quote, kind=kind, credits=credits, asked_on=day, due_on=due, currency=asks.quote.currency,
        net=net_of(rows), tax=tax_of(rows), total=total_of(rows), note=note.strip()[:200], at=now(), by=by,
        content=_content(job, house, asks, rows, credits),
    )


def _content(job: Job, house: House, asks: ToAsk, rows: Rows, credits: MoneyRequest | None) -> dict[str, Any]:  # noqa: A002
    """Return what the paper says, as it is that day: studio, customer, what it rests on, tax by rate, what came before.
    """
    return {
        "format": FORMAT,
        "house": {
            "name": house.name, "address": house.address, "email": house.email, "phone": house.phone,
            "tax_number": house.tax_number, "paper": house.paper, "mark": house.mark.sha256 if house.mark else "",
        },
        "customer": {"name": job.order.customer.name, "address": job.order.customer.address},
        "title": job.order.title, "quote": asks.quote.label, "how_to_pay": house.payment_details,
        "samples": [{"finish": finish, "fee": f"{fee:f}"} for finish, fee in asks.fees],
        "agreed": f"{asks.quote.total:f}", "deposit": f"{asks.quote.deposit:f}", "paid": f"{acts.money_in(job):f}",
        "takes_back": f"{credits.kind_in_words.lower()} {credits.label}" if credits is not None else "",
        "taxes": [{"name": row.name, "share": f"{row.share:f}", "net": f"{row.net:f}", "tax": f"{row.tax:f}"}
                  for row in rows],
        "before": [{"label": f"{row}", "asked_on": row.asked_on.isoformat(), "total": f"{row.total:f}"}
                   for row in asks.before],
    }
