"""Print a work ticket for a booked job: its plan is kept as printed, and a run is opened for it."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import lru_cache

from django.db import transaction

from jobs.estimating.basis import Basis
from jobs.frozen import freeze, thaw
from jobs.models import Job, Run, RunEntry, WorkTicket
from jobs.work import states
from jobs.work.agreed import check_nothing_waits
from jobs.work.booking import BookingError, frozen_plan
from jobs.work.entries import Entries, mix_key
from jobs.work.further_ticket import plan_of_rest
from jobs.work.samples import check_go_ahead, check_samples
from jobs.work.shared_mixes import shared_by, told_together, with_shares
from jobs.work.ticket_plan import TicketPlan, plan_ticket, with_solution_keys
from recipes.finishes.in_doubt import check_sound
from studio.house.clock import now, today
from studio.house.models import Person
from studio.stockroom.models import Material
from studio.stockroom.shelf import lots_on_shelf

#: so many printed plans are held ready
MOST_READ = 64


def plan_of(ticket: WorkTicket) -> TicketPlan:
    """Return a ticket's plan as it was printed; one from before solutions were named by key is told them."""
    plan, quote = _read_once(json.dumps(ticket.plan, sort_keys=True)), ticket.job.quote
    if quote is None or all(mix.solution_key for mix in plan.mixes):
        return plan
    return with_solution_keys(plan, thaw(quote.basis, Basis).shelf.solutions)


@lru_cache(maxsize=MOST_READ)
def _read_once(printed: str) -> TicketPlan:
    """Return a plan as it was printed: what is printed stays, so that each is read once. Nobody changes one."""
    return thaw(json.loads(printed), TicketPlan)


def fresh_ticket(*, job: Job, by: Person) -> WorkTicket:
    """Return a ticket of a booked job with the lots to take as they stand today, not saved.

    Raises InDoubt for recipe versions that are not sound today.
    """
    assert job.quote is not None  # a constraint keeps it
    frozen, day = frozen_plan(job.quote), today()
    check_sound(recipe.key for recipe in frozen.estimate.basis.line_recipes())
    ids = dict(Material.objects.filter(code__in=frozen.stock).values_list("code", "pk"))
    shelf = lots_on_shelf(ids.values())
    shared = shared_by([job.pk])[job.pk]
    plan = plan_ticket(with_shares(frozen.estimate, shared), {code: shelf[pk] for code, pk in ids.items()}, day)
    return _ticket(job, told_together(plan, frozen.estimate, shared), by)


def _ticket(job: Job, plan: TicketPlan, by: Person) -> WorkTicket:
    return WorkTicket(job=job, number=job.tickets.count() + 1, plan=freeze(plan), made_at=now(), made_by=by)


@transaction.atomic
def make_ticket(*, job: Job, by: Person) -> WorkTicket:
    """Return the job's open ticket, or make one with the lots to take as they stand today.

    Raises BookingError unless the job is booked, NotAgreed while a revision of it waits, InDoubt for
    recipe versions that are not sound today.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    states.check(job.state, states.TICKET, BookingError)
    open_ticket = job.tickets.filter(run__isnull=False, run__finished_at=None).first()
    if open_ticket is not None:
        return open_ticket
    check_nothing_waits(job, "print its ticket")
    check_go_ahead(job)
    ticket = fresh_ticket(job=job, by=by)
    ticket.save()
    Run.objects.create(ticket=ticket, opened_at=now())
    return ticket


@transaction.atomic
def print_anew(*, job: Job, by: Person, number: str = "") -> WorkTicket:
    """Print the job's open ticket anew, with the lots as they stand today; its run goes on with the new one.

    What is recorded already stands on the new ticket as it was printed: only what waits gets other lots. The old ticket
    keeps its paper, and has no run any more. number: of the ticket that is meant; one that was replaced already answers
    with what replaced it. Raises BookingError where there is no open ticket, or where something is
    recorded on one that today's program plans otherwise; InDoubt for recipe versions that are not sound today.
    """
    # runs before their job, as everything at the bench locks them
    run = Run.objects.select_for_update(of=("self",)).select_related("ticket__job__quote").filter(
        ticket__job=job, finished_at=None).first()
    job = Job.objects.select_for_update(of=("self",)).select_related("quote").get(pk=job.pk)
    states.check(job.state, states.TICKET, BookingError)
    if run is None:
        raise BookingError("No ticket of this job is open: make the work ticket.")
    if number not in ("", str(run.ticket.number)) and run.ticket.replaces is not None:
        return run.ticket
    check_nothing_waits(job, "print its ticket anew")
    if run.is_further:
        check_samples(job)
        ticket = _ticket(job, plan_of_rest(job, run)[0], by)
    else:
        check_go_ahead(job)
        ticket = fresh_ticket(job=job, by=by)
    if run.entries.exists():
        ticket.plan = freeze(_with_what_is_recorded(thaw(ticket.plan, TicketPlan), run))
    ticket.replaces = run.ticket.number
    ticket.save()
    run.ticket = ticket
    run.save(update_fields=["ticket"])
    return ticket


def _with_what_is_recorded(fresh: TicketPlan, run: Run) -> TicketPlan:
    """Return a new plan with the mixes and the glass that were recorded as the run's own ticket has them."""
    printed = plan_of(run.ticket)
    if _subjects(printed) != _subjects(fresh):
        raise BookingError(f"{run.ticket} was planned otherwise than it would be today, and something is recorded on "
                           "it: finish it as it was printed.")
    entries = Entries(run.entries.filter(
        kind__in=[RunEntry.Kind.MIXED, RunEntry.Kind.GLASS, RunEntry.Kind.UNDONE]))
    recorded = {(kind, mix_key(subject) if kind == RunEntry.Kind.MIXED else subject)
                for kind in (RunEntry.Kind.MIXED, RunEntry.Kind.GLASS) for subject in entries.subjects(kind)}
    mixes, glass = {mix.key: mix for mix in printed.mixes}, {row.code: row for row in printed.glass}
    return replace(
        fresh, mixes=[mixes[mix.key] if (RunEntry.Kind.MIXED, mix.key) in recorded else mix for mix in fresh.mixes],
        glass=[glass[row.code] if (RunEntry.Kind.GLASS, row.code) in recorded else row for row in fresh.glass],
    )


def _subjects(plan: TicketPlan) -> tuple[set[str], set[str], set[str]]:
    """Return what records of a run are kept under."""
    return ({mix.key for mix in plan.mixes}, {pane.label for pane in plan.panes}, {row.code for row in plan.glass})
