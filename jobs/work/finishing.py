"""Finish a run: deduct what was used, once, record how the panes came out, release what was promised.

The run of a job that is cancelled stops: what was recorded as used is deducted, and no more.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal
from uuid import NAMESPACE_URL, UUID, uuid5

from django.db import transaction

from jobs.models import Job, PaneResult, Run
from jobs.work import kept, states
from jobs.work.bench import (
    GOOD,
    NOT_STARTED,
    BenchError,
    BenchState,
    bench_state,
    taken_from_lots,
    used_amounts,
)
from jobs.work.booking import as_runs_left_it, release
from jobs.work.deduction import ShownAnew, mark_of, used_on
from recipes.models import RecipeVersion
from studio.exact import LENGTH_DECIMALS, RATIO_DECIMALS
from studio.house.clock import now, today
from studio.house.models import Person
from studio.kit.locks import tried_three_times
from studio.kit.rounding import as_decimal
from studio.stockroom.ledger import use_up
from studio.stockroom.models import Posting
from studio.stockroom.offcuts.kept import take_out_of_stock


def posting_key(run: Run) -> UUID:
    """Return the one key of a run's deduction, always the same: it counts once, however often it is sent."""
    return uuid5(NAMESPACE_URL, f"silvering-daybook:run:{run.ticket.made_at.isoformat()}:{run.ticket_id}")


@tried_three_times
@transaction.atomic
def finish_run(
    *, run: Run, by: Person, kept_back_because: str = "", chosen: Mapping[int, int] | None = None,
    chosen_because: str = "", shown: str | None = None,
) -> Run:
    """Deduct stock, record results and finish, all or nothing; finished already, it is returned as it is.

    kept_back_because: the owner's reason for using held or expired lots. chosen: the lot taken from first, by
    material id, where somebody chose another than the first to expire; chosen_because says why. shown: the mark of the
    deduction that was shown before: another one is refused, to be shown anew.

    A run with ammoniacal silver that still stands is refused: only making safe stops a clock.
    The job is finished, or part done where a line has fewer good panes than ordered. Raises BenchError while something
    is not recorded or the job is cancelled, NotEnough when a shelf cannot give what was used, ShownAnew.
    """
    run = Run.objects.select_for_update(of=("self",)).select_related("ticket__job").get(pk=run.pk)
    if run.finished_at is not None:
        return run
    job = Job.objects.select_for_update(of=("self",)).get(pk=run.ticket.job_id)
    if job.is_cancelled:
        states.check(job.state, states.FINISH, BenchError)
    state = bench_state(run)
    if state.missing:
        sentence, where = state.missing[0]
        raise BenchError(sentence, where)
    states.check(job.state, states.FINISH, BenchError)
    kept.refuse_uncut(run, state)
    assert state.made_safe is not None
    used, chosen = used_amounts(state), chosen or {}
    if chosen and not chosen_because.strip():
        raise BenchError("Say why another lot was taken than the first to expire.", "chosen-because")
    run.posting = _deduct(run, job, state, used, by, kept_back_because, chosen, chosen_because.strip())
    if shown is not None and shown != mark_of(run.posting.movements.values_list("lot", "quantity")):
        raise ShownAnew("The stock moved, or something was recorded, since this was shown: it is shown anew, and "
                        "nothing is deducted yet.")
    _end(run, job, state, by, [sheet.kept_offcut for glass in state.plan.glass for sheet in glass.plan])
    release(job)
    job.state = as_runs_left_it(job)
    job.saves += 1
    job.save(update_fields=["state", "saves"])
    return run


def stop_run(*, run: Run, by: Person, kept_back_because: str = "") -> None:
    """Deduct what was recorded as used on the open run of a job that is being cancelled, and end it.

    Where nothing was used it has nothing to end with: it stays as it is, of a cancelled job. Called with run and job
    locked. Raises BenchError while what was mixed is not made safe, NotEnough.
    """
    state, job = bench_state(run), run.ticket.job
    if any(mix.made or mix.lot is not None for mix in state.mixes):
        unsafe = next((found for found in state.missing if found[1] == "made-safe"), None)
        if unsafe is not None:
            raise BenchError(f"{run.ticket}: {unsafe[0]}", "made-safe")
    kept.refuse_uncut(run, state)
    used = used_amounts(state, recorded_only=True)
    if not used and not taken_from_lots(state):
        return
    run.posting = _deduct(run, job, state, used, by, kept_back_because)
    run.stopped = True
    _end(run, job, state, by, [
        sheet.kept_offcut for glass in state.plan.glass for sheet in glass.plan
        if kept.is_cut(glass, sheet, state, finished=False)
    ])


def _deduct(
    run: Run, job: Job, state: BenchState, used: Mapping[str, Decimal], by: Person, kept_back_because: str,
    chosen: Mapping[int, int] | None = None, chosen_because: str = "",
) -> Posting:
    return use_up(
        key=posting_key(run), by=by, day=today(), why=f"Job {job.number}, {run.ticket}",
        used=used_on(state, used, chosen, chosen_because), kept_back_because=kept_back_because.strip(),
    )


def _end(run: Run, job: Job, state: BenchState, by: Person, offcuts_used: Collection[int | None]) -> None:
    """Write how the panes came out, who made safe and that the run is over; take the used offcuts out of stock."""
    _record_panes(run, state)
    if state.made_safe is not None:
        run.made_safe_at = state.made_safe.device_at or state.made_safe.at
        run.made_safe_by = state.made_safe.by
    run.finished_at, run.finished_by = now(), by
    run.save()
    reservation = run.reservation or job.reservation
    if reservation is not None:
        offcuts = [offcut for offcut in reservation.offcuts.all() if offcut.number in offcuts_used]
        take_out_of_stock(offcuts, by=by, why=f"used for {job}")


def _record_panes(run: Run, state: BenchState) -> None:
    versions = {version.key: version for version in RecipeVersion.objects.select_related("finish").filter(
        finish__code__in=[recipe.key.rsplit("/", 1)[0] for recipe in state.plan.recipes]
    )}
    planned = {pane.label: pane for pane in state.plan.panes}
    PaneResult.objects.bulk_create([
        PaneResult(
            run=run, label=pane.label, line_number=planned[pane.label].line,
            width_mm=as_decimal(planned[pane.label].width_mm, LENGTH_DECIMALS),
            height_mm=as_decimal(planned[pane.label].height_mm, LENGTH_DECIMALS),
            area_m2=as_decimal(planned[pane.label].area_m2, RATIO_DECIMALS),
            recipe_version=versions[planned[pane.label].recipe], good=pane.outcome == GOOD, attempts=pane.attempts,
            spoilt_because=pane.because,
        )
        for pane in state.panes if pane.outcome not in ("", NOT_STARTED)
    ])
