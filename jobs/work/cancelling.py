"""Cancel a job: what was promised to it is free again, and what its open run used is deducted as it was recorded.

A job whose ticket is printed is cancelled with a reason, and with a word on what nobody recorded: that it was not
mixed, sprayed or cut. While ammoniacal silver of it stands it is not cancelled: only making safe stops a clock.
"""

from __future__ import annotations

from uuid import NAMESPACE_URL, UUID, uuid5

from django.db import transaction

from jobs import acts
from jobs.models import Job, JobAct, Quote, Run, RunEntry
from jobs.work import states
from jobs.work.bench import BenchError, BenchState, bench_state, note
from jobs.work.booking import BookingError, frozen_plan, reads, release, reserve
from jobs.work.clock import standing_of_job
from jobs.work.finishing import stop_run
from jobs.work.shared_mixes import withdraw_what_is_over
from recipes.finishes.in_doubt import check_sound
from studio.house.models import House, Person
from studio.kit.locks import check_opened, tried_three_times
from studio.stockroom.offcuts.kept import OffcutError

Kind = RunEntry.Kind


@tried_three_times
@transaction.atomic
def cancel(
    *, job: Job, by: Person, because: str = "", nothing_else: bool = False, kept_back_because: str = "",
    saves: int | None = None,
) -> None:
    """Cancel a job; a run of it that is open ends, with what was recorded of it deducted.

    because: why, asked once a ticket is printed. nothing_else: what nobody recorded was not done.
    kept_back_because: why held or expired lots were used. saves: what the form was opened with.

    Raises BookingError, BenchError, NotEnough, or ChangedMeanwhile when it moved on meanwhile.
    """
    # runs before their job, as everything at the bench locks them
    runs = list(Run.objects.select_for_update(of=("self",)).select_related("ticket").filter(
        ticket__job=job, finished_at=None).order_by("pk"))
    job = Job.objects.select_for_update().get(pk=job.pk)
    states.check(job.state, states.CANCEL, BookingError)
    check_opened(job, saves, reads(job), "Cancel it again to cancel it as it is now.")
    standing = standing_of_job(job, House.objects.first() or House())
    if standing:
        what = "; ".join(f"{silver.row.what}, {silver.where}" for silver in standing)
        raise BookingError(f"Record that what still stands was made safe, then cancel the job: {what}.", "made-safe")
    if Run.objects.filter(ticket__job=job, finished_at=None).exclude(pk__in=[run.pk for run in runs]).exists():
        raise BookingError("A ticket was printed for it meanwhile: cancel it again.")
    if runs and not because.strip():
        raise BookingError("Say why: the ticket of this job is printed.", "because")
    for run in runs:
        _say_the_rest(run, by, nothing_else)
        stop_run(run=run, by=by, kept_back_because=kept_back_because)
    release(job)
    job.state, job.cancelled_because = Job.State.CANCELLED, because.strip()[:200]
    job.save(update_fields=["state", "cancelled_because", "saves"])
    acts.record(job, JobAct.Kind.CANCELLED, by, note=job.cancelled_because)
    withdraw_what_is_over()


@tried_three_times
@transaction.atomic
def undo_cancelling(*, job: Job, by: Person, why: str, key: UUID | None = None) -> Job:
    """Let a cancelled job stand as it did: what a booked one needs is promised to it again.

    key: of the form, which counts once. Raises BookingError where something was recorded on an open ticket of it when
    it was cancelled, or a kept offcut is no longer free; NotUndone without a reason.
    """
    job = Job.objects.select_for_update(of=("self",)).select_related("quote").get(pk=job.pk)
    if acts.known(key):
        return job
    states.check(job.state, states.UNCANCEL, BookingError)
    runs = list(Run.objects.filter(ticket__job=job))
    if any(run.was_begun_and_cut_short for run in runs):
        raise BookingError("Its ticket was on the bench when it was cancelled, and the run ended with what was "
                           "recorded: that stays. Order again instead, as a new job.")
    acts.record_undone(job, JobAct.Kind.CANCELLED, by, why, key=key)
    if job.booked_at is None:
        out = job.order.quotes.filter(state__in=[Quote.State.SENT, Quote.State.ACCEPTED]).exists()
        job.state = states.QUOTED if out else states.ENQUIRY
    elif any(run.finished_at is not None for run in runs):
        job.state = states.PART_DONE
    else:
        job.state = states.BOOKED
        _promise_again(job)
    job.cancelled_because, job.saves = "", job.saves + 1
    job.save(update_fields=["state", "cancelled_because", "reservation", "saves"])
    return job


def _promise_again(job: Job) -> None:
    assert job.quote is not None  # a constraint keeps it of a booked job
    plan = frozen_plan(job.quote)
    check_sound(recipe.key for recipe in plan.estimate.basis.line_recipes())
    try:
        job.reservation = reserve(plan.stock, plan.offcuts, f"job {job.number}")
    except OffcutError as refusal:
        raise BookingError(f"Its stock cannot be promised again: {refusal} Order again instead, as a new job."
                           ) from refusal


def _say_the_rest(run: Run, by: Person, nothing_else: bool) -> None:
    """Record of what nobody recorded that it was not done, where that is said. Raises BenchError where it is not.

    On a run that nobody began nothing is written: the cancelling of its job can be undone.
    """
    state = bench_state(run)
    unsaid = unrecorded(state)
    if unsaid and not nothing_else:
        raise BenchError(f"Record what was done of {run.ticket}, or tick that the rest was not: {', '.join(unsaid)}.",
                         "nothing_else")
    if not run.is_further and not run.entries.exists() and not run.waiting.exists():
        return
    for mix in state.mixes:
        if mix.made is None:
            _note(run, by, Kind.MIXED, mix.key, {"made": False, "amounts": {}})
    for spraying in state.sprayings:
        if spraying.sprayed is None:
            _note(run, by, Kind.SPRAYED, spraying.meeting.key, {"sprayed": False})


def unrecorded(state: BenchState) -> list[str]:
    """Return the mixes and first sprayings that nobody recorded either way, and the glass not recorded as cut."""
    unsaid = [mix.mix.solution for mix in state.mixes if mix.made is None]
    unsaid += [spraying.meeting.what for spraying in state.sprayings if spraying.sprayed is None]
    return list(dict.fromkeys([*unsaid, *(glass.name for glass in state.plan.glass if glass.code not in state.cut)]))


def _note(run: Run, by: Person, kind: str, subject: str, content: dict[str, object]) -> None:
    key = uuid5(NAMESPACE_URL, f"silvering-daybook:not-done:{run.pk}:{kind}:{subject}")
    note(run=run, by=by, client_key=key, kind=kind, subject=subject, content=content)
