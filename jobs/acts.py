"""Who did what to a job, when and why: acts are written beside what they change, and undone by an act of their own.

Whoever writes one has its job locked: run, job, order and quote, lots are locked in that order everywhere. What a
form's key counts is looked up once the job is locked, so that the second of two presses finds what the first did.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from uuid import NAMESPACE_URL, UUID, uuid5

from jobs.models import Job, JobAct, MoneyRequest, Quote
from studio.house.clock import now
from studio.house.models import Person
from studio.kit.errors import DaybookError

Kind = JobAct.Kind


class NotUndone(DaybookError):
    """What was done cannot be undone, or not without a reason."""


def record(
    job: Job, kind: str, by: Person | None, *, note: str = "", quote: Quote | None = None,
    amount: Decimal | None = None, on: date | None = None, how: str = "", key: UUID | None = None,
) -> JobAct:
    """Write that somebody did something to a locked job now. by: None where nobody is known; key: of a form."""
    return JobAct.objects.create(job=job, kind=kind, at=now(), by=by, note=_at_most(note), quote=quote,
                                 amount=amount, on=on, how=how, key=key or _key(job))


def _key(job: Job) -> UUID:
    """Return the key of a job's next act: one job is written by one at a time."""
    return uuid5(NAMESPACE_URL, f"silvering-daybook:act:{job.number}:{job.acts.count() + 1}")


def _at_most(note: str) -> str:
    """Return a note as its column holds it: what is cut off shows that it is."""
    longest = JobAct._meta.get_field("note").max_length or 0
    note = note.strip()
    return note if len(note) <= longest else f"{note[:longest - 1]}…"


def standing_act(job: Job, kind: str, quote: Quote | None = None) -> JobAct | None:
    """Return the newest act of a kind that is not undone, of one quote where it is of one."""
    acts = JobAct.objects.filter(job=job, kind=kind, undone_by=None)
    return (acts if quote is None else acts.filter(quote=quote)).order_by("-pk").first()


def money_in(job: Job) -> Decimal:
    """Return what came in for a job and was not given back, of what stands."""
    rows = JobAct.objects.filter(job=job, kind__in=[Kind.PAID, Kind.GIVEN_BACK], undone_by=None)
    return in_hand(rows)


def in_hand(acts: Iterable[JobAct]) -> Decimal:
    """Return what is in of acts that stand: what came in, less what was given back. Nothing is asked."""
    signs = {Kind.PAID: 1, Kind.GIVEN_BACK: -1}
    return sum((signs.get(Kind(act.kind), 0) * (act.amount or Decimal(0)) for act in acts), Decimal(0))


def fees_of(asked: Iterable[MoneyRequest]) -> Decimal:
    """Return what was asked for samples, beside the quote, less what was taken back. asked: with what they credit."""
    return sum((row.total for row in asked if row.is_of_samples), Decimal(0))


def in_for_the_work(job: Job) -> Decimal:
    """Return what is in of a job's price: of all that came in, the samples are paid first."""
    return money_in(job) - fees_of(job.money_requests.to_sum_up())


def deposit_is_in(job: Job, quote: Quote | None) -> bool:
    """Say whether the deposit that a quote asks for came in; where none is asked, it is as it was said."""
    if quote is None or quote.deposit <= 0:
        return job.deposit_noted
    return in_for_the_work(job) >= quote.deposit


def known(key: UUID | None) -> JobAct | None:
    """Return the act that a form's key already counted; the job is locked before."""
    return None if key is None else JobAct.objects.filter(key=key).first()


def record_undone(
    job: Job, kind: str, by: Person | None, why: str, quote: Quote | None = None, *, key: UUID | None = None,
) -> JobAct:
    """Write that an act is undone; one that nobody recorded is written first, without who and when.

    key: of the form. Raises NotUndone without a reason.
    """
    act = standing_act(job, kind, quote) or JobAct.objects.create(job=job, kind=kind, quote=quote, key=_key(job))
    return undo(act, by, why, key)


def undo(act: JobAct, by: Person | None, why: str, key: UUID | None = None) -> JobAct:
    if not why.strip():
        raise NotUndone("Say why it is undone: that stays in the job's story.", "why")
    return JobAct.objects.create(job=act.job, kind=Kind.UNDONE, at=now(), by=by, note=_at_most(why),
                                 quote_id=act.quote_id, undoes=act, key=key or _key(act.job))
