"""A further ticket, for the panes that finished runs fell short of: planned from the quote's frozen basis."""

from __future__ import annotations

from fractions import Fraction

from django.db import transaction

from jobs.estimating.basis import Basis, KeptOffcut
from jobs.estimating.estimate import Estimate, estimate_basis
from jobs.estimating.refusals import EstimateError
from jobs.frozen import freeze
from jobs.models import Job, PaneResult, Run, WorkTicket
from jobs.quotes.frozen_plan import offcuts_needed, stock_needed
from jobs.work import states
from jobs.work.booking import BookingError, frozen_estimate, reserve
from jobs.work.rest_plan import StillToMake, basis_of_rest, what_is_left, with_own_labels
from jobs.work.samples import check_samples
from jobs.work.ticket_plan import TicketPlan, plan_ticket
from recipes.finishes.in_doubt import check_sound
from studio.house.clock import now, today
from studio.house.models import Person
from studio.stockroom.models import Material
from studio.stockroom.offcuts.kept import free_offcuts
from studio.stockroom.shelf import lots_on_shelf


def still_to_make(job: Job) -> StillToMake:
    """Return the panes of a job that its finished runs did not make good. Two queries."""
    results = PaneResult.objects.filter(run__ticket__job=job).order_by("run__ticket__number", "pk")
    return what_is_left(job.order.lines.values_list("number", "quantity"),
                        results.values_list("line_number", "label", "good", "spoilt_because"))


@transaction.atomic
def make_further_ticket(*, job: Job, by: Person) -> WorkTicket:
    """Return the open further ticket of a job, or make one: stock is promised for it, and the job is on the bench.

    Raises BookingError unless the job is part done, InDoubt for recipe versions that are not sound today, EstimateError
    where the rest cannot be planned, NotYet while a sample of it waits again.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    open_run = Run.objects.filter(ticket__job=job, finished_at=None).exclude(reservation=None).first()
    if open_run is not None and job.state == states.ON_THE_BENCH:
        return open_run.ticket
    states.check(job.state, states.FURTHER, BookingError)
    check_samples(job)
    plan, estimate = plan_of_rest(job)
    ticket = WorkTicket.objects.create(
        job=job, number=job.tickets.count() + 1, made_at=now(), made_by=by, plan=freeze(plan))
    reservation = reserve(stock_needed(estimate), offcuts_needed(estimate), f"job {job.number}, the rest")
    Run.objects.create(ticket=ticket, opened_at=now(), reservation=reservation)
    job.state = states.ON_THE_BENCH
    job.saves += 1
    job.save(update_fields=["state", "saves"])
    return ticket


def plan_of_rest(job: Job, run: Run | None = None) -> tuple[TicketPlan, Estimate]:
    """Return the plan of what is left of a job with the lots as they stand today, and what it was worked out from.

    run: its open further run, whose own kept offcuts count as free. Raises as `make_further_ticket` does.
    """
    still = still_to_make(job)
    if not still or job.quote is None:
        raise BookingError("No pane of this job is still to make.")
    basis = frozen_estimate(job.quote).basis
    estimate = _estimate_of(basis, still, run.reservation_id if run is not None else None)
    check_sound(recipe.key for recipe in estimate.basis.line_recipes())
    ids = dict(Material.objects.filter(code__in=stock_needed(estimate)).values_list("code", "pk"))
    shelf = lots_on_shelf(ids.values())
    plan = plan_ticket(estimate, {code: shelf[pk] for code, pk in ids.items()}, today())
    bought_in = [item.name for item in basis.bought_in if item.line in still.by_line and item.kind != "carriage"]
    return with_own_labels(plan, still, bought_in), estimate


def _estimate_of(basis: Basis, still: StillToMake, own_reservation: int | None) -> Estimate:
    """Work out the rest, with the kept offcuts that are free now; from sheets where those do not serve any more."""
    codes = dict(Material.objects.filter(code__in=basis.glasses).values_list("pk", "code"))
    offcuts: dict[str, list[KeptOffcut]] = {}
    for row in free_offcuts(list(codes), own_reservation):
        offcuts.setdefault(codes[row.material_id], []).append(KeptOffcut(
            number=row.number, width_mm=Fraction(row.width_mm), height_mm=Fraction(row.height_mm)))
    try:
        return estimate_basis(basis_of_rest(basis, still.by_line, offcuts))
    except EstimateError:
        if all(line.route != "offcut" for line in basis.lines):
            raise
    return estimate_basis(basis_of_rest(basis, still.by_line, offcuts, cut_from_sheets=True))
