"""What a run leaves for the waste: its silvering bath with the first rinses, and each other solution by itself.

“run 12/1” is the silvering bath of job 12, ticket 1: every mix that holds silver and what its step combines it with. It
is ammoniacal until the run was made safe. “run 12/1 etch/2” is version 2 of another solution of that run.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from fractions import Fraction

from django.db.models import Min

from jobs.models import Run, RunEntry, WorkTicket
from jobs.models.quotes import frozen_of
from jobs.work.bench import BenchState, MixState, bench_state
from jobs.work.clock import clocks_of
from jobs.work.recorded import records_of
from jobs.work.silver import silver_at_the_bench, silver_of_runs
from recipes.facts import Shelf
from recipes.models import MakingSafe, SolutionVersion
from recipes.reading import ANY_DAY, shelf_for
from recipes.solutions.rules import agents_within, unclassed_within
from studio.kit.asking import heaps_of
from studio.kit.typed_numbers import whole_number
from studio.stockroom.hazards.classes import SILVER, with_implied
from studio.stockroom.models import Posting
from studio.stockroom.waste.sources import RECENT, Source, SourceKind

_NAME = re.compile(r"run (\d+)/(\d+)(?: (.+))?")


def _name(run: Run) -> str:
    """Return what a run is called for good: by its first ticket, whatever was printed in its place since."""
    return f"run {run.ticket.job.number}/{run.ticket.first_number}"


def _ticket(job: str, number: str) -> WorkTicket | None:
    """Return the ticket that the run of a named one goes on with."""
    named = WorkTicket.objects.select_related("job__order__customer").filter(
        job__number=whole_number(job), number=whole_number(number))
    return next((ticket.newest for ticket in named), None)


def _there(mixes: Iterable[MixState]) -> list[MixState]:
    """Return the mixes of a run that are there, or may be: all but those recorded as not made."""
    return [mix for mix in mixes if mix.made is not False or mix.lot is not None]


def _classes(mixes: list[MixState]) -> tuple[dict[str, frozenset[str]], dict[str, list[str]]]:
    """Return what each mix reacts as, by its key: as printed on the ticket, and as it is known now; and what of it
    nobody has classed.
    """
    shelf = _shelf_of(mixes)
    classes, unknown = {}, {}
    for mix in mixes:
        known = mix.mix.solution_key in shelf.solutions
        now = agents_within(mix.mix.solution_key, shelf) if known else frozenset()
        classes[mix.mix.key] = now | frozenset(mix.mix.agents)
        unknown[mix.mix.key] = unclassed_within(mix.mix.solution_key, shelf) if known else []
    return classes, unknown


def _shelf_of(mixes: Iterable[MixState]) -> Shelf:
    """Return the solutions of mixes as they are known now."""
    keys = {mix.mix.solution_key for mix in mixes if mix.mix.solution_key}
    rows = SolutionVersion.objects.filter(solution__code__in={key.rpartition("/")[0] for key in keys})
    return shelf_for([row.pk for row in rows.select_related("solution") if row.key in keys], ANY_DAY)


def _find(name: str) -> Source | None:
    found = _NAME.fullmatch(name)
    if found is None:
        return None
    ticket = _ticket(found[1], found[2])
    run = ticket.own_run if ticket is not None else None
    if run is None:
        return None
    state, other = bench_state(run), found[3] or ""
    mixes = _there(state.mixes)
    classes, unknown = _classes(mixes)
    holding = [mix for mix in mixes if with_implied(classes[mix.mix.key]) & SILVER]
    steps = {(mix.mix.recipe, mix.mix.step) for mix in holding if mix.mix.step is not None}
    bath = [mix for mix in mixes if mix in holding or (mix.mix.recipe, mix.mix.step) in steps]
    chosen = [mix for mix in mixes if mix.mix.solution_key == other] if other else bath
    if not chosen and (other or run.finished_at is None):
        return None
    words = f"{run.ticket.job}, ticket {run.ticket.number}"
    return Source(
        name=" ".join(filter(None, (_name(run), other))),
        words=f"{words}: {chosen[0].mix.solution}" if other else f"{words}: silver and first rinses",
        classes=frozenset().union(*(classes[mix.mix.key] for mix in chosen)),
        silver_g=_silver(run, state) if not other or chosen[0] in bath else Fraction(0),
        made_safe=_made_safe(run, state), safe_since=_safe_since(run), is_bath=not other,
        unknown=tuple(dict.fromkeys(name for mix in chosen for name in unknown[mix.mix.key])),
        postings=(run.posting_id,) if run.posting_id and not other else (),
    )


def _made_safe(run: Run, state: BenchState) -> bool:
    """Say whether what a run mixed is made safe: every clock of it stopped; without one, by its one record."""
    if clocks_of(run).exists():
        return not state.standing
    return state.made_safe is not None


def _safe_since(run: Run) -> datetime | None:
    """Return when something of a run was first made safe: by a record that names it, or by its one record."""
    named: datetime | None = MakingSafe.objects.filter(clocks__of_run__run=run).aggregate(first=Min("done_at"))["first"]
    plain: datetime | None = run.entries.filter(kind=RunEntry.Kind.MADE_SAFE).aggregate(first=Min("at"))["first"]
    return min(filter(None, (named, plain, run.made_safe_at)), default=None)


def _silver(run: Run, state: BenchState) -> Fraction:
    return silver_of_runs([run])["rest"] if run.finished_at is not None else silver_at_the_bench(state)


def _recent() -> list[tuple[str, str]]:
    """Offer the silver of recent runs, and their other solutions that were mixed. A fixed number of queries.

    What a run mixed holds what its ticket says; of one that goes on, all that is known now as well.
    """
    offered = []
    newest = list(Run.objects.order_by("-opened_at").values_list("pk", flat=True)[:RECENT])
    runs = Run.objects.select_related("ticket__job__order__customer", "ticket__job__quote").defer(
        *frozen_of("ticket__job__quote"))
    recent = [run for part in heaps_of(runs, newest, RECENT) for run in part]
    records = records_of(recent)
    shelf = _shelf_of(mix for run in recent if run.finished_at is None for mix in records[run.pk].mixes)

    def holds_silver(run: Run, mix: MixState) -> bool:
        now = run.finished_at is None and mix.mix.solution_key in shelf.solutions
        known = agents_within(mix.mix.solution_key, shelf) if now else frozenset()
        return bool(with_implied(known | frozenset(mix.mix.agents)) & SILVER)

    for run in recent:
        words = f"{run.ticket.job}, ticket {run.ticket.number}"
        offered.append((_name(run), f"{words}: silver and first rinses"))
        others = {mix.mix.solution_key: mix.mix.solution for mix in _there(records[run.pk].mixes)
                  if mix.mix.solution_key and not holds_silver(run, mix)}
        offered += [(f"{_name(run)} {key}", f"{words}: {solution}") for key, solution in others.items()]
    return offered


def _of_posting(posting: Posting) -> str:
    run: Run | None = getattr(posting, "run", None)
    return _name(run) if run is not None else ""


def _lock(name: str) -> None:
    """Lock the run of a named ticket, which may go on with a later one of its job."""
    if found := _NAME.fullmatch(name):
        list(Run.objects.select_for_update(of=("self",)).filter(
            ticket__job__number=whole_number(found[1]), ticket__number__gte=whole_number(found[2])).order_by("pk"))


RUNS = SourceKind(lock=_lock, find=_find, recent=_recent, of_posting=_of_posting)
