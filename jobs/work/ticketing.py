"""Print a work ticket for a booked job: its plan is kept as printed, and a run is opened for it."""

from __future__ import annotations

from django.db import transaction

from jobs.estimating.basis import Basis
from jobs.frozen import freeze, thaw
from jobs.models import Job, Run, WorkTicket
from jobs.work import states
from jobs.work.booking import BookingError, frozen_plan
from jobs.work.ticket_plan import TicketPlan, plan_ticket, with_solution_keys
from recipes.finishes.in_doubt import check_sound
from studio.house.clock import now, today
from studio.house.models import Person
from studio.stockroom.models import Material
from studio.stockroom.shelf import lots_on_shelf


def plan_of(ticket: WorkTicket) -> TicketPlan:
    """Return a ticket's plan as it was printed; one from before solutions were named by key is told them."""
    plan, quote = thaw(ticket.plan, TicketPlan), ticket.job.quote
    if quote is None or all(mix.solution_key for mix in plan.mixes):
        return plan
    return with_solution_keys(plan, thaw(quote.basis, Basis).shelf.solutions)


def fresh_ticket(*, job: Job, by: Person) -> WorkTicket:
    """Return a ticket of a booked job with the lots to take as they stand today, not saved.

    Raises InDoubt for recipe versions that are not sound today.
    """
    assert job.quote is not None  # a constraint keeps it
    frozen, day = frozen_plan(job.quote), today()
    check_sound(recipe.key for recipe in frozen.estimate.basis.line_recipes())
    ids = dict(Material.objects.filter(code__in=frozen.stock).values_list("code", "pk"))
    shelf = lots_on_shelf(ids.values())
    plan = plan_ticket(frozen.estimate, {code: shelf[pk] for code, pk in ids.items()}, day)
    return WorkTicket(job=job, number=job.tickets.count() + 1, plan=freeze(plan), made_at=now(), made_by=by)


@transaction.atomic
def make_ticket(*, job: Job, by: Person) -> WorkTicket:
    """Return the job's open ticket, or make one with the lots to take as they stand today.

    Raises BookingError unless the job is booked, InDoubt for recipe versions that are not sound today.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    states.check(job.state, states.TICKET, BookingError)
    open_ticket = job.tickets.filter(run__finished_at=None).first()
    if open_ticket is not None:
        return open_ticket
    ticket = fresh_ticket(job=job, by=by)
    ticket.save()
    Run.objects.create(ticket=ticket, opened_at=now())
    return ticket
