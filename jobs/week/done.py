"""What of a run is done: steps of loads, pane by pane where they are recorded so, and mixes."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime

from jobs.models import Run, RunEntry
from jobs.week.of_estimate import Recorded
from jobs.work.entries import Entries, done_at, mix_key, step_and_pane
from jobs.work.ticketing import plan_of
from jobs.work.work_plan import work_plan


def recorded_on(run: tuple[Run, Entries] | None) -> Recorded:
    """Return what is done of a run: steps of loads, pane by pane where they are recorded so, and mixes."""
    if run is None:
        return Recorded()
    kinds = RunEntry.Kind
    entries = run[1]
    made = [subject for subject in entries.subjects(kinds.MIXED)
            if (entry := entries.newest(kinds.MIXED, subject)) is not None
            and (entry.content.get("made") or entry.content.get("lot"))]
    steps: dict[tuple[str, int], datetime] = {}
    by_pane: dict[str, dict[str, datetime]] = defaultdict(dict)
    for subject in entries.subjects(kinds.STEP):
        entry = entries.newest(kinds.STEP, subject)
        if entry is not None and entry.content.get("did") == "done":
            step, pane = step_and_pane(subject)
            by_pane[step][pane] = done_at(entry)
    begun = bool(made or by_pane or entries.subjects(kinds.GLASS) or entries.subjects(kinds.SPRAYED))
    if by_pane:
        for load in work_plan(plan_of(run[0].ticket)).loads:
            for card in load.steps:
                done = by_pane.get(f"{load.anchor}s{card.step.number}", {})
                if "" in done or (done and set(load.load.panes) <= done.keys()):
                    steps[load.anchor, card.step.number] = max(done.values())
    return Recorded(done=steps, begun=begun, mixed={mix_key(subject).partition("b")[0] for subject in made})
