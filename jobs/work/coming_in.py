"""What comes in for a job: the customer's word on the sample, and money; and money that is given back.

Each can be recorded late, and undone, of a cancelled job too. The deposit is in once as much came in as its quote asks.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.db import transaction

from jobs import acts
from jobs.acts import NotUndone
from jobs.models import Job, JobAct, Quote
from jobs.work import states
from jobs.work.booking import BookingError
from jobs.work.samples import awaited, take_back, tick
from studio.house.clock import today
from studio.house.models import HouseRates, Person
from studio.kit.currencies import decimals, show_money
from studio.kit.locks import tried_three_times
from studio.kit.rounding import places, plain

Kind = JobAct.Kind
UNDONE_HERE = (Kind.SAMPLE, Kind.PAID, Kind.GIVEN_BACK)


@tried_three_times
@transaction.atomic
def take_in(*, job: Job, by: Person, key: UUID, amount: Decimal | None = None, on: date | None = None,
            note: str = "", how: str = "") -> JobAct:
    """Record that money came in, or, without an amount, that the sample was approved. A form's key counts once.

    on: the day it happened; note: who approved, what was said with it; how: money was paid, a JobAct.How. Raises
    BookingError for a job that is cancelled, an amount of nothing or finer than the smallest coin, a day still to come,
    or a sample that was approved already.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    known = acts.known(key)
    if known is not None:
        return known
    states.check(job.state, states.CAME_IN, BookingError)
    _check(job, amount, on)
    kind = Kind.SAMPLE if amount is None else Kind.PAID
    if amount is None and not awaited(job):
        raise BookingError("The sample was approved already.", "on")
    act = acts.record(job, kind, by, amount=amount, on=on, note=note, how=how if amount is not None else "", key=key)
    if amount is None:
        tick(job, act)
    _as_it_stands(job)
    return act


@tried_three_times
@transaction.atomic
def give_back(*, job: Job, by: Person, key: UUID, amount: Decimal, on: date | None = None, note: str = "",
              how: str = "") -> JobAct:
    """Record that money of a job was given back, whatever became of it. A form's key counts once.

    Raises BookingError for an amount of nothing or finer than the smallest coin, more than is in, or a day to come.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    known = acts.known(key)
    if known is not None:
        return known
    states.check(job.state, states.GIVE_BACK, BookingError)
    _check(job, amount, on)
    if amount > acts.money_in(job):
        raise BookingError(f"{in_words(job, acts.money_in(job))} is in: no more than that is given back.", "amount")
    act = acts.record(job, Kind.GIVEN_BACK, by, amount=amount, on=on, note=note, how=how, key=key)
    _as_it_stands(job)
    return act


@tried_three_times
@transaction.atomic
def undo_taking_in(*, act: JobAct, by: Person, why: str, key: UUID | None = None) -> JobAct:
    """Undo that a sample was approved, money came in or was given back. key: of the form, which counts once.

    Raises NotUndone, also where more was given back than would then be in.
    """
    job = Job.objects.select_for_update().get(pk=act.job_id)
    known = acts.known(key)
    if known is not None:
        return known
    if act.kind not in UNDONE_HERE:
        raise NotUndone("That is not undone here.")
    states.check(job.state, states.UNDO_CAME_IN, NotUndone)
    if JobAct.objects.filter(undoes=act).exists():
        raise NotUndone("That was undone already.")
    undone = acts.undo(act, by, why, key)
    if act.kind == Kind.SAMPLE:
        take_back(job, act)
    if acts.money_in(job) < 0:
        raise NotUndone("More money was given back than would then be in: undo first that it was given back.")
    _as_it_stands(job)
    return undone


def note_deposit(job: Job) -> None:
    """Let a locked job say anew whether its deposit is in, once its samples were asked for: they are paid first."""
    noted = acts.deposit_is_in(job, _asked_by(job))
    if noted != job.deposit_noted:
        job.deposit_noted, job.saves = noted, job.saves + 1
        job.save(update_fields=["deposit_noted", "saves"])


def in_words(job: Job, amount: Decimal) -> str:
    """Return money of a job as it is read."""
    return show_money(Fraction(amount), _currency(job))


def _currency(job: Job) -> str:
    quote = _asked_by(job)
    rates = None if quote is not None else HouseRates.known_on(today())
    return quote.currency if quote is not None else rates.currency if rates else ""


def _check(job: Job, amount: Decimal | None, on: date | None) -> None:
    if on is not None and on > today():
        raise BookingError("That day is still to come.", "on")
    if amount is not None and amount <= 0:
        raise BookingError("Give an amount above nothing.", "amount")
    currency = _currency(job) if amount is not None else ""
    if currency and Fraction(amount or 0) % places(decimals(currency)):
        raise BookingError(f"{plain(amount or Decimal(0))} is finer than the smallest coin.", "amount")


def _asked_by(job: Job) -> Quote | None:
    """Return the quote whose deposit is asked: that a job rests on, else the accepted one, else the newest."""
    return job.quote or job.quote_that_counts


def _as_it_stands(job: Job) -> None:
    """Let a locked job say what is in, of the acts that stand."""
    job.sample_approved = not awaited(job)
    job.deposit_noted = acts.deposit_is_in(job, _asked_by(job))
    job.saves += 1
    job.save(update_fields=["sample_approved", "deposit_noted", "saves"])
