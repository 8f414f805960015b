"""Every paper of every job as a file with a telling name. It reads, and keeps or freezes nothing."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.text import slugify

from jobs.models import Job, Quote, WorkTicket
from jobs.quotes.paper import render_quote
from jobs.work.ticket_paper import render_ticket
from jobs.work.ticketing import fresh_ticket
from studio.house.kept_files import read
from studio.house.models import Person
from studio.kit.asking import fetched


def all_papers(by: Person) -> Iterator[tuple[str, bytes]]:
    """Yield file name and PDF: quotes and tickets as they were kept, and a fresh ticket of each booked job.

    A quote or ticket that nobody has opened yet has no kept paper: it is rendered from what was frozen. by: who a fresh
    ticket says made it. Raises InDoubt for a booked job that may make no ticket today.
    """
    jobs = Job.objects.select_related("order__customer", "quote").order_by("number")
    for job in fetched(jobs, "tickets__paper", "order__quotes__paper"):
        name = f"job-{job.number}-{slugify(job.order.title)[:40]}"
        for quote in sorted(job.order.quotes.all(), key=lambda quote: quote.pk):
            yield f"{name}-quote-{quote.number}-{quote.revision}.pdf", _kept(quote)
        for ticket in sorted(job.tickets.all(), key=lambda ticket: ticket.number):
            yield f"{name}-ticket-{ticket.number}.pdf", _kept(ticket)
        if job.state == Job.State.BOOKED:
            yield f"{name}-ticket-fresh.pdf", render_ticket(fresh_ticket(job=job, by=by))


def _kept(row: Quote | WorkTicket) -> bytes:
    if row.paper is not None:
        return read(row.paper)
    return render_quote(row) if isinstance(row, Quote) else render_ticket(row)
