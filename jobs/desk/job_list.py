"""The list of jobs: what is asked of it by the address, and in which order its rows come."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import (
    Case,
    DateField,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
    prefetch_related_objects,
)
from django.db.models.functions import Coalesce, Lower
from django.http import HttpRequest

from jobs.desk.next_step import next_in_words
from jobs.models import Customer, Job, MoneyRequest, Order, Quote, WorkTicket
from jobs.models.quotes import frozen_of
from jobs.money.of_job import money_of
from jobs.work import states
from studio.house.clock import today
from studio.house.lists import Listing, paged, sort_asked, words_of
from studio.kit.typed_numbers import whole_number

#: what waits for the studio first: done and not delivered, on the bench, booked; then what waits for the customer
_NEXT = {states.FINISHED: 0, states.PART_DONE: 1, states.ON_THE_BENCH: 2, states.BOOKED: 3, states.ENQUIRY: 4,
         states.QUOTED: 5, states.DELIVERED: 6, states.CANCELLED: 6}
_DUE = F("due").asc(nulls_last=True)
#: the first holds where none is asked; each from its first row on, and turned round
SORTS: dict[str, Sequence[object]] = {
    "next": ("closed", _DUE, "rank", "-number"), "number": ("number",), "title": (Lower("order__title"), "number"),
    "customer": (Lower("order__customer__name"), "number"), "state": ("rank", _DUE, "number"),
    "due": (_DUE, "number"), "total": (F("total").asc(nulls_last=True), "number"),
}


def jobs_asked(request: HttpRequest) -> QuerySet[Job]:
    """Return the jobs that an address asks for, in no order: by state (“open”: not closed), customer, and text."""
    rows = Job.objects.all()
    wanted, customer, text = request.GET.get("state", ""), request.GET.get("customer", ""), request.GET.get("q", "")
    if wanted in Job.State.values:
        rows = rows.standing(wanted, today())
    elif wanted == "open":
        rows = rows.exclude(state__in=states.CLOSED)
    if customer:
        rows = rows.filter(order__customer=whole_number(customer))
    for word in words_of(text):
        rows = rows.filter(Q(order__title__icontains=word) | Q(order__customer__name__icontains=word)
                           | Q(number=whole_number(word)) | Q(order__note__icontains=word))
    return rows


def list_of(request: HttpRequest) -> Listing[Job]:
    """Return the page of jobs that an address asks for. The number of queries is fixed.

    Which jobs stand on the page is asked first, by their keys alone: a database that sorts whole rows carries all that
    was frozen of every job along. Nothing frozen is read but what a revision keeps of what was agreed (its wording).
    """
    agreed_first = Case(When(state=Quote.State.ACCEPTED, then=Value(0)), default=Value(1), output_field=IntegerField())
    quotes = Quote.objects.filter(order=OuterRef("order")).order_by(agreed_first, "-revision")
    rank = Case(*(When(state=state, then=Value(at)) for state, at in _NEXT.items()), output_field=IntegerField())
    closed = Case(When(state__in=states.CLOSED, then=Value(1)), default=Value(0), output_field=IntegerField())
    due = Coalesce("due_on", "order__due_on", output_field=DateField())
    rows = jobs_asked(request).annotate(due=due, rank=rank, closed=closed, total=Subquery(quotes.values("total")[:1]))
    name, backwards = sort_asked(request, SORTS)
    rows = rows.order_by(*SORTS[name])  # type: ignore[arg-type]
    keys = (rows.reverse() if backwards else rows).values_list("pk", flat=True)
    listing = paged(request, keys, name, backwards)
    shown = Job.objects.select_related("order__customer", "quote").annotate(due=due).defer(
        *(f"quote__{column}" for column in ("basis", "plan", "figures", "choices")))
    found = shown.in_bulk(list(listing.page.object_list))
    listing.page.object_list = jobs = [found[key] for key in listing.page.object_list if key in found]
    prefetch_related_objects(
        jobs, Prefetch("order__quotes", Quote.objects.defer(*frozen_of())), "acts",
        Prefetch("tickets", WorkTicket.objects.defer("plan").select_related("run")),
        Prefetch("money_requests", MoneyRequest.objects.to_sum_up()))
    return listing


def next_of(jobs: Sequence[Job], currency: str) -> dict[int, str]:
    """Return what comes next of each job of a list, by its number. Nothing is asked.

    jobs: as the list fetched them; currency: of money that came in where no quote says it.
    """
    money = {job: money_of(job, list(job.acts.all()), currency, list(job.money_requests.all())) for job in jobs}
    return {job.number: next_in_words(job, paid) for job, paid in money.items()}


def customers_with_jobs() -> QuerySet[Customer]:
    return Customer.objects.filter(Exists(Order.objects.filter(customer=OuterRef("pk")))).only("name")
