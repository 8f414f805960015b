"""The one thing that a number names: “4-1”, “L1008”, “job 4”, “7”. It stands above everything else that was found."""

from __future__ import annotations

from collections.abc import Iterator

from django.urls import reverse

from jobs.models import Job, MoneyRequest, Quote, Run, WorkTicket
from recipes.models import Trial
from studio.stockroom.models import Lot, Offcut
from studio.whole.find.asking import Found
from studio.whole.find.jobs_side import about_quote, request_found, run_found
from studio.whole.find.stock_side import lot_found, offcut_found
from studio.whole.find.wanted import Wanted


def exact(wanted: Wanted, runs_desk: bool) -> list[Found]:
    """Return what a number names. A helper is led to the runs of a job. At most seven queries."""
    of_jobs = [*_jobs(wanted), *_quotes(wanted), *_requests(wanted)] if runs_desk else [*_runs_of_job(wanted)]
    return [*_tickets(wanted), *of_jobs, *_lots(wanted), *_trials(wanted), *_offcuts(wanted)]


def _tickets(wanted: Wanted) -> Iterator[Found]:
    """Yield the run of a ticket; of one that was replaced, the run that went over to the newest print."""
    if wanted.ticket is None:
        return
    job, number = wanted.ticket
    rows = WorkTicket.objects.filter(job__number=job).select_related("job__order", "run").defer("plan")
    tickets = {ticket.number: ticket for ticket in rows}
    ticket = tickets.get(number)
    while ticket is not None and ticket.own_run is None:
        ticket = next((later for later in tickets.values() if later.replaces == ticket.number), None)
    if ticket is not None and ticket.own_run is not None:
        yield run_found(ticket.own_run, wanted)


def _jobs(wanted: Wanted) -> Iterator[Found]:
    if wanted.named in ("", "job") and wanted.number is not None:
        for job in Job.objects.filter(number=wanted.number).select_related("order__customer"):
            yield Found(name=((f"{job}", True), (f": {job.order.title}", False)),
                        about=f"{job.order.customer.name}, {job.state}", address=reverse("jobs:job", args=[job.number]))


def _runs_of_job(wanted: Wanted) -> Iterator[Found]:
    if wanted.named in ("", "job") and wanted.number is not None:
        rows = Run.objects.filter(ticket__job__number=wanted.number).select_related("ticket__job__order")
        for run in rows.defer("ticket__plan").order_by("-pk"):
            yield run_found(run, wanted)


def _quotes(wanted: Wanted) -> Iterator[Found]:
    if wanted.named in ("", "quote") and wanted.number is not None:
        rows = Quote.objects.filter(number=wanted.number).select_related("order__customer", "order__job")
        for quote in rows.defer("basis", "plan", "figures", "wording").order_by("-revision"):
            yield Found(name=((f"{quote}", True), (f": {quote.order.title}", False)), about=about_quote(quote),
                        address=reverse("jobs:job", args=[quote.order.job.number]))


def _requests(wanted: Wanted) -> Iterator[Found]:
    """Yield the request for money of a number, with its prefix or without."""
    if wanted.request is not None and wanted.named == "":
        prefix, number = wanted.request
        rows = MoneyRequest.objects.filter(number=number).select_related("job__order__customer").defer("content")
        for row in rows:
            if prefix in ("", row.prefix.casefold()):
                yield request_found(row, wanted)


def _lots(wanted: Wanted) -> Iterator[Found]:
    if wanted.lot:
        for lot in Lot.objects.filter(lot_number__iexact=wanted.lot).select_related("material", "level"):
            yield lot_found(lot, wanted)


def _trials(wanted: Wanted) -> Iterator[Found]:
    if wanted.named in ("", "trial") and wanted.number is not None:
        for trial in Trial.objects.filter(number=wanted.number).select_related("recipe_version__finish"):
            yield Found(name=((f"{trial}", True), (f", {trial.recipe_version.finish.name}", False)),
                        about=trial.question, address=reverse("recipes:trial", args=[trial.number]))


def _offcuts(wanted: Wanted) -> Iterator[Found]:
    if wanted.named in ("", "offcut") and wanted.number is not None:
        for offcut in Offcut.objects.filter(number=wanted.number, gone_at=None).select_related("material"):
            yield offcut_found(offcut, wanted)
