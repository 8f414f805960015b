"""Correct what a finished run deducted: every amount goes back by its opposite, and the right ones are deducted.

The run stays finished. Its panes, its making safe and its clocks are what they were: only what left the shelf is told
anew, with who, when and why. A run that was undone as a whole would have to be made safe twice, or not at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID, uuid5

from django.db import transaction

from jobs import acts
from jobs.models import Job, JobAct, Run
from jobs.work.bench import BenchError, bench_state
from jobs.work.kept import refuse_uncut
from studio.house.models import Person
from studio.kit.locks import AGAIN, ChangedMeanwhile, tried_three_times
from studio.kit.rounding import plain
from studio.stockroom.ledger import Movement, lock_levels, post, reverse
from studio.stockroom.models import Lot, Posting, StockMovement


@dataclass(frozen=True, kw_only=True)
class Deducted:
    """What a run took of one lot, in its stock unit."""

    lot: Lot
    amount: Decimal


def deducted(run: Run) -> list[Deducted]:
    """Return what a finished run took, by lot: at first those it took from, with nothing where that was corrected away.

    So a lot that was corrected to nothing can be corrected back. Two queries, and one for each correction.
    """
    if run.posting is None:
        return []
    taken: dict[int, Deducted] = {}
    for posting in (run.posting, *_stood_before(run.posting)):
        for movement in posting.movements.select_related("lot__material", "lot__level").order_by("line"):
            before = taken.get(movement.lot_id, Deducted(lot=movement.lot, amount=Decimal(0)))
            counts = -movement.quantity if posting == run.posting else Decimal(0)
            taken[movement.lot_id] = Deducted(lot=movement.lot, amount=before.amount + counts)
    return list(taken.values())


def _stood_before(posting: Posting) -> Iterator[Posting]:
    """Return the postings that one stands in place of, newest first: its key tells the key of their opposites."""
    while before := Posting.objects.filter(movements__reversed_by__posting__key=_key_back(posting.key)).first():
        yield before
        posting = before


def _key_back(key: UUID) -> UUID:
    return uuid5(key, "back")


@tried_three_times
@transaction.atomic
def correct_deduction(
    *, run: Run, by: Person, key: UUID, amounts: Mapping[int, Decimal], why: str, opened: int | None = None,
) -> Run:
    """Deduct other amounts of the lots that a finished run took from. amounts: in stock units, by lot id; 0: none.

    A form's key counts once. opened: the posting that a form was opened with. Raises ChangedMeanwhile when somebody
    else corrected it since, BenchError for a run that is open, without a reason, where nothing is other, for an amount
    below nothing, where nothing at all would be left, for what a lot does not hold, and
    for no sheet where an offcut of it is kept.
    """
    if Posting.objects.filter(key=key).exists():
        return Run.objects.get(pk=run.pk)
    run = Run.objects.select_for_update(of=("self",)).select_related("ticket", "posting").get(pk=run.pk)
    job = Job.objects.select_for_update(of=("self",)).get(pk=run.ticket.job_id)
    before = {row.lot.pk: row for row in deducted(run)}
    if opened is not None and run.posting is not None and run.posting.pk != opened:
        raise ChangedMeanwhile(
            f"It was corrected meanwhile, and now deducts {_read(before)}. Nothing was saved: compare it with what you "
            f"typed. {AGAIN}", run.posting.pk)
    _refuse(run, before, amounts, why)
    levels = lock_levels(list(before))
    for pk, row in before.items():
        wanted = amounts.get(pk, row.amount)
        there = levels[pk].on_hand + row.amount
        if wanted > there:
            held = f"{plain(there)} {row.lot.material.stock_unit}"
            raise BenchError(f"{row.lot} held {held} for this run: count it first.", f"lot-{pk}")
    assert run.posting is not None
    reverse(key=_key_back(key), by=by, posting=run.posting, why=why.strip()[:200])
    run.posting = post(key=key, kind=Posting.Kind.RUN, by=by, why=run.posting.why, movements=[
        Movement(lot=row.lot, kind=StockMovement.Kind.USE, quantity=-amounts.get(pk, row.amount),
                 unit_cost=row.lot.unit_cost, note="corrected")
        for pk, row in before.items() if amounts.get(pk, row.amount) > 0
    ])
    run.save(update_fields=["posting"])
    refuse_uncut(run, bench_state(run))
    changed = [f"{row.lot.material.name} {plain(row.amount)} → {plain(amounts[pk])} {row.lot.material.stock_unit}"
               for pk, row in before.items() if pk in amounts and amounts[pk] != row.amount]
    acts.record(job, JobAct.Kind.CORRECTED, by, note=f"{why.strip()}: {'; '.join(changed)}")
    return run


def _read(rows: Mapping[int, Deducted]) -> str:
    return "; ".join(f"{plain(row.amount)} {row.lot.material.stock_unit} of {row.lot}" for row in rows.values())


def _refuse(run: Run, before: Mapping[int, Deducted], amounts: Mapping[int, Decimal], why: str) -> None:
    if run.finished_at is None or run.posting is None:
        raise BenchError("This run deducted nothing yet: finish it first.")
    if any(amount < 0 for amount in amounts.values()):
        raise BenchError("An amount is nothing, or more than nothing.")
    if all(amounts.get(pk, row.amount) == row.amount for pk, row in before.items()):
        raise BenchError("Every amount is as it was deducted: nothing is corrected.")
    if not any(amounts.get(pk, row.amount) for pk, row in before.items()):
        raise BenchError("A finished run used something: leave an amount in one lot at least.")
    if not why.strip():
        raise BenchError("Say why it is corrected.", "why")
