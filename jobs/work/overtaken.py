"""Open tickets that were overtaken: a lot they say to take is held, expired or empty since they were printed."""

from __future__ import annotations

from collections.abc import Sequence

from jobs.models import Run, RunEntry
from jobs.work.bench import MixState
from jobs.work.lots_to_take import not_to_take, shelves_for
from jobs.work.ticketing import plan_of
from studio.house.clock import today
from studio.kit.asking import among


def overtaken(runs: Sequence[Run]) -> list[tuple[Run, list[str]]]:
    """Return the open runs whose tickets name lots not to be taken now, each with why, for mixes not recorded yet.

    runs: with their tickets, jobs and quotes fetched. The number of queries is fixed.
    """
    plans = {run.pk: plan_of(run.ticket) for run in runs}
    recorded = {
        (entry.run_id, entry.subject)
        for entry in among(RunEntry.objects.filter(kind=RunEntry.Kind.MIXED).only("run_id", "subject"), "run_id", plans)
    }
    mixes = {
        pk: [MixState(mix=mix) for mix in plan.mixes if (pk, mix.key) not in recorded] for pk, plan in plans.items()
    }
    shelves, day = shelves_for([state for states in mixes.values() for state in states]), today()
    found = []
    for run in runs:
        said = dict.fromkeys(
            sentence for state in mixes[run.pk] for sentence in not_to_take(state, shelves, day).values())
        if said:
            found.append((run, list(said)))
    return found
