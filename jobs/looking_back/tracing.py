"""Trace: from a lot to everything it reached, and from a pane, job or trial to every lot in it, to any depth.

The ledger is read once: postings, their movements, and the runs, trials and make-ups behind them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from jobs.models import Job, PaneResult, Run
from recipes.models import Trial, TrialUse
from studio.kit.asking import among, fetched
from studio.stockroom.models import Lot, Posting, StockMovement

TAKING = (StockMovement.Kind.USE, StockMovement.Kind.MAKE_UP_OUT)


@dataclass(frozen=True, kw_only=True)
class Reached:
    """Something that a lot reached. through: the made-up lots on the way, nearest first."""

    kind: str
    name: str
    customer: str
    amount: Decimal
    unit: str
    lot: Lot
    through: tuple[str, ...]
    run: Run | None = None
    trial: Trial | None = None
    panes: tuple[PaneResult, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Came:
    """A lot that something was made of. depth 0: taken directly; deeper: inside a made-up lot."""

    lot: Lot
    amount: Decimal
    depth: int
    inside: str


def _taken(lots: Iterable[Lot]) -> list[StockMovement]:
    """Return what was taken of lots and not given back."""
    rows = StockMovement.objects.filter(kind__in=TAKING, reverses=None, reversed_by=None)
    return list(among(rows.select_related("lot__material", "posting"), "lot_id", (lot.pk for lot in lots)))


def made_from(posting_ids: Iterable[int]) -> dict[int, Lot]:
    """Return the lots that make-ups brought in, by posting."""
    rows = StockMovement.objects.filter(kind=StockMovement.Kind.MAKE_UP_IN, reverses=None)
    asked = among(rows.select_related("lot__material"), "posting_id", posting_ids)
    return {row.posting_id: row.lot for row in asked}


def forwards(lot: Lot) -> list[Reached]:
    """Return the runs, panes, customers and trials that a lot reached, also through what was made up from it.

    Queries grow with the depth of nesting, not with rows.
    """
    found: list[Reached] = []
    level: dict[int, tuple[Lot, tuple[str, ...]]] = {lot.pk: (lot, ())}
    seen = {lot.pk}
    while level:
        moved = _taken(one for one, _ in level.values())
        made = made_from({one.posting_id for one in moved if one.kind == StockMovement.Kind.MAKE_UP_OUT})
        found += _ends([one for one in moved if one.posting_id not in made], level)
        deeper: dict[int, tuple[Lot, tuple[str, ...]]] = {}
        for one in moved:
            new = made.get(one.posting_id)
            if new is not None and new.pk not in seen:
                seen.add(new.pk)
                deeper[new.pk] = (new, (*level[one.lot_id][1], str(new)))
        level = deeper
    return found


def _ends(moved: list[StockMovement], level: dict[int, tuple[Lot, tuple[str, ...]]]) -> list[Reached]:
    postings = {one.posting_id for one in moved}
    asked = among(Run.objects.select_related("ticket__job__order__customer"), "posting_id", postings)
    runs = {run.posting_id: run for run in fetched(asked, "pane_results__recipe_version__finish")}
    trials = {use.posting_id: use.trial for use in _uses(postings)}
    found = []
    for one in moved:
        lot, through = level[one.lot_id]
        run, trial = runs.get(one.posting_id), trials.get(one.posting_id)
        shared: dict[str, Any] = {
            "amount": -one.quantity, "unit": lot.material.stock_unit, "lot": lot, "through": through,
        }
        if run is not None:
            order = run.ticket.job.order
            found.append(Reached(kind="run", name=f"{run.ticket.job}, {order.title}", customer=order.customer.name,
                                 run=run, panes=tuple(run.pane_results.all()), **shared))
        elif trial is not None:
            found.append(Reached(kind="trial", name=f"{trial} of {trial.recipe_version}", customer="", trial=trial,
                                 **shared))
    return found


def _uses(postings: Iterable[int]) -> Iterable[TrialUse]:
    return among(TrialUse.objects.select_related("trial__recipe_version__finish"), "posting_id", postings)


def backwards(postings: Iterable[Posting]) -> list[Came]:
    """Return every lot that went into postings, made-up ones taken apart to what they were made of, to any depth."""
    found: list[Came] = []
    level: list[tuple[StockMovement, int, str]] = [
        (one, 0, "") for one in among(
            StockMovement.objects.filter(kind__in=TAKING, reverses=None, reversed_by=None)
            .select_related("lot__material").order_by("pk"), "posting_id", (one.pk for one in postings),
        )
    ]
    seen: set[int] = set()
    while level:
        found += [Came(lot=one.lot, amount=-one.quantity, depth=depth, inside=inside) for one, depth, inside in level]
        made = {one.lot_id: (one.lot, depth) for one, depth, _ in level if one.lot.made_here and one.lot_id not in seen}
        seen |= made.keys()
        moved = StockMovement.objects.filter(reverses=None).select_related("lot__material").order_by("pk")
        made_up = among(moved.filter(kind=StockMovement.Kind.MAKE_UP_IN), "lot_id", made)
        came_in = {one.posting_id: one.lot_id for one in made_up}
        outs = among(moved.filter(kind=StockMovement.Kind.MAKE_UP_OUT), "posting_id", came_in)
        level = [(one, made[came_in[one.posting_id]][1] + 1, str(made[came_in[one.posting_id]][0])) for one in outs]
    return found


def lots_of_job(job: Job) -> list[Came]:
    """Return every lot in a job's finished runs."""
    return backwards(Posting.objects.filter(run__ticket__job=job))


def lots_of_trial(trial: Trial) -> list[Came]:
    return backwards(Posting.objects.filter(trial_use__trial=trial))


def by_lot(came: Iterable[Came]) -> dict[int, Decimal]:
    """Return how much of each lot, by its id."""
    amounts: dict[int, Decimal] = defaultdict(Decimal)
    for one in came:
        amounts[one.lot.pk] += one.amount
    return dict(amounts)
