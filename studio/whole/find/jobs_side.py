"""Find among jobs: what is the owner's alone, and what the bench sees of a job, without its customer and its prices."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from django.db.models import CharField, Exists, OuterRef, Q
from django.db.models.functions import Cast, Concat
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.timezone import localtime

from jobs.models import Customer, CustomerContact, Job, MoneyRequest, OrderLine, PaneResult, Quote, Run, RunEntry
from jobs.models.quotes import frozen_of
from studio.kit.currencies import show_money
from studio.kit.units import show_size
from studio.whole.find.asking import Found, beside_its_name, holding, keys_first, may_hold, named
from studio.whole.find.wanted import NEAR_MM, Wanted, WantedSize
from studio.whole.find.why import Why

Kind = RunEntry.Kind


def jobs(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    rows = Job.objects.select_related("order__customer").order_by("-number")
    columns = ("order__title", "order__customer__name", "order__note", "order__discount_reason", "waived_because",
               "cancelled_because", "state")
    found = holding(rows, wanted, columns, lambda job: (
        ("", f"{job}: {job.order.title}"), ("customer", job.order.customer.name), ("note", job.order.note),
        ("discount because", job.order.discount_reason), ("goes ahead because", job.waived_because),
        ("cancelled because", job.cancelled_because), ("state", job.state),
    ), own="job")
    for job, why in found:
        yield Found(name=named(f"{job}: {job.order.title}", wanted), about=f"{job.order.customer.name}, {job.state}",
                    address=reverse("jobs:job", args=[job.number]), why=why)


def customers(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    columns = ("name", "email", "phone", "address", "note")
    found = holding(Customer.objects.order_by("name"), wanted, columns, lambda customer: (
        ("", customer.name), ("e-mail", customer.email), ("telephone", customer.phone), ("address", customer.address),
        ("note", customer.note),
    ))
    for customer, why in found:
        yield Found(name=named(customer.name, wanted), address=reverse("jobs:customer", args=[customer.pk]), why=why)


def contacts(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield whom to reach at a customer's; each leads to the customer."""
    rows = CustomerContact.objects.select_related("customer").order_by("name", "pk")
    columns = ("name", "role", "email", "phone", "note", "customer__name")
    found = holding(rows, wanted, columns, lambda contact: (
        ("", contact.name), ("customer", contact.customer.name), ("asked about", contact.role),
        ("e-mail", contact.email), ("telephone", contact.phone), ("note", contact.note),
    ))
    for contact, why in found:
        yield Found(name=named(contact.name, wanted), about=f"{contact.role or 'contact'}, {contact.customer.name}",
                    address=reverse("jobs:customer", args=[contact.customer_id]), why=why)


def requests(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield requests for money by number, words and sum."""
    rows = MoneyRequest.objects.select_related("job__order__customer").defer("content").order_by("-number")
    labelled = rows.annotate(as_labelled=Concat("prefix", Cast("number", CharField())))
    columns = ("as_labelled", "kind", "job__order__title", "job__order__customer__name", "note")
    asked = may_hold(wanted, columns, "deposit balance request")
    if wanted.money is not None:
        asked |= Q(total=wanted.money) | Q(total=-wanted.money)
    for row in keys_first(labelled, asked):
        fields = (("", f"{row}: {row.job.order.title}"), ("customer", row.job.order.customer.name), ("note", row.note))
        is_sum = wanted.money is not None and abs(row.total) == wanted.money
        if is_sum or wanted.holds(*(text for _, text in fields)):
            why = ((Why(where="total", pieces=((show_money(Fraction(row.total), row.currency), True),)),) if is_sum
                   else beside_its_name(fields, wanted))
            yield request_found(row, wanted, why)


def request_found(row: MoneyRequest, wanted: Wanted, why: tuple[Why, ...] = ()) -> Found:
    return Found(name=named(f"{row}: {row.job.order.title}", wanted), why=why,
                 about=f"{row.job.order.customer.name}, {show_money(Fraction(row.total), row.currency)}",
                 address=reverse("jobs:job_requests", args=[row.job.number]))


def quotes(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield quotes by their words, by how they stand today, and by a sum: with tax, before tax, or the deposit."""
    rows = Quote.objects.defer(*frozen_of()).select_related("order__customer", "order__job")
    columns = ("order__title", "order__customer__name", "state")
    asked = may_hold(wanted, columns, "quote revision lapsed")  # it lapses by the date alone
    if wanted.money is not None:
        asked |= Q(total=wanted.money) | Q(net=wanted.money) | Q(deposit=wanted.money)
    for quote in keys_first(rows.order_by("-number", "-revision"), asked):
        fields = (("", f"{quote}: {quote.order.title}"), ("customer", quote.order.customer.name),
                  ("state", quote.standing))
        sums = _sums(quote, wanted)
        if sums or wanted.holds(*(text for _, text in fields)):
            yield Found(name=named(f"{quote}: {quote.order.title}", wanted), about=about_quote(quote),
                        why=sums or beside_its_name(fields, wanted),
                        address=reverse("jobs:job", args=[quote.order.job.number]))


def _sums(quote: Quote, wanted: Wanted) -> tuple[Why, ...]:
    """Return which of a quote's sums is the one that was typed: the first, since without tax they are alike."""
    sums = (("total", quote.total), ("before tax", quote.net), ("deposit", quote.deposit))
    found = (Why(where=where, pieces=((show_money(Fraction(amount), quote.currency), True),))
             for where, amount in sums if amount == wanted.money)
    return tuple(found)[:1]


def about_quote(quote: Quote) -> str:
    return f"{quote.order.customer.name}, {quote.standing}"


def runs(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield tickets with their runs: the bench's own page of a job."""
    rows = Run.objects.select_related("ticket__job__order__customer").defer("ticket__plan").order_by("-pk")
    columns = ("ticket__job__order__title", *(["ticket__job__order__customer__name"] if runs_desk else []))
    found = holding(rows, wanted, columns, lambda run: (
        ("", run_name(run)), *([("customer", run.ticket.job.order.customer.name)] if runs_desk else []),
        ("state", "finished" if run.finished_at else "on the bench"),
    ), own="ticket finished on the bench")
    for run, why in found:
        yield run_found(run, wanted, why)


def run_name(run: Run) -> str:
    return f"{run.ticket}: {run.ticket.job.order.title}"


def run_found(run: Run, wanted: Wanted, why: tuple[Why, ...] = ()) -> Found:
    ended = f"finished {date_format(localtime(run.finished_at), 'j M Y')}" if run.finished_at else "open"
    return Found(name=named(run_name(run), wanted), address=reverse("jobs:run", args=[run.pk]), about=ended, why=why)


def panes(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield order lines by their size, either way round, and by their words. For a helper, those on the bench."""
    columns = ("size_text", "place", "match_group", "holes_text", "note", "edge", "glass__name",
               "recipe_version__finish__name")
    rows = OrderLine.objects.select_related("order__job", "glass", "recipe_version__finish")
    asked = may_hold(wanted, columns) if wanted.words else Q(pk=None)
    for size in wanted.sizes:
        asked |= size_near(size)
    first_run = {} if runs_desk else _first_runs()
    for line in keys_first(rows.order_by("-order__job__number", "number"), asked):
        fields = (
            ("as typed", line.size_text), ("finish", line.recipe_version.finish.name),
            ("glass", line.glass.name), ("edge", line.edge), ("place", line.place), ("match group", line.match_group),
            ("holes", line.holes_text), ("note", line.note),
        )
        sized = wanted.is_size(
            line.width_mm, line.height_mm, is_round=line.shape == OrderLine.Shape.CIRCLE)
        address = reverse("jobs:job", args=[line.order.job.number]) if runs_desk else first_run.get(line.order_id, "")
        if address and (sized or wanted.holds(*(text for _, text in fields))):
            why = (Why(where="size", pieces=((_size(line), True),)),) if sized else beside_its_name(fields, wanted)
            yield Found(name=((_line_name(line), False),), address=address, why=why,
                        about=f"{line.quantity} × {line.recipe_version.finish.name}")


def size_near(size: WantedSize) -> Q:
    """Return what a row of two sides must answer to be of a size, either way round, within a millimetre."""
    def sides(wide: str, high: str) -> Q:
        return Q(**{f"{wide}__range": (size.width_mm - NEAR_MM, size.width_mm + NEAR_MM),
                    f"{high}__range": (size.height_mm - NEAR_MM, size.height_mm + NEAR_MM)})

    return sides("width_mm", "height_mm") | sides("height_mm", "width_mm")


def _first_runs() -> dict[int, str]:
    """Return by order the address of its newest run. One query."""
    rows = Run.objects.order_by("pk").values_list("ticket__job__order_id", "pk")
    return {order: reverse("jobs:run", args=[pk]) for order, pk in rows}


def _size(line: OrderLine) -> str:
    return show_size(Fraction(line.width_mm), Fraction(line.height_mm), round_=line.shape == OrderLine.Shape.CIRCLE)


def _line_name(line: OrderLine) -> str:
    return f"Job {line.order.job.number}, line {line.number}: {_size(line)}, {line.order.title}"


def spoilage(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield panes that spoilt, with why: of finished runs, then as it is recorded of open ones, the newest of a pane.
    """
    results = PaneResult.objects.exclude(spoilt_because="").order_by("-pk")
    results = results.select_related("run__ticket__job__order", "recipe_version__finish").defer("run__ticket__plan")
    for result, why in holding(results, wanted, ("spoilt_because", "recipe_version__finish__name"), lambda row: (
        ("spoilt because", row.spoilt_because), ("finish", row.recipe_version.finish.name),
    )):
        yield _of_run(result.run, f"Pane {result.label}, {run_name(result.run)}", wanted, why,
                      f"{result.recipe_version}{'' if result.good else ', not good'}")
    later = RunEntry.objects.filter(run=OuterRef("run"), subject=OuterRef("subject"), pk__gt=OuterRef("pk"),
                                    kind__in=[Kind.PANE, Kind.UNDONE])
    entries = RunEntry.objects.filter(kind=Kind.PANE, run__finished_at=None).exclude(Exists(later))
    entries = entries.select_related("run__ticket__job__order").defer("run__ticket__plan")
    for entry, why in holding(entries.order_by("-pk"), wanted,
                              ("content__because",),
                              lambda row: (("spoilt because", str(row.content.get("because") or "")),)):
        yield _of_run(entry.run, f"Pane {entry.subject}, {run_name(entry.run)}", wanted, why, "on the bench")


def notes(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    """Yield what was noted at the bench."""
    rows = RunEntry.objects.filter(kind=Kind.NOTE).select_related("run__ticket__job__order", "by").defer(
        "run__ticket__plan").order_by("-pk")
    for entry, why in holding(rows, wanted, ("content__text",),
                              lambda row: (("note", str(row.content.get("text", ""))),)):
        said = f"{entry.by.name}, {date_format(localtime(entry.device_at or entry.at), 'j M Y')}"
        yield _of_run(entry.run, run_name(entry.run), wanted, why, said)


def _of_run(run: Run, name: str, wanted: Wanted, why: tuple[Why, ...], about: str) -> Found:
    return Found(name=named(name, wanted), address=reverse("jobs:run", args=[run.pk]), about=about, why=why)
