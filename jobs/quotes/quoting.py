"""Saves a quote: numbered, frozen with its recipe versions, rates and prices; sent, accepted or declined once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, Max, OuterRef

from jobs import acts
from jobs.choices import choices_of, chosen
from jobs.draft import OrderDraft, draft_of
from jobs.estimating.estimate import Estimate
from jobs.frozen import freeze
from jobs.models import Job, JobAct, Order, Quote, QuoteLink
from jobs.quotes.choosing import (
    choice_of,
    chosen_before,
    keep_chosen,
    key_of_chosen,
    offer_again,
    offered_by,
    wording_of_chosen,
)
from jobs.quotes.freezing import (
    SUMS,
    QuoteError,
    WorkedOut,
    check_in_use,
    freeze_choices,
    refuse_choices,
    worked_out_now,
    worked_out_of,
)
from jobs.quotes.pricing import price_order
from jobs.quotes.wording import wording_of
from jobs.work import quote_states, states
from recipes.finishes.in_doubt import refuse_doubts
from studio.exact import MONEY_DECIMALS
from studio.house.clock import now, today
from studio.house.models import House, HouseRates, Person
from studio.kit.errors import DaybookError
from studio.kit.locks import tried_three_times
from studio.kit.rounding import as_decimal


def estimates_of(draft: OrderDraft, day: date, own_reservation: int | None = None) -> dict[str, Estimate]:
    """Return the estimate of all that may be chosen, by key, the first choice first. Raises what refuses any of them.

    What nobody has chosen yet is priced as the first.
    """
    first, *others = choices_of(draft)
    return {first.key: price_order(draft, day, own_reservation),
            **{choice.key: price_order(chosen(draft, choice), day) for choice in others}}


def work_out_before(draft: OrderDraft, own_reservation: int | None = None) -> WorkedOut | None:
    """Work an order out, with all that may be chosen of it, before anything is locked.

    None where it is refused, which is said in its turn.
    """
    try:
        choices = {key: worked_out_of(one) for key, one in estimates_of(draft, today(), own_reservation).items()}
    except DaybookError:
        return None
    return replace(next(iter(choices.values())), choices=choices)


@tried_three_times
def save_quote(
    *, order: Order, by: Person, form_key: UUID, ready: Mapping[str, Any] | None = None,
    worked_out: WorkedOut | None = None,
) -> Quote:
    """Freeze today's estimate of an order as a quote, a new revision when it has one already.

    ready: the day it may name, in place of working days after go-ahead, where one was found. worked_out: by
    `work_out_before`, where the caller read it already.

    Raises QuoteError for recipes that are not in use and where the newest open revision says just the same,
    InDoubt for those that are not sound, and any refusal of the
    estimate.
    """
    known = Quote.objects.filter(form_key=form_key).first()
    if known is not None:
        return known
    before = worked_out or work_out_before(draft_of(order))
    return _save_quote(order=order, by=by, form_key=form_key, before=before, ready=ready)


@transaction.atomic
def _save_quote(
    *, order: Order, by: Person, form_key: UUID, before: WorkedOut | None, ready: Mapping[str, Any] | None,
) -> Quote:
    job = Job.objects.select_for_update().get(order=order)
    known = Quote.objects.filter(form_key=form_key).first()
    if known is not None:
        return known
    states.check(job.state, states.QUOTE, QuoteError)
    newest = order.quotes.exclude(state=Quote.State.REPLACED).order_by("-revision").first()
    quote = freeze_quote(order=order, by=by, form_key=form_key, worked_out=before,
                         kept={"ready": dict(ready)} if ready else None)
    if newest is not None and newest.stands_open and _says(newest) == _says(quote):
        raise QuoteError(f"{newest} says just this, at this price, and is {newest.standing}: nothing new is saved.")
    return quote


def _says(quote: Quote) -> tuple[Any, ...]:
    """Return what a revision says that another could say otherwise."""
    quote.refresh_from_db()
    return quote.basis, quote.wording, quote.figures, quote.total, quote.valid_until, quote.choices


@transaction.atomic
def freeze_quote(
    *, order: Order, by: Person, form_key: UUID, own_reservation: int | None = None,
    kept: Mapping[str, Any] | None = None, worked_out: WorkedOut | None = None,
) -> Quote:
    """Freeze today's estimate of an order, whatever its job's state: the caller checks that. Raises as `save_quote`.

    own_reservation: of a booked job, whose own kept offcuts count as free. kept: what its wording carries besides.
    worked_out: before this transaction, so that nobody waits for it; taken where it rests on just what stands now.
    """
    house = House.objects.select_for_update().first() or House(name="The studio")  # one number at a time
    order = Order.objects.select_related("customer").get(pk=order.pk)
    day = today()
    draft = draft_of(order)
    before = worked_out.choices if worked_out else {}
    worked_out = worked_out_now(draft, day, own_reservation, worked_out)
    estimate = worked_out.estimate
    choices = freeze_choices(order, house, draft, day, before) if own_reservation is None else refuse_choices(draft)
    check_in_use(estimate)
    refuse_doubts(estimate.basis.line_recipes(), estimate.basis.shelf)
    rates = HouseRates.on(day)
    number, revision = _next_number(order)
    price = estimate.price

    def money(value: Any) -> Decimal:
        return as_decimal(value, MONEY_DECIMALS)

    return Quote.objects.create(
        order=order, number=number, revision=revision, basis=freeze(estimate.basis),
        plan=worked_out.plan, figures=worked_out.figures,
        wording={**wording_of(order, house, estimate), **(kept or {})}, choices=choices,
        currency=rates.currency,
        net=money(price.net), tax=money(price.tax), total=money(price.total), deposit=money(price.deposit),
        made_at=now(), made_by=by, valid_until=day + timedelta(days=rates.quote_valid_days), form_key=form_key,
    )


def _next_number(order: Order) -> tuple[int, int]:
    newest = order.quotes.order_by("-revision").first()
    if newest is not None:
        return newest.number, newest.revision + 1
    return (Quote.objects.aggregate(last=Max("number"))["last"] or 0) + 1, 1


def _locked(quote: Quote) -> tuple[Job, Quote]:
    """Return a quote's job and the quote as they are now, locked in that order, as everything locks them."""
    job = Job.objects.select_for_update().get(order=quote.order_id)
    return job, Quote.objects.select_for_update().get(pk=quote.pk)


def _move(job: Job, state: str) -> None:
    if job.state != state:
        job.state, job.saves = state, job.saves + 1
        job.save(update_fields=["state", "saves"])


def _refuse_lapsed(quote: Quote) -> None:
    if quote.is_lapsed:
        raise QuoteError(f"{quote} lapsed on {quote.valid_until:%d %b %Y}: save a new revision at today's prices.")


@tried_three_times
@transaction.atomic
def mark_sent(quote: Quote, by: Person | None = None) -> None:
    """A draft becomes sent and its job quoted. Raises QuoteError, also once it is decided."""
    job, quote = _locked(quote)
    if quote.state == Quote.State.SENT:
        return
    if quote.state in quote_states.DECIDED or quote.state == Quote.State.REPLACED:
        raise QuoteError(f"{quote} was {quote.state} already.")
    states.check(job.state, states.SEND, QuoteError)
    _refuse_lapsed(quote)
    quote.state, quote.sent_at = Quote.State.SENT, now()
    quote.save(update_fields=["state", "sent_at"])
    acts.record(job, JobAct.Kind.SENT, by, quote=quote)
    _move(job, states.QUOTED)


@tried_three_times
@transaction.atomic
def decide(
    *, quote: Quote, accepted: bool, by: Person | None = None, who: str = "", choice: str = "",
) -> Quote:
    """Mark a quote accepted or declined, once. An accepted revision replaces the older one.

    choice: the key of what was chosen, of a quote with options: the order is then that, and a revision that was frozen
    with the quote is accepted in its place. who: of the customer's side, where that is known. Raises QuoteError when it
    lapsed, was decided otherwise, or a newer revision of it is with the customer.
    """
    job, quote = _locked(quote)
    wanted = Quote.State.ACCEPTED if accepted else Quote.State.DECLINED
    if quote.state == wanted:
        return quote
    if accepted and quote.choices and (known := chosen_before(quote, choice)) is not None:
        return known
    if quote.state in quote_states.DECIDED or quote.state == Quote.State.REPLACED:
        raise QuoteError(f"{quote} was {quote.state} already.")
    states.check(job.state, states.ACCEPT if accepted else states.DECLINE, QuoteError)
    if not job.is_waiting and not accepted:
        raise QuoteError(f"{job} is {job.state}: only a revision that waits for the customer is declined.")
    if accepted:
        _refuse_acceptance(quote, job)
        if quote.choices:
            return _accept_choice(job, quote, by, who, choice)
        replace_accepted(quote.order)
    quote.state, quote.decided_at = wanted, now()
    quote.save(update_fields=["state", "decided_at"])
    acts.record(job, JobAct.Kind.ACCEPTED if accepted else JobAct.Kind.DECLINED, by, note=who, quote=quote)
    if job.is_waiting:
        _as_quotes_stand(job)
    return quote


def _accept_choice(job: Job, quote: Quote, by: Person | None, who: str, key: str) -> Quote:
    """Accept one choice of a quote: what was frozen of it becomes the accepted revision, and the order its lines."""
    choice = choice_of(quote, key)
    replace_accepted(quote.order)
    if quote.state == Quote.State.DRAFT:
        quote.state, quote.sent_at = Quote.State.SENT, now()
        quote.save(update_fields=["state", "sent_at"])
        acts.record(job, JobAct.Kind.SENT, by, quote=quote)
    quote.state, quote.decided_at = Quote.State.REPLACED, now()
    quote.save(update_fields=["state", "decided_at"])
    number, revision = _next_number(quote.order)
    fixed = Quote.objects.create(
        order=quote.order, number=number, revision=revision, state=Quote.State.ACCEPTED, currency=quote.currency,
        wording=wording_of_chosen(quote, choice), **{name: choice[name] for name in ("basis", "plan", "figures")},
        **{name: Decimal(choice[name]) for name in SUMS},
        made_at=now(), made_by=by or quote.made_by, valid_until=quote.valid_until, sent_at=quote.sent_at,
        decided_at=now(), form_key=key_of_chosen(quote, key, revision),
    )
    keep_chosen(quote.order_id, choice["lines"])
    said = f"{choice['label']}; {who}" if who else choice["label"]
    acts.record(job, JobAct.Kind.ACCEPTED, by, note=said, quote=fixed)
    if job.is_waiting:
        _as_quotes_stand(job)
    return fixed


def _refuse_acceptance(quote: Quote, job: Job) -> None:
    """Refuse to accept a quote that lapsed, that the job does not rest on, or that a newer one is out beside."""
    if not job.is_waiting:
        if job.quote_id != quote.pk:
            raise QuoteError(f"{job} is {job.state} with another quote: only the one that it rests on is accepted.")
        return
    _refuse_lapsed(quote)
    newer = Quote.objects.filter(order=quote.order_id, revision__gt=quote.revision,
                                 state__in=[Quote.State.SENT, Quote.State.ACCEPTED]).order_by("-revision").first()
    if newer is not None:
        undo = "undo that" if newer.is_accepted else "accept that one, or take it back or decline it"
        raise QuoteError(f"{newer} is newer and is {newer.state}: {undo} first.")


def replace_accepted(order: Order) -> None:
    """Mark the accepted quote of an order, if there is one, as replaced by the one accepted next."""
    Quote.objects.filter(order=order, state=Quote.State.ACCEPTED).update(state=Quote.State.REPLACED)


@tried_three_times
@transaction.atomic
def take_back(*, quote: Quote, by: Person, why: str, key: UUID | None = None) -> Quote:
    """Undo that a quote was marked as sent, lapsed meanwhile or not: it is a draft again, and no link opens it.

    key: of the form, which counts once. Raises QuoteError, NotUndone without a reason.
    """
    job, quote = _locked(quote)
    if acts.known(key):
        return quote
    states.check(job.state, states.TAKE_BACK, QuoteError)
    if not quote.can_take_back:
        raise QuoteError(f"{quote} is {quote.standing}: it is not taken back.")
    acts.record_undone(job, JobAct.Kind.SENT, by, why, quote, key=key)
    for link in QuoteLink.objects.select_for_update().filter(quote=quote, withdrawn_at=None):
        link.withdraw(by, now())
    quote.state, quote.sent_at = Quote.State.DRAFT, None
    quote.save(update_fields=["state", "sent_at"])
    _as_quotes_stand(job)
    return quote


@tried_three_times
@transaction.atomic
def undo_answer(*, quote: Quote, by: Person, why: str, key: UUID | None = None) -> Quote:
    """Undo that a quote was accepted or declined: it is as it was before; what it replaced is accepted again.

    One that was chosen of options makes room for the quote with all of them, which is open again as it was sent, its
    order too. key: of the form, which counts once. Raises QuoteError once the job is booked with it, NotUndone without
    a reason.
    """
    job, quote = _locked(quote)
    if acts.known(key):
        return quote
    states.check(job.state, states.UNDO_ANSWER, QuoteError)
    if quote.state not in quote_states.DECIDED:
        raise QuoteError(f"{quote} is {quote.standing}: there is no answer to undo.")
    kind = JobAct.Kind.ACCEPTED if quote.is_accepted else JobAct.Kind.DECLINED
    acts.record_undone(job, kind, by, why, quote, key=key)
    was_accepted, offered = quote.is_accepted, offered_by(quote)
    if offered is not None and was_accepted:
        quote.state = Quote.State.REPLACED
        quote.save(update_fields=["state"])
        offered.state, offered.decided_at = Quote.State.SENT, None
        offered.save(update_fields=["state", "decided_at"])
        offer_again(quote)
    else:
        quote.state = Quote.State.DRAFT if quote.sent_at is None else Quote.State.SENT
        quote.decided_at = None
        quote.save(update_fields=["state", "decided_at"])
    if was_accepted:
        # a revision that only waited before it was replaced was never accepted
        agreed = JobAct.objects.filter(kind=JobAct.Kind.ACCEPTED, quote=OuterRef("pk"), undone_by=None)
        before = Quote.objects.filter(Exists(agreed), order=quote.order_id, state=Quote.State.REPLACED).order_by(
            "-revision").first()
        if before is not None:
            before.state = Quote.State.ACCEPTED
            before.save(update_fields=["state"])
    _as_quotes_stand(job)
    return quote


def _as_quotes_stand(job: Job) -> None:
    """Move a job that is not booked to where its quotes leave it: quoted while one is sent or accepted."""
    still_with_customer = Quote.objects.filter(
        order=job.order_id, state__in=[Quote.State.SENT, Quote.State.ACCEPTED]
    ).exists()
    _move(job, states.QUOTED if still_with_customer else states.ENQUIRY)


def prices_exist() -> bool:
    """Return whether a quote was ever saved: from then on the studio's currency stays."""
    return Quote.objects.exists()
