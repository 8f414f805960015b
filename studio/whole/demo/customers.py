"""The demo's customers: whom and where to reach, one who was forgotten, and samples approved, awaited, gone without."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any


def reach_customers(owner: Any) -> None:
    """Two contacts and a delivery address for the theatre, a bill's address for the interiors; one is forgotten."""
    from jobs.customers.details import add_to
    from jobs.customers.forgetting import forget
    from jobs.models import Customer, CustomerAddress, CustomerContact
    from studio.whole.demo.days import next_key, on

    def contact(customer: str, **values: str) -> None:
        add_to(CustomerContact, Customer.objects.get(name=customer), next_key(), values)

    with on(29, 11):
        contact("Theatre Royal, Port Asher", name="Perpetua Lisle", role="production, says which finish",
                phone="01632 960 331")
        contact("Theatre Royal, Port Asher", name="Oswin Tarrant", role="accounts", email="accounts@theatre.example")
        add_to(CustomerAddress, Customer.objects.get(name="Theatre Royal, Port Asher"), next_key(), {
            "kind": "delivery", "address": "Scene dock, Back Lane\nPort Asher", "note": "Ring before nine."})
        add_to(CustomerAddress, Customer.objects.get(name="Brannock Interiors"), next_key(), {
            "kind": "billing", "address": "PO Box 12\nLowmere"})
    with on(27, 9):
        gone = Customer.objects.create(name="A name that was wiped", email="wiped@example.com")
    with on(1, 17):
        forget(customer=gone, by=owner)


def show_samples(owner: Any) -> None:
    """A sample approved from a trial, and one that is with the customer."""
    from jobs.models import Job
    from jobs.work.samples import approve, keep_sample
    from recipes.models import Trial
    from studio.whole.demo.days import next_key, on

    bases, tops = Job.objects.get(order__title="Tray bases"), Job.objects.get(order__title="Table tops")
    trial = Trial.objects.get(number=3)
    sides = {row.side: row.print_copy for row in trial.photographs.select_related("print_copy")}
    with on(9, 15) as day:
        sample = keep_sample(job=bases, recipe_version=bases.order.lines.get().recipe_version, values={
            "trial": trial, "front": sides["front"], "back": sides["back"], "fee": Decimal(45),
            "sent_on": day - timedelta(days=2), "half_with": "Ines Marchetti", "kept_where": trial.kept_where,
            "variation": "Ridges may stand closer or further apart than here, and run the other way on two bases."})
    with on(7, 12) as day:
        approve(sample, "Ines Marchetti", "visit", by=owner, on=day, key=next_key())
    with on(6, 16) as day:
        keep_sample(job=tops, recipe_version=tops.order.lines.all()[0].recipe_version, values={
            "sent_on": day, "half_with": "the bar", "kept_where": "sample box 2, slot 4"})
