"""What a customer's jobs come to: what is still to come of each, and what of theirs is to be given back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Prefetch

from jobs.models import Customer, Job, MoneyRequest
from jobs.money.of_job import Money, money_of
from studio.house.clock import today
from studio.house.models import HouseRates
from studio.house.templatetags.figures import money
from studio.kit.asking import fetched


@dataclass(frozen=True, kw_only=True)
class JobOfCustomer:
    """A job with its money."""

    job: Job
    paid: Money

    @property
    def owed_in_words(self) -> str:
        """Return what is open between studio and customer; "" where nothing is."""
        if self.paid.still_due:
            return f"{self.paid.due_in_words} to come"
        back = self.paid.to_give_back
        if back:
            return f"{money(back, self.paid.currency)} to give back"
        if self.paid.cancelled and self.paid.open_of_requests:
            asked = money(self.paid.open_of_requests, self.paid.currency)
            return f"{asked} still asked for: take it back by a credit"
        return ""


def jobs_of(customer: Customer) -> list[JobOfCustomer]:
    """Return a customer's jobs, the newest first, each with its money. As many queries for one as for fifty."""
    rates = HouseRates.known_on(today())
    rows = Job.objects.filter(order__customer=customer).select_related("order__customer", "quote")
    asked = Prefetch("money_requests", MoneyRequest.objects.to_sum_up())
    found = fetched(rows.prefetch_related("acts", asked).order_by("-number"), "order__quotes")
    currency = rates.currency if rates else ""
    return [JobOfCustomer(job=job, paid=money_of(job, list(job.acts.all()), currency, list(job.money_requests.all())))
            for job in found]


def owed_in_words(jobs: Sequence[JobOfCustomer]) -> str:
    """Return the sum that is still to come, a sum for each currency: “€1,250.00”; "" where nothing is."""
    sums: dict[str, Decimal] = {}
    for row in jobs:
        if row.paid.still_due:
            sums[row.paid.currency] = sums.get(row.paid.currency, Decimal(0)) + row.paid.still_due
    return " and ".join(money(amount, currency) for currency, amount in sorted(sums.items()))
