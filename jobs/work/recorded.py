"""What is recorded of the mixes of many runs at once, whether they go on or are finished."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from jobs.models import Run, RunEntry
from jobs.work.bench import NOT_STARTED, MixState, mix_state
from jobs.work.entries import Entries
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
    mine: dict[int, list[RunEntry]] = {run.pk: [] for run in runs}
    rows = RunEntry.objects.filter(kind__in=[Kind.MIXED, Kind.PANE, Kind.UNDONE]).select_related("by").order_by("pk")
    for entry in among(rows, "run_id", mine):
        mine[entry.run_id].append(entry)
    return {run.pk: _record(run, Entries(sorted(mine[run.pk], key=lambda entry: entry.pk))) for run in runs}


def _record(run: Run, entries: Entries) -> RunRecord:
    plan = plan_of(run.ticket)
    last = {subject: entry.at for subject in entries.subjects(Kind.MIXED)
            if (entry := entries.newest(Kind.MIXED, subject)) is not None}
    return RunRecord(
        run=run, plan=plan, last_at=last,
        mixes=tuple(mix_state(mix, subject, entries) for mix in plan.mixes
                    for subject in (mix.key, *entries.makings(mix.key))),
        not_started=frozenset(label for label in entries.subjects(Kind.PANE)
                              if (entry := entries.newest(Kind.PANE, label)) is not None
                              and entry.content["outcome"] == NOT_STARTED),
    )
