"""What a customer finds at a private address, and their answer: once, by name, kept with the hash of what they saw."""

from __future__ import annotations

import hmac
from dataclasses import dataclass

from django.db import transaction
from django.utils.crypto import salted_hmac
from django.utils.timezone import localtime

from jobs.models import CustomerAnswer, Job, Quote, QuoteLink
from jobs.quotes.choosing import CHOSEN, is_chosen_of
from jobs.quotes.fingerprint import fingerprint
from jobs.quotes.freezing import QuoteError
from jobs.quotes.quoting import decide
from jobs.work import quote_states
from jobs.work.possible import possible
from jobs.work.revising import decline_revision
from studio.house.clock import house_zone, now, today
from studio.kit.locks import tried_three_times

#: how a quote stands for its customer
OPEN, ANSWERED, ACCEPTED, DECLINED = "open", "answered", "accepted", "declined"
REPLACED, LAPSED, CLOSED = "replaced", "lapsed", "closed"
ASK = "Ask the studio if anything is unclear."


class AnsweredBefore(QuoteError):
    """It was answered already: what was sent now changed nothing."""


class NotAsShown(QuoteError):
    """The page that was answered is not the quote as it stands: another one, or a made-up form."""


@dataclass(frozen=True, kw_only=True)
class ForCustomer:
    """How a quote stands for the customer who has its link: a word, and a sentence that says it.

    chosen: of a quote with options, the key of the choice that was accepted.
    """

    state: str
    sentence: str = ""
    chosen: str = ""

    @property
    def takes_an_answer(self) -> bool:
        return self.state == OPEN


def stands_for_customer(link: QuoteLink) -> ForCustomer:
    """Return how the quote of a link stands today. Asks for the order's quotes."""
    quote, job = link.quote, link.quote.order.job
    answer: CustomerAnswer | None = getattr(link, "answer", None)
    quotes = list(quote.order.quotes.all())
    chosen = next((row for row in quotes if row.is_accepted and is_chosen_of(row, quote)), None)
    if answer is not None and quote.state == Quote.State.REPLACED and chosen is None:
        then = next((row["key"] for row in quote.choices if answer.accepted and row["label"] == answer.choice), "")
        return ForCustomer(state=REPLACED, chosen=then, sentence=(
            f"{_answered(answer)} A newer quote has taken its place since."))
    key = chosen.wording[CHOSEN]["key"] if chosen is not None else ""
    if answer is not None and _stands(answer, chosen or quote):
        decided = (chosen or quote).revision
        changed = answer.accepted and any(row.state == Quote.State.SENT and row.revision > decided for row in quotes)
        return ForCustomer(state=ANSWERED, chosen=key, sentence=_answered(answer) + (
            " A newer quote was sent since: look for it, or ask for it." if changed else ""))
    if answer is not None:
        return ForCustomer(state=CLOSED, sentence=f"{_answered(answer)} The studio has taken that back since: ask for "
                                                  "a new link to answer again.")
    if quote.is_accepted or chosen is not None:
        return ForCustomer(state=ACCEPTED, chosen=key,
                           sentence="This quote was accepted; the studio has noted it. " + ASK)
    if quote.state == Quote.State.DECLINED:
        return ForCustomer(state=DECLINED, sentence="This quote was declined; the studio has noted it. " + ASK)
    newer = [row for row in quotes if row.revision > quote.revision and row.state in (
        Quote.State.SENT, Quote.State.ACCEPTED)]
    if quote.state == Quote.State.REPLACED or newer:
        return ForCustomer(state=REPLACED, sentence="This quote was changed: a newer one took its place, and this one "
                                                    "is no longer answered. Look for the newer one, or ask for it.")
    if quote.is_lapsed:
        return ForCustomer(state=LAPSED, sentence=f"This quote was valid until {quote.valid_until:%-d %B %Y}. Ask for "
                                                  "a new one.")
    if not possible(job, quote, quotes).accept:
        return ForCustomer(state=CLOSED, sentence="This quote is no longer answered here. " + ASK)
    return ForCustomer(state=OPEN)


def _stands(answer: CustomerAnswer, decided: Quote) -> bool:
    """Say whether a quote is decided by just that answer, and not by another after it was undone."""
    says = Quote.State.ACCEPTED if answer.accepted else Quote.State.DECLINED
    return decided.state == says and decided.decided_at is not None and decided.decided_at <= answer.at


def _answered(answer: CustomerAnswer) -> str:
    what = "accepted" if answer.accepted else "declined"
    of = f"{answer.choice} of this quote" if answer.choice else "this quote"
    return f"{answer.name} {what} {of} on {localtime(answer.at, house_zone()):%-d %B %Y}."


def seen_mark(link: QuoteLink) -> str:
    """Return what the form of a page carries: of this link and of the quote as it is shown.

    Only the page makes it, so that a form from elsewhere is refused without any cookie.
    """
    return salted_hmac("jobs.private_links.seen", link.token_hash + fingerprint(link.quote), algorithm="sha256"
                       ).hexdigest()


@tried_three_times
def answer_quote(
    *, link: QuoteLink, accepted: bool, name: str, said: str, seen: str, choice: str = "",
) -> CustomerAnswer:
    """Keep what a customer answered, and accept or decline the quote by the same services as at the desk.

    seen: the mark of the page that was answered. choice: of a quote with options, the key of one.
    Raises AnsweredBefore, NotAsShown, QuoteError, DaybookError.
    """
    return _answer(link, accepted=accepted, name=name, said=said, seen=seen, choice=choice)


@transaction.atomic
def _answer(
    link: QuoteLink, *, accepted: bool, name: str, said: str, seen: str, choice: str,
) -> CustomerAnswer:
    job = Job.objects.select_for_update().get(order=link.quote.order_id)
    quote = Quote.objects.select_for_update().get(pk=link.quote_id)
    link = QuoteLink.objects.select_for_update(of=("self",)).select_related("quote__order__job").get(pk=link.pk)
    label = next((row["label"] for row in quote.choices if accepted and row["key"] == choice), "")
    before = CustomerAnswer.objects.filter(link=link).first()
    same = before is not None and (before.accepted, before.name, before.said, before.choice) == (
        accepted, name, said, label)
    if before is not None and same and stands_for_customer(link).state == ANSWERED:
        return before  # pressed twice
    if before is not None or quote.state in quote_states.DECIDED:
        raise AnsweredBefore("This quote was answered before: what you sent just now changed nothing.")
    if not link.is_open_on(today()):
        raise QuoteError("This link opens nothing any more: nothing was sent. " + ASK)
    if not hmac.compare_digest(seen.encode(), seen_mark(link).encode()):
        raise NotAsShown("The quote is not as this page showed it: nothing was sent. Read it once more, then answer.")
    stands = stands_for_customer(link)
    if not stands.takes_an_answer:
        raise QuoteError(stands.sentence)
    who = f"{name}, at the private link" + (f": {said}" if said else "")
    if accepted or job.is_waiting:
        decide(quote=quote, accepted=accepted, who=who, choice=choice)
    else:
        decline_revision(quote=quote, who=who)
    return CustomerAnswer.objects.create(link=link, accepted=accepted, name=name, said=said, choice=label, at=now(),
                                         quote_sha256=fingerprint(quote))
