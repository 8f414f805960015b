"""Cancel a job: what was promised to it is free again, and what its open run used is deducted as it was recorded.

A job whose ticket is printed is cancelled with a reason, and with a word on what nobody recorded: that it was not
mixed, sprayed or cut. While ammoniacal silver of it stands it is not cancelled: only making safe stops a clock.
"""

from __future__ import annotations

from uuid import NAMESPACE_URL, uuid5

from django.db import transaction

from jobs.models import Job, Run, RunEntry
from jobs.work import states
from jobs.work.bench import BenchError, BenchState, bench_state, note
from jobs.work.booking import BookingError, reads, release
from jobs.work.clock import standing_of_job
from jobs.work.finishing import stop_run
from studio.house.models import House, Person
from studio.kit.locks import check_opened, tried_three_times

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


def _say_the_rest(run: Run, by: Person, nothing_else: bool) -> None:
    """Record of what nobody recorded that it was not done, where that is said. Raises BenchError where it is not."""
    state = bench_state(run)
    unsaid = unrecorded(state)
    if unsaid and not nothing_else:
        raise BenchError(f"Record what was done of {run.ticket}, or tick that the rest was not: {', '.join(unsaid)}.",
                         "nothing_else")
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
