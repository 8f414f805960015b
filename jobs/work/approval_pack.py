"""The approval pack: what a customer is asked to approve before anything is silvered, as plain facts and on paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from jobs.models import Quote, SampleApproval
from jobs.work.samples import asked_of, finishes_of
from recipes.starting_point import for_customers
from studio.house.clock import today
from studio.house.models import House, StoredFile
from studio.house.paper import render_pdf
from studio.house.templatetags.figures import money


@dataclass(frozen=True, kw_only=True)
class PackSample:
    """One sample as a customer reads it. front, back: kept pictures, or None; fee: in words, "" where none is asked."""

    sample: SampleApproval
    finish: str
    about: str
    variation: str
    fee: str
    front: StoredFile | None
    back: StoredFile | None

    @property
    def is_approved(self) -> bool:
        return self.sample.is_approved

    @property
    def pictures(self) -> list[tuple[str, StoredFile]]:
        """Return each picture with its side, the front first."""
        return [(side, file) for side, file in (("front", self.front), ("back", self.back)) if file is not None]


@dataclass(frozen=True, kw_only=True)
class ApprovalPack:
    """The samples of a quote's finishes. to_come: names of finishes whose samples are not made yet."""

    quote: Quote
    customer: str
    title: str
    samples: Sequence[PackSample]
    to_come: Sequence[str]

    @property
    def waits(self) -> list[PackSample]:
        """Return the samples that the customer has not approved."""
        return [sample for sample in self.samples if not sample.is_approved]


def approval_pack_of(quote: Quote) -> ApprovalPack:
    """Return the samples of a quote's finishes. Nothing in it is a cost, nor of a recipe but its finish's own words."""
    rows = asked_of(quote)
    made = {row.recipe_version_id for row in rows}
    order = quote.order
    return ApprovalPack(
        quote=quote, customer=order.customer.name, title=order.title, samples=[_sample(row, quote) for row in rows],
        to_come=[version.finish.name for version in finishes_of(order.job) if version.pk not in made],
    )


def _sample(row: SampleApproval, quote: Quote) -> PackSample:
    finish = row.recipe_version.finish
    return PackSample(
        sample=row, finish=finish.name, about=for_customers(finish.description),
        variation=row.variation or finish.typical_variation, fee=money(row.fee, quote.currency) if row.fee else "",
        front=row.front, back=row.back,
    )


def pack_context(quote: Quote) -> dict[str, Any]:
    house = House.objects.select_related("mark").first() or House(name="")
    return {"pack": approval_pack_of(quote), "house": house, "paper_size": house.paper, "made_on": today()}


def approval_pack_paper(quote: Quote) -> bytes:
    """Return the pack as PDF. It is made anew each time: what was approved in it does not change any more."""
    return render_pdf("jobs/work/documents/approval_pack.html", pack_context(quote))
