"""Book a job: its quote is accepted, sample and deposit are in or waived, and its stock is promised."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.db.models import Q

from jobs.estimating.basis import Basis
from jobs.estimating.estimate import Estimate
from jobs.frozen import thaw
from jobs.models import Job, PaneResult, Quote
from jobs.quotes.frozen_plan import FrozenPlan, thaw_plan
from jobs.work import states
from recipes.finishes.in_doubt import check_sound
from studio.house.clock import now
from studio.house.models import Person
from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened
from studio.stockroom.models import Material, Reservation, ReservedAmount
from studio.stockroom.offcuts.kept import promise


class BookingError(DaybookError):
    """The job cannot be booked, cancelled or delivered as it stands."""


def frozen_plan(quote: Quote) -> FrozenPlan:
    """Return a quote's plan as it was frozen: read back, never worked out again."""
    return thaw_plan(quote.plan, thaw(quote.basis, Basis))


def frozen_estimate(quote: Quote) -> Estimate:
    """Return a quote's estimate as it was frozen."""
    return frozen_plan(quote).estimate


@transaction.atomic
def book_job(
    *, job: Job, by: Person, sample_approved: bool, deposit_noted: bool, waived_because: str, due_on: date | None,
    saves: int | None = None,
) -> Job:
    """Promise the stock that an accepted quote needs. Booked again, with the same values, it stays as it is.

    saves: what the form was opened with. Raises ChangedMeanwhile when somebody else booked it in another way.

    Raises BookingError without an accepted quote, with sample or deposit neither in nor waived, and for a job that is
    booked already in another way; InDoubt for recipe versions that are not sound today.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    asked = (sample_approved, deposit_noted, waived_because.strip(), due_on)
    if job.booked_at and asked != (job.sample_approved, job.deposit_noted, job.waived_because, job.due_on):
        check_opened(job, saves, reads(job), "A job is booked once: it stays as it was booked.")
        raise BookingError(f"{job} is booked already and stays so: {reads(job)}.")
    if job.was_booked:
        return job
    quote = job.order.quotes.filter(state=Quote.State.ACCEPTED).first()
    if quote is None and job.is_waiting:
        raise BookingError("Mark the quote as accepted first: only an accepted quote is booked.")
    states.check(job.state, states.BOOK, BookingError)
    assert quote is not None
    if not (sample_approved and deposit_noted) and not waived_because.strip():
        raise BookingError("Tick that the approved sample and the deposit are both in, or say why not.",
                           "waived_because")
    check_sound(recipe.key for recipe in frozen_estimate(quote).basis.line_recipes())
    plan = frozen_plan(quote)
    job.reservation = reserve(plan.stock, plan.offcuts, f"job {job.number}")
    job.quote, job.due_on, job.booked_at, job.state = quote, due_on, now(), Job.State.BOOKED
    job.sample_approved, job.deposit_noted, job.waived_because = sample_approved, deposit_noted, waived_because.strip()
    check_opened(job, saves, reads(job), "Book it again to book it as it is now.")
    job.full_clean(validate_unique=False)
    job.save()
    return job


def reads(job: Job) -> str:
    """Return how a job reads in words, for somebody who saw another."""
    parts = [job.get_state_display(), f"due {job.due_on:%d %b %Y}" if job.due_on else "no day promised"]
    if job.booked_at:
        parts += [f"sample {'approved' if job.sample_approved else 'not approved'}",
                 f"deposit {'in' if job.deposit_noted else 'not in'}"]
    if job.waived_because:
        parts.append(f"goes ahead because “{job.waived_because}”")
    return ", ".join(parts)


def reserve(stock: Mapping[str, Decimal], offcuts: Collection[int], what_for: str) -> Reservation:
    """Promise stock by material code, and kept offcuts by number. Raises OffcutError for an offcut that is not free."""
    materials = {material.code: material for material in Material.objects.filter(code__in=stock)}
    reservation = Reservation.objects.create(made_at=now(), what_for=what_for)
    ReservedAmount.objects.bulk_create([
        ReservedAmount(reservation=reservation, material=materials[code], quantity=amount)
        for code, amount in sorted(stock.items())
    ])
    promise(list(offcuts), reservation)
    return reservation


def release(job: Job) -> None:
    """Let go of the stock that is promised to a job, and to a further run of it."""
    mine = Q(pk=job.reservation_id) | Q(further_run__ticket__job=job)
    still = Reservation.objects.filter(mine, released_at=None).values_list("pk", flat=True)
    Reservation.objects.filter(pk__in=list(still)).update(released_at=now())


@transaction.atomic
def deliver(*, job: Job) -> None:
    """Mark a finished job, or what is good of a part done one, as delivered. Raises BookingError."""
    job = Job.objects.select_for_update().get(pk=job.pk)
    states.check(job.state, states.DELIVER, BookingError)
    if job.state == states.PART_DONE and not PaneResult.objects.filter(run__ticket__job=job, good=True).exists():
        raise BookingError("No pane of this job came out good: there is nothing to deliver. Cancel it instead.")
    check_opened(job, None, "")
    job.state = Job.State.DELIVERED
    job.save(update_fields=["state", "saves"])
