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
class LotUse:
    """Something that a lot reached. via: the lots mixed here on the way, nearest first."""

    kind: str
    name: str
    customer: str
    amount: Decimal
    unit: str
    lot: Lot
    via: tuple[str, ...]
    run: Run | None = None
    trial: Trial | None = None
    panes: tuple[PaneResult, ...] = ()


@dataclass(frozen=True, kw_only=True)
class LotUsed:
    """A lot that something was made of. depth 0: taken directly; deeper: in a lot that was mixed here."""

    lot: Lot
    amount: Decimal
    depth: int
    via: str


def _taken(lots: Iterable[Lot]) -> list[StockMovement]:
    """Return what was taken of lots and not given back."""
    rows = StockMovement.objects.filter(kind__in=TAKING, reverses=None, reversed_by=None)
    return list(among(rows.select_related("lot__material", "posting"), "lot_id", (lot.pk for lot in lots)))


def made_from(posting_ids: Iterable[int]) -> dict[int, Lot]:
    """Return the lots that were mixed here, by posting."""
    rows = StockMovement.objects.filter(kind=StockMovement.Kind.MAKE_UP_IN, reverses=None)
    asked = among(rows.select_related("lot__material"), "posting_id", posting_ids)
    return {row.posting_id: row.lot for row in asked}


def uses_of_lot(lot: Lot) -> list[LotUse]:
    """Return the runs, panes, customers and trials that a lot reached, also through what was mixed from it.

    Queries grow with the depth of nesting, not with rows.
    """
    found: list[LotUse] = []
    level: dict[int, tuple[Lot, tuple[str, ...]]] = {lot.pk: (lot, ())}
    seen = {lot.pk}
    while level:
        moved = _taken(source for source, _ in level.values())
        made = made_from({movement.posting_id for movement in moved if movement.kind == StockMovement.Kind.MAKE_UP_OUT})
        found += _ends([movement for movement in moved if movement.posting_id not in made], level)
        deeper: dict[int, tuple[Lot, tuple[str, ...]]] = {}
        for movement in moved:
            new = made.get(movement.posting_id)
            if new is not None and new.pk not in seen:
                seen.add(new.pk)
                deeper[new.pk] = (new, (*level[movement.lot_id][1], str(new)))
        level = deeper
    return found


def _ends(moved: list[StockMovement], level: dict[int, tuple[Lot, tuple[str, ...]]]) -> list[LotUse]:
    postings = {movement.posting_id for movement in moved}
    asked = among(Run.objects.select_related("ticket__job__order__customer"), "posting_id", postings)
    runs = {run.posting_id: run for run in fetched(asked, "pane_results__recipe_version__finish")}
    trials = {use.posting_id: use.trial for use in _uses(postings)}
    found = []
    for movement in moved:
        lot, via = level[movement.lot_id]
        run, trial = runs.get(movement.posting_id), trials.get(movement.posting_id)
        shared: dict[str, Any] = {
            "amount": -movement.quantity, "unit": lot.material.stock_unit, "lot": lot, "via": via,
        }
        if run is not None:
            order = run.ticket.job.order
            found.append(LotUse(kind="run", name=f"{run.ticket.job}, {order.title}", customer=order.customer.name,
                                 run=run, panes=tuple(run.pane_results.all()), **shared))
        elif trial is not None:
            found.append(LotUse(kind="trial", name=f"{trial} of {trial.recipe_version}", customer="", trial=trial,
                                 **shared))
    return found


def _uses(postings: Iterable[int]) -> Iterable[TrialUse]:
    return among(TrialUse.objects.select_related("trial__recipe_version__finish"), "posting_id", postings)


def lots_used_in(postings: Iterable[Posting]) -> list[LotUsed]:
    """Return every lot that went into postings, those mixed here with the lots they were mixed from, to any depth."""
    found: list[LotUsed] = []
    level: list[tuple[StockMovement, int, str]] = [
        (movement, 0, "") for movement in among(
            StockMovement.objects.filter(kind__in=TAKING, reverses=None, reversed_by=None)
            .select_related("lot__material").order_by("pk"), "posting_id", (posting.pk for posting in postings),
        )
    ]
    seen: set[int] = set()
    while level:
        found += [
            LotUsed(lot=movement.lot, amount=-movement.quantity, depth=depth, via=via) for movement, depth, via in level
        ]
        made = {
            movement.lot_id: (movement.lot, depth) for movement, depth, _ in level
            if movement.lot.made_here and movement.lot_id not in seen
        }
        seen |= made.keys()
        moved = StockMovement.objects.filter(reverses=None).select_related("lot__material").order_by("pk")
        mixed_ahead = among(moved.filter(kind=StockMovement.Kind.MAKE_UP_IN), "lot_id", made)
        mixed = {movement.posting_id: made[movement.lot_id] for movement in mixed_ahead}
        outs = among(moved.filter(kind=StockMovement.Kind.MAKE_UP_OUT), "posting_id", mixed)
        level = []
        for movement in outs:
            mixed_lot, depth = mixed[movement.posting_id]
            level.append((movement, depth + 1, str(mixed_lot)))
    return found


def lots_of_job(job: Job) -> list[LotUsed]:
    """Return every lot in a job's finished runs."""
    return lots_used_in(Posting.objects.filter(run__ticket__job=job))


def by_lot(lots_used: Iterable[LotUsed]) -> dict[int, Decimal]:
    """Return how much of each lot, by its id."""
    amounts: dict[int, Decimal] = defaultdict(Decimal)
    for used in lots_used:
        amounts[used.lot.pk] += used.amount
    return dict(amounts)
