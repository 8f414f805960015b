"""Jobs of five years: most delivered and paid, some declined, lapsed or cancelled, a few open."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from jobs.models import (
    BoughtIn,
    Customer,
    CustomerAddress,
    CustomerAnswer,
    CustomerContact,
    Job,
    JobAct,
    LetterPoint,
    MoneyRequest,
    Order,
    OrderLine,
    PaneResult,
    Quote,
    QuoteLink,
    QuoteMail,
    Run,
    RunClock,
    RunEntry,
    SampleApproval,
    WentAhead,
    WorkTicket,
)
from jobs.quotes.fingerprint import fingerprint
from recipes.models import MakingSafe, SilverClock
from studio.stockroom.models import Lot, Posting, Reservation, ReservedAmount, StockMovement
from tests.thick.copies import Copying, Sheaf, after_own_keys

ORDER = (Order, OrderLine, BoughtIn, LetterPoint, Reservation, ReservedAmount, Quote, Job, JobAct, SampleApproval,
         WentAhead, QuoteLink, QuoteMail, CustomerAnswer, MoneyRequest, WorkTicket, Run, MakingSafe, SilverClock,
         RunClock, RunEntry, PaneResult, Posting, StockMovement)
#: how often each of the demo's jobs is met in five years, in a thousand; those still open only among the newest
OVER = {1: 500, 2: 120, 3: 110, 8: 130, 7: 10, 11: 125, 9: 3, 10: 2}
OPEN = {4: 60, 5: 220, 6: 220, 7: 30, 8: 200, 9: 60, 10: 60, 2: 75, 3: 75}
OPEN_DAYS = 30


def sheaf_of(number: int) -> Sheaf:
    job = Job.objects.get(number=number)
    order, quotes, acts = job.order_id, Quote.objects.filter(order=job.order_id), JobAct.objects.filter(job=job)
    runs, links = Run.objects.filter(ticket__job=job), QuoteLink.objects.filter(quote__order=job.order_id)
    clocks = SilverClock.objects.filter(of_run__run__in=runs)
    postings = Posting.objects.filter(run__in=runs)
    return Sheaf(
        Order.objects.filter(pk=order), OrderLine.objects.filter(order=order), BoughtIn.objects.filter(order=order),
        LetterPoint.objects.filter(order=order), Reservation.objects.filter(job=job),
        ReservedAmount.objects.filter(reservation__job=job), quotes, Job.objects.filter(pk=job.pk), acts,
        SampleApproval.objects.filter(job=job), WentAhead.objects.filter(job=job), links,
        QuoteMail.objects.filter(link__in=links), CustomerAnswer.objects.filter(link__in=links),
        MoneyRequest.objects.filter(job=job).order_by("number"), WorkTicket.objects.filter(job=job), postings, runs,
        MakingSafe.objects.filter(pk__in=clocks.values("made_safe")), clocks,
        RunClock.objects.filter(run__in=runs), RunEntry.objects.filter(run__in=runs), PaneResult.objects.filter(run__in=runs),
        StockMovement.objects.filter(posting__in=postings),
    )


class OfJobs:
    def __init__(self, copying: Copying, chance: random.Random) -> None:
        self.copying, self.random = copying, chance
        self.sheaves = {number: sheaf_of(number) for number in OVER.keys() | OPEN.keys()}
        self.who: list[int] = []

    def customers(self, wanted: int) -> None:
        """Write as many customers, each with whom the demo's have to reach."""
        sheaf = Sheaf(Customer.objects.filter(forgotten_on=None), CustomerContact.objects.all(),
                      CustomerAddress.objects.all())
        mine = {row["id"] for row in sheaf.rows(Customer)}
        for at in range(max(1, round(wanted / len(mine)) - 1)):
            def named(values: dict[str, Any], at: int = at) -> dict[str, Any]:
                return {**values, "name": f"{values['name']} {at + 2}"}

            became = self.copying.copy(sheaf, Customer=named)
            self.who += [became[Customer, pk] for pk in mine]
        self.copying.write(Customer, CustomerContact, CustomerAddress)
        after_own_keys(Customer, CustomerContact, CustomerAddress)

    def one(self, back: timedelta, shelf: Any, taken: Callable[[Any], Any]) -> None:
        """Put a job on the heap that was begun so long ago, and drew from a shelf of then."""
        kinds = OPEN if back.days < OPEN_DAYS else OVER
        which = self.random.choices(list(kinds), list(kinds.values()))[0]
        number = self.copying.next_number(Job)
        of_lots = {key: value for key, value in shelf.became.items() if key[0] is Lot}
        who = self.random.choice(self.who)
        handed_over = kinds is OVER and which in (2, 3)

        def answered(values: dict[str, Any]) -> dict[str, Any]:
            link = next(row for row in self.copying.waiting(QuoteLink) if row["id"] == values["link_id"])
            quote = next(row for row in self.copying.waiting(Quote) if row["id"] == link["quote_id"])
            return {**values, "quote_sha256": fingerprint(Quote(**quote))}

        became = self.copying.copy(
            self.sheaves[which], -back, of_lots,
            Order=lambda values: {**values, "customer_id": who},
            Quote=lambda values: {**values, "number": number},
            Job=lambda values: {**values, "number": number, **({"state": "delivered"} if handed_over else {})},
            QuoteLink=lambda values: {**values, "token_hash": f"{self.random.getrandbits(256):064x}"},
            CustomerAnswer=answered,
            MoneyRequest=lambda values: {**values, "number": self.copying.next_number(MoneyRequest)},
            StockMovement=taken(shelf),
        )
        if handed_over:
            self._handed_over(which, became)
        if kinds is OVER and which == 11 and self.random.random() > 0.01:
            self._given_back(which, became)

    def _handed_over(self, which: int, became: dict[Any, Any]) -> None:
        """The demo's finished jobs were paid and delivered at last, all but a few."""
        sheaf, job = self.sheaves[which], next(iter(self.sheaves[which].rows(Job)))
        acts = sheaf.rows(JobAct)
        last = next(row for row in self.copying.waiting(JobAct) if row["id"] == became[JobAct, acts[-1]["id"]])
        paid = sum(row["amount"] or 0 for row in acts)
        asked = sum(row["total"] for row in sheaf.rows(MoneyRequest))
        later = {**last, "job_id": became[Job, job["id"]], "note": "", "quote_id": None, "undoes_id": None}
        if asked > paid and self.random.random() > 0.02:
            self._act({**later, "kind": "paid", "amount": asked - paid, "how": "transfer"})
        self._act({**later, "kind": "delivered", "amount": None, "how": "", "on": None})

    def _given_back(self, which: int, became: dict[Any, Any]) -> None:
        """What had come in of a cancelled job was given back."""
        for row in self.sheaves[which].rows(JobAct):
            if row["kind"] == "paid":
                copied = next(one for one in self.copying.waiting(JobAct) if one["id"] == became[JobAct, row["id"]])
                self._act({**copied, "kind": "given back", "note": ""})

    def _act(self, values: dict[str, Any]) -> None:
        self.copying.add(JobAct, {**values, "id": self.copying.next_pk(JobAct), "key": self.copying.key()})

    def write(self) -> None:
        self.copying.write(*ORDER)
        self.copying.close()

    def end(self) -> None:
        after_own_keys(*ORDER)
