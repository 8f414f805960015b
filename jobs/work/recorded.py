"""What is recorded of the mixes of many runs at once, whether they go on or are finished."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from jobs.models import Run, RunEntry
from jobs.work.bench import NOT_STARTED, MixState, _mix_state
from jobs.work.ticket_plan import TicketPlan
from jobs.work.ticketing import plan_of
from studio.kit.asking import among

Kind = RunEntry.Kind


@dataclass(frozen=True, kw_only=True)
class RunRecord:
    """A run with its ticket's plan and what was recorded of it, the newest of each subject.

    not_started: the panes that nobody started. last_at: when something was last recorded of its mixes, by mix key.
    """

    run: Run
    plan: TicketPlan
    mixes: tuple[MixState, ...]
    not_started: frozenset[str]
    last_at: dict[str, datetime]


def records_of(runs: Sequence[Run]) -> dict[int, RunRecord]:
    """Return what is recorded of runs, by id. runs: with ticket, job and quote fetched. One query a chunk."""
    newest: dict[int, dict[tuple[str, str], RunEntry]] = {run.pk: {} for run in runs}
    rows = RunEntry.objects.filter(kind__in=[Kind.MIXED, Kind.PANE]).select_related("by").order_by("pk")
    for entry in among(rows, "run_id", newest):
        newest[entry.run_id][entry.kind, entry.subject] = entry
    return {run.pk: _record(run, newest[run.pk]) for run in runs}


def _record(run: Run, newest: dict[tuple[str, str], RunEntry]) -> RunRecord:
    plan = plan_of(run.ticket)
    return RunRecord(
        run=run, plan=plan, mixes=tuple(_mix_state(mix, newest.get((Kind.MIXED, mix.key))) for mix in plan.mixes),
        not_started=frozenset(label for (kind, label), entry in newest.items()
                              if kind == Kind.PANE and entry.content["outcome"] == NOT_STARTED),
        last_at={subject: entry.at for (kind, subject), entry in newest.items() if kind == Kind.MIXED},
    )
