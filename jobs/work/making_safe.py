"""Make safe what stands of a run: only what is named stops, also once the run is finished or its job cancelled."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from django.db import transaction

from jobs.models import Job, Run, RunEntry
from jobs.work.bench import note
from jobs.work.clock import clocks_of
from jobs.work.known_now import known_now
from jobs.work.pane_meetings import is_sprayed
from jobs.work.ticketing import plan_of
from recipes.clocks import ClockRefused, make_safe, owed_for
from recipes.models import MakingSafe
from studio.house.models import Person


@transaction.atomic
def make_run_safe(
    *, run: Run, key: UUID, by: Person, clocks: Collection[int], procedure: str, treated: Collection[str],
    done_at: datetime | None = None,
) -> MakingSafe:
    """Stop the named clocks of a run; while it is open, that stands among what was recorded on the bench too.

    A job on the way is locked before its run's clocks, as by everything at the bench. Raises ClockRefused.
    """
    known = MakingSafe.objects.filter(key=key).first()
    if known is not None:
        return known
    run = Run.objects.select_for_update(of=("self",)).select_related("ticket").get(pk=run.pk)
    job = Job.objects.select_for_update(of=("self",)).get(pk=run.ticket.job_id)
    mine = {clock.pk: clock.subject for clock in clocks_of(run)}
    if set(clocks) - mine.keys():
        raise ClockRefused("That is no mix of this run.", "clocks")
    plan = known_now(plan_of(run.ticket))
    owed = owed_for(any(is_sprayed(plan, mine[pk]) for pk in clocks))
    safe = make_safe(key=key, by=by, clocks=clocks, procedure=procedure, treated=treated, owed=owed, done_at=done_at)
    if run.finished_at is None and not job.is_cancelled:
        note(run=run, by=by, client_key=key, kind=RunEntry.Kind.MADE_SAFE, device_at=safe.done_at, content={
            "mixes": sorted(mine[pk] for pk in clocks), "procedure": safe.procedure, "treated": safe.treated,
        })
    return safe
