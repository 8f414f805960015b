"""The samples of a quote at its private address: what its customer sees of each, and their word, once, by name."""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.utils.crypto import salted_hmac

from jobs.models import CustomerAnswer, Job, QuoteLink, SampleApproval
from jobs.private_links.answering import ASK, AnsweredBefore, NotAsShown, stands_for_customer
from jobs.quotes.freezing import QuoteError
from jobs.work import states
from jobs.work.approval_pack import ApprovalPack, PackSample, approval_pack_of
from jobs.work.samples import approve
from studio.house.clock import today
from studio.kit.locks import tried_three_times


@dataclass(frozen=True, kw_only=True)
class SampleShown:
    """A sample as the page shows it. at: its place, from 1; seen: the mark that its form carries, "" where none is."""

    at: int
    sample: PackSample
    seen: str


def pack_shown(link: QuoteLink) -> ApprovalPack | None:
    """Return the samples that a link shows; None where its quote is not the one that stands, or there is none yet."""
    if not _stands(link):
        return None
    pack = approval_pack_of(link.quote)
    return pack if pack.samples else None


def _stands(link: QuoteLink) -> bool:
    """Say whether a link's quote waits for its answer, is agreed, or had the option that is agreed."""
    quote = link.quote
    if quote.is_accepted or stands_for_customer(link).takes_an_answer:
        return True
    answer: CustomerAnswer | None = getattr(link, "answer", None)
    return answer is not None and bool(answer.choice) and any(
        row.is_accepted and row.revision == quote.revision + 1 for row in quote.order.quotes.all())


def samples_shown(link: QuoteLink, pack: ApprovalPack | None) -> list[SampleShown]:
    """Return each sample of a pack with the mark of its form: one that can be held or seen, and is not approved."""
    if pack is None:
        return []
    open_ = states.allows(link.quote.order.job.state, states.CAME_IN)
    return [SampleShown(at=at, sample=sample, seen=sample_mark(link, sample) if open_ and _can_be_seen(sample) else "")
            for at, sample in enumerate(pack.samples, 1)]


def _can_be_seen(sample: PackSample) -> bool:
    return not sample.is_approved and bool(sample.pictures or sample.sample.sent_on)


def sample_mark(link: QuoteLink, sample: PackSample) -> str:
    """Return what the form of a sample carries: of this link and of the sample as it is shown; only the page makes it.
    """
    shown = f"{link.token_hash}.{sample.sample.key}.{sample.sample.saves}.{sample.variation}"
    return salted_hmac("jobs.private_links.sample", shown, algorithm="sha256").hexdigest()


@tried_three_times
def approve_at_link(*, link: QuoteLink, at: int, name: str, seen: str, key: UUID) -> SampleApproval:
    """Record that a customer approved a sample on their page, with the variation that it showed.

    at: its place; seen: the mark of its form; key: of the form, which counts once. Raises AnsweredBefore, NotAsShown,
    QuoteError, SampleError.
    """
    return _approve(link, at, name, seen, key)


@transaction.atomic
def _approve(link: QuoteLink, at: int, name: str, seen: str, key: UUID) -> SampleApproval:
    job = Job.objects.select_for_update().get(order=link.quote.order_id)
    known = SampleApproval.objects.filter(job=job, act__key=key).first()
    if known is not None:
        return known
    link = QuoteLink.objects.select_for_update(of=("self",)).select_related("quote__order__job").get(pk=link.pk)
    if not link.is_open_on(today()):
        raise QuoteError("This link opens nothing any more: nothing was sent. " + ASK)
    found = next((row for row in samples_shown(link, pack_shown(link)) if row.at == at), None)
    if found is not None and found.sample.is_approved:
        raise AnsweredBefore(f"The sample of {found.sample.finish} was approved before: what you sent just now changed "
                             "nothing.")
    if found is None or not found.seen or not hmac.compare_digest(seen.encode(), found.seen.encode()):
        raise NotAsShown("The sample is not as this page showed it: nothing was sent. Look at it once more, then "
                         "answer.")
    return approve(found.sample.sample, name, SampleApproval.How.PAGE, key=key, variation=found.sample.variation)
