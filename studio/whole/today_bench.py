"""Where each open run stands: the loads under way, and what is next of each. One query for all of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from jobs.models import Run, RunEntry
from jobs.work.bench import DONE
from jobs.work.bench_cards import CONDITIONS, GLASS, MIX, STEP, Screen, screens_of
from jobs.work.entries import Entries
from jobs.work.ticket_plan import TicketPlan
from jobs.work.ticketing import plan_of
from jobs.work.work_plan import work_plan
from studio.kit.asking import among

Kind = RunEntry.Kind
#: so many loads are named; the bench says the rest
MOST_LOADS = 3


def stands_of(runs: Sequence[Run]) -> dict[int, str]:
    """Return by run where it stands: “load 2 at step 8, load 3 at step 1”. runs: with ticket, job and quote fetched."""
    mine: dict[int, list[RunEntry]] = {run.pk: [] for run in runs}
    for entry in among(RunEntry.objects.order_by("pk"), "run_id", mine):
        mine[entry.run_id].append(entry)
    return {run.pk: _stands(plan_of(run.ticket), Entries(sorted(mine[run.pk], key=lambda entry: entry.pk)))
            for run in runs}


def _stands(plan: TicketPlan, entries: Entries) -> str:
    screens = screens_of(work_plan(plan), plan)
    before = [screen for screen in screens if screen.load is None]
    loads: dict[str, list[Screen]] = {}
    for screen in screens:
        if screen.load is not None:
            loads.setdefault(screen.load.anchor, []).append(screen)
    begun = any(_is_done(screen, entries) for mine in loads.values() for screen in mine)
    first = next((screen for screen in before if not _is_done(screen, entries)), None)
    if first is not None and not begun:
        return {CONDITIONS: "record the conditions", GLASS: "cut the glass"}.get(first.kind, "mixing for the whole job")
    said = list(_under_way(loads.values(), entries))
    return ", ".join(said[:MOST_LOADS]) if said else "ready to be finished"


def _under_way(loads: Iterable[list[Screen]], entries: Entries) -> Iterator[str]:
    """Yield what is next of each load that goes on, up to the first that was not begun."""
    for mine in loads:
        done = [at for at, screen in enumerate(mine) if _is_done(screen, entries)]
        last = done[-1] if done else -1
        # a run's page records mixes and panes, not steps: what was recorded after a step says that it was done
        waiting = [screen for at, screen in enumerate(mine) if at not in done and (at > last or screen.kind == MIX)]
        if waiting:
            yield f"load {_number(mine)} {_at(waiting[0])}"
        if not done:
            return


def _number(screens: Sequence[Screen]) -> int:
    return next(screen.load.load.number for screen in screens if screen.load is not None)


def _at(screen: Screen) -> str:
    if screen.kind == MIX and screen.mix is not None and screen.mix.step:
        return f"mixing for step {screen.mix.step}"
    return f"at {screen.short}" if screen.kind == STEP else screen.short


def _is_done(screen: Screen, entries: Entries) -> bool:
    """Say whether it was recorded."""
    if screen.kind == MIX:
        return entries.newest(Kind.MIXED, screen.subject) is not None
    if screen.kind == STEP:
        entry = entries.newest(Kind.STEP, screen.anchor)
        return entry is not None and entry.content["did"] == DONE
    if screen.kind == CONDITIONS:
        return entries.newest(Kind.CONDITIONS) is not None
    if screen.kind == GLASS:
        return bool(entries.subjects(Kind.GLASS))
    return all(entries.newest(Kind.PANE, label) is not None for label in screen.panes)
