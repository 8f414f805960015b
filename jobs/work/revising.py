"""Change a booked order: its lines, its quote, its promised stock and its ticket move together, or not at all.

The rule: an order is changed while its job is booked and nothing is recorded on its ticket. Once something is, mixes,
loads and panes are kept under the names that the ticket gave them; another order would be planned in other loads, so
that a record would come to mean another mix. What is on the bench is finished as it was printed; more is ordered again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.db import transaction

from jobs import acts
from jobs.estimating.loads import Load, Pane
from jobs.kept_orders import as_it_stands
from jobs.models import Job, JobAct, Order, Quote, WorkTicket
from jobs.quotes.freezing import WorkedOut
from jobs.quotes.quoting import freeze_quote
from jobs.work import states
from jobs.work.agreed import ASKED, KEPT, kept_with, restore, wait_again, why_answer_stays
from jobs.work.booking import BookingError, frozen_plan, release, reserve
from jobs.work.samples import as_they_stand
from recipes.finishes.in_doubt import check_sound
from studio.house.clock import now
from studio.house.models import Person
from studio.kit.locks import tried_three_times
from studio.kit.rounding import decimal_string
from studio.stockroom.models import Material


@dataclass(frozen=True, kw_only=True)
class StockChange:
    """What is promised of one material, before and after, in its stock unit."""

    material: Material
    before: Decimal
    after: Decimal

    @property
    def difference(self) -> Decimal:
        return self.after - self.before

    @property
    def size_of_difference(self) -> Decimal:
        return abs(self.difference)


@dataclass(frozen=True, kw_only=True)
class Revised:
    """What a changed order changes: promised stock, loads of the ticket, money with tax in the quotes' currency.

    loads: a sentence for each load that is other than it was; ticket: the printed one that is overtaken.
    """

    before: Quote
    quote: Quote
    stock: list[StockChange]
    loads: list[str]
    ticket: WorkTicket | None

    @property
    def dearer(self) -> Decimal:
        return self.quote.total - self.before.total

    @property
    def cheaper(self) -> Decimal:
        return -self.dearer


class _OnlyLookedAt(Exception):
    """Undoes what was written to look at it."""

    def __init__(self, revised: Revised) -> None:
        self.revised = revised


def preview(
    *, job: Job, by: Person, change: Callable[[], Order], key: UUID, worked_out: WorkedOut | None = None,
) -> Revised:
    """Return what a change would bring; nothing is saved. Raises as `revise` does."""
    try:
        with transaction.atomic():
            raise _OnlyLookedAt(revise(job=job, by=by, change=change, key=key, agreed_by="", why="a look",
                                       worked_out=worked_out))
    except _OnlyLookedAt as looked:
        return looked.revised


@tried_three_times
@transaction.atomic
def revise(
    *, job: Job, by: Person, change: Callable[[], Order], key: UUID, agreed_by: str, why: str,
    worked_out: WorkedOut | None = None,
) -> Revised:
    """Change the order of a booked job: a new revision of its quote replaces the one it was booked with.

    change: saves the order's lines anew. key: of the form, which counts once. agreed_by: who of the customer's side
    agreed, and how; empty, the new revision is with the customer and waits. why: what was asked.
    worked_out: what the change saves, before this transaction, so that nobody waits for it.

    Raises BookingError once something is recorded on its ticket or without a reason, InDoubt, OffcutError, and any
    refusal of the estimate.
    """
    job = Job.objects.select_for_update(of=("self",)).select_related("quote", "reservation").get(pk=job.pk)
    known = Quote.objects.filter(form_key=key, order=job.order_id).first()
    if known is not None:
        raise BookingError(f"{known} of this change is saved already.")
    states.check(job.state, states.REVISE, BookingError)
    if not why.strip():
        raise BookingError("Say what was asked: that stays in the job's story.", "why")
    before, ticket = job.quote, job.tickets.first()
    assert before is not None  # a constraint keeps both of a booked job
    assert job.reservation is not None
    stood, agreed_before = as_it_stands(job.order), kept_with(before, job.order)
    order = change()
    job.order.refresh_from_db()
    if as_it_stands(job.order) == stood:
        raise BookingError(f"Nothing is changed: the order is already as {before} has it.")
    quote = freeze_quote(order=order, by=by, form_key=key, own_reservation=job.reservation_id, worked_out=worked_out,
                         kept=None if agreed_by.strip() else {KEPT: agreed_before, ASKED: as_it_stands(job.order)})
    _swap_promises(job, quote)
    _answer(before, quote, agreed_by)
    if before.deposit <= 0 < quote.deposit:  # none was waited for before
        job.deposit_noted = acts.deposit_is_in(job, quote)
    job.quote, job.saves = quote, job.saves + 1
    job.save()
    acts.record(job, JobAct.Kind.REVISED, by, note=why, quote=quote)
    if agreed_by.strip():
        acts.record(job, JobAct.Kind.ACCEPTED, by, note=agreed_by, quote=quote)
    as_they_stand(job)
    return Revised(before=before, quote=quote, stock=_stock_changes(before, quote),
                   loads=load_changes(before, quote), ticket=ticket)


@tried_three_times
@transaction.atomic
def decline_revision(*, quote: Quote, by: Person | None = None, who: str = "") -> Quote:
    """Mark the waiting revision of a booked job as declined: what was agreed before stands again, stock and all.

    who: of the customer's side. Raises BookingError where it does not wait, NotAgreed, OffcutError, InDoubt.
    """
    job = Job.objects.select_for_update(of=("self",)).select_related("quote").get(order=quote.order_id)
    if quote.pk == job.quote_id and quote.state == Quote.State.DECLINED:
        return quote
    states.check(job.state, states.DECLINE, BookingError)
    waiting = job.waiting_revision
    if waiting is None or waiting.pk != quote.pk:
        raise BookingError(f"{quote} does not wait for the customer: what {job} is booked with stays.")
    agreed = restore(job, waiting, Quote.State.DECLINED)
    _swap_promises(job, agreed)
    job.quote, job.saves = agreed, job.saves + 1
    job.save()
    acts.record(job, JobAct.Kind.DECLINED, by, note=who, quote=waiting)
    as_they_stand(job)
    return waiting


@tried_three_times
@transaction.atomic
def undo_revision_answer(*, quote: Quote, by: Person, why: str, key: UUID | None = None) -> Quote:
    """Undo that a revision of a booked job was accepted or declined: it waits for the customer again, stock and all.

    key: of the form, which counts once. Raises BookingError, NotUndone without a reason, OffcutError, InDoubt.
    """
    job = Job.objects.select_for_update(of=("self",)).select_related("quote").get(order=quote.order_id)
    quote = Quote.objects.select_for_update().get(pk=quote.pk)
    if acts.known(key):
        return quote
    states.check(job.state, states.UNDO_REVISED, BookingError)
    refused = why_answer_stays(job, quote, list(job.order.quotes.all()), job.tickets.all())
    if refused:
        raise BookingError(refused)
    declined = not quote.is_accepted
    acts.record_undone(job, JobAct.Kind.DECLINED if declined else JobAct.Kind.ACCEPTED, by, why, quote, key=key)
    wait_again(job, quote)
    if declined:
        _swap_promises(job, quote)
    job.quote, job.saves = quote, job.saves + 1
    job.save()
    as_they_stand(job)
    return quote


def _answer(before: Quote, quote: Quote, agreed_by: str) -> None:
    """Let a new revision take the place of the one before: accepted itself, or sent and waiting."""
    Quote.objects.filter(pk=before.pk).update(state=Quote.State.REPLACED, decided_at=before.decided_at or now())
    quote.sent_at = now()
    quote.state, quote.decided_at = (Quote.State.ACCEPTED, now()) if agreed_by.strip() else (Quote.State.SENT, None)
    quote.save(update_fields=["state", "sent_at", "decided_at"])


def _swap_promises(job: Job, quote: Quote) -> None:
    """Let go of what the old revision was promised and promise what the new one needs."""
    plan = frozen_plan(quote)
    check_sound(recipe.key for recipe in plan.estimate.basis.line_recipes())
    release(job)
    job.reservation = reserve(plan.stock, plan.offcuts, f"job {job.number}")


def _stock_changes(before: Quote, after: Quote) -> list[StockChange]:
    old, new = frozen_plan(before).stock, frozen_plan(after).stock
    materials = Material.objects.filter(code__in={*old, *new}).order_by("name")
    rows = [StockChange(material=material, before=old.get(material.code, Decimal(0)),
                        after=new.get(material.code, Decimal(0))) for material in materials]
    return [row for row in rows if row.difference]


def load_changes(before: Quote, after: Quote) -> list[str]:
    """Return in sentences which loads a changed order makes otherwise than the old one."""
    old, new = _loads(before), _loads(after)
    said = []
    for name in dict.fromkeys([*old, *new]):
        if name not in new:
            said.append(f"{name} falls away: {old[name]}.")
        elif name not in old:
            said.append(f"{name} is new: {new[name]}.")
        elif old[name] != new[name]:
            said.append(f"{name} was {old[name]}, is now {new[name]}.")
    return said


def _loads(quote: Quote) -> dict[str, str]:
    """Return each load of a quote's plan by its name, with what lies in it: “2 × 610 × 915 mm”."""
    estimate = frozen_plan(quote).estimate
    many = len(estimate.loads) > 1
    return {
        f"{estimate.basis.recipes[recipe].finish}, load {load.number}" if many else f"Load {load.number}":
            _lies_in(load)
        for recipe, loads in estimate.loads.items() for load in loads
    }


def _lies_in(load: Load) -> str:
    sizes = Counter((pane.line_number, *_size(pane)) for pane in load.panes)
    return ", ".join(
        f"{panes} × {decimal_string(width, 1)} × {decimal_string(height, 1)} mm (line {line})"
        for (line, width, height), panes in sizes.items()
    )


def _size(pane: Pane) -> tuple[Fraction, Fraction]:
    return pane.size.line.width_mm, pane.size.line.height_mm
