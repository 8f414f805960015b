"""Book a job: its quote is accepted, sample and deposit are in or waived, and its stock is promised."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.db.models import Count, Q

from jobs import acts
from jobs.estimating.basis import Basis
from jobs.estimating.estimate import Estimate
from jobs.frozen import thaw
from jobs.models import Job, JobAct, PaneResult, Quote
from jobs.quotes.basis import is_ordered_so
from jobs.quotes.frozen_plan import FrozenPlan, thaw_plan
from jobs.work import states
from jobs.work.agreed import restore
from jobs.work.samples import awaited, check_may_overrule, go_ahead_without, lacking, tick
from jobs.work.shared_mixes import withdraw_what_is_over
from recipes.finishes.in_doubt import check_sound
from studio.house.clock import now
from studio.house.models import Person
from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened, tried_three_times
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


@tried_three_times
@transaction.atomic
def book_job(
    *, job: Job, by: Person, sample_approved: bool, deposit_noted: bool, waived_because: str, due_on: date | None,
    saves: int | None = None, how: str = "",
) -> Job:
    """Promise the stock that an accepted quote needs. Booked again, with the same values, it stays as it is.

    how: the deposit was paid, a JobAct.How, where the tick records that it came in. saves: what the form was opened
    with. Raises ChangedMeanwhile when somebody else booked it in another way.

    Raises BookingError without an accepted quote, with one that the order or a newer quote has overtaken, with sample
    or deposit neither in nor waived, and for a job that is booked already in another way; NotYet where somebody waives
    who may not overrule; InDoubt for recipe versions that are not sound today.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    quote = job.quote or job.order.quotes.filter(state=Quote.State.ACCEPTED).first()
    # what was recorded before stands, ticked or not; a deposit that nobody asks for is not waited for
    sample_approved = sample_approved or not awaited(job)
    deposit_noted = deposit_noted or (quote is not None and (quote.deposit <= 0 or acts.deposit_is_in(job, quote)))
    asked = (sample_approved, deposit_noted, waived_because.strip(), due_on)
    if job.booked_at and asked != (job.sample_approved, job.deposit_noted, job.waived_because, job.due_on):
        check_opened(job, saves, reads(job), "A job is booked once: it stays as it was booked.")
        raise BookingError(f"{job} is booked already and stays so: {reads(job)}.")
    if job.was_booked:
        return job
    if quote is None and job.is_waiting:
        raise BookingError("Mark the quote as accepted first: only an accepted quote is booked.")
    states.check(job.state, states.BOOK, BookingError)
    assert quote is not None
    _refuse_overtaken(quote)
    if not (sample_approved and deposit_noted) and not waived_because.strip():
        raise BookingError("Tick that the approved sample and the deposit are both in, or say why not.",
                           "waived_because")
    if not (sample_approved and deposit_noted):
        check_may_overrule(by)
    check_sound(recipe.key for recipe in frozen_estimate(quote).basis.line_recipes())
    plan = frozen_plan(quote)
    job.reservation = reserve(plan.stock, plan.offcuts, f"job {job.number}")
    job.quote, job.due_on, job.booked_at, job.state = quote, due_on, now(), Job.State.BOOKED
    job.sample_approved, job.deposit_noted, job.waived_because = sample_approved, deposit_noted, waived_because.strip()
    check_opened(job, saves, reads(job), "Book it again to book it as it is now.")
    job.full_clean(validate_unique=False)
    job.save()
    acts.record(job, JobAct.Kind.BOOKED, by, note=job.waived_because, quote=quote)
    if sample_approved and awaited(job):
        tick(job, acts.record(job, JobAct.Kind.SAMPLE, by))
    missing = quote.deposit - acts.in_for_the_work(job)
    if deposit_noted and missing > 0:
        acts.record(job, JobAct.Kind.PAID, by, amount=missing, how=how)
    if job.waived_because and (lacks := lacking(job)):
        go_ahead_without(job, lacks, job.waived_because, by)
    return job


def _refuse_overtaken(quote: Quote) -> None:
    """Refuse to book a quote beside a newer one that is out, or of an order that was changed since. BookingError."""
    newer = Quote.objects.filter(order=quote.order_id, revision__gt=quote.revision, state=Quote.State.SENT)
    out = newer.order_by("-revision").first()
    if out is not None:
        raise BookingError(f"{out} is newer than {quote}, which is accepted, and is {out.standing}: record the "
                           "customer's answer to it, or take it back.")
    if not is_ordered_so(quote.order, quote):
        raise BookingError(f"The order was changed since {quote} was made, which is accepted: save a new revision and "
                           "have it accepted, or change the order back.")


@tried_three_times
@transaction.atomic
def undo_booking(*, job: Job, by: Person, why: str, key: UUID | None = None) -> None:
    """Let a booked job be quoted again, its quote accepted: what was promised to it is free, its day is not promised.

    key: of the form, which counts once. Raises BookingError once a ticket is printed, NotUndone without a reason.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    if acts.known(key):
        return
    states.check(job.state, states.UNBOOK, BookingError)
    if job.tickets.exists():
        raise BookingError("A ticket of this job is printed: cancel the job instead, which settles what was used.")
    acts.record_undone(job, JobAct.Kind.BOOKED, by, why, key=key)
    if job.waiting_revision is not None:
        restore(job, job.waiting_revision, Quote.State.REPLACED)
    release(job)
    job.quote = job.reservation = job.booked_at = job.due_on = None
    job.state, job.waived_because, job.saves = Job.State.QUOTED, "", job.saves + 1
    job.save()
    withdraw_what_is_over()


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


@tried_three_times
@transaction.atomic
def deliver(*, job: Job, by: Person | None = None, note: str = "") -> None:
    """Mark a finished job, or what is good of a part done one, as delivered. Raises BookingError."""
    job = Job.objects.select_for_update().get(pk=job.pk)
    states.check(job.state, states.DELIVER, BookingError)
    if job.state == states.PART_DONE and not PaneResult.objects.filter(run__ticket__job=job, good=True).exists():
        raise BookingError("No pane of this job came out good: there is nothing to deliver. Cancel it instead.")
    if job.state == states.DELIVERED:
        return
    check_opened(job, None, "")
    job.state = Job.State.DELIVERED
    job.save(update_fields=["state", "saves"])
    acts.record(job, JobAct.Kind.DELIVERED, by, note=note)


@tried_three_times
@transaction.atomic
def undo_delivery(*, job: Job, by: Person, why: str, key: UUID | None = None) -> None:
    """Let a delivered job be finished, or part done, again. key: of the form, which counts once.

    Raises BookingError, NotUndone without a reason.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    if acts.known(key):
        return
    states.check(job.state, states.UNDELIVER, BookingError)
    acts.record_undone(job, JobAct.Kind.DELIVERED, by, why, key=key)
    job.state, job.saves = as_runs_left_it(job), job.saves + 1
    job.save(update_fields=["state", "saves"])


def as_runs_left_it(job: Job) -> str:
    """Return the state that a job's finished runs left it in: finished, or part done."""
    good = PaneResult.objects.filter(run__ticket__job=job, good=True).order_by()
    by_line = dict(good.values_list("line_number").annotate(panes=Count("pk")))
    return states.after_run(job.order.lines.values_list("number", "quantity"), by_line)
