"""Saves a quote: numbered, frozen with its recipe versions, rates and prices; sent, accepted or declined once."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from jobs.draft import draft_of
from jobs.estimating.carrying import LOCAL_CODES
from jobs.estimating.estimate import Estimate
from jobs.estimating.output import as_output
from jobs.estimating.price_contents import price_contents
from jobs.frozen import freeze
from jobs.models import Job, Order, OrderLine, Quote
from jobs.quotes.frozen_plan import freeze_plan
from jobs.quotes.pricing import price_order
from jobs.work import quote_states, states
from recipes.finishes.in_doubt import refuse_doubts
from recipes.models import FinishPicture
from studio.exact import MONEY_DECIMALS
from studio.house.clock import now, today
from studio.house.models import House, HouseRates, Person
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal, decimal_string

#: how the wording is written; `paper.py` reads every format there was
WORDING_FORMAT = 2


class QuoteError(DaybookError):
    """The quote cannot be made, or cannot go to that state."""


@transaction.atomic
def save_quote(*, order: Order, by: Person, form_key: UUID) -> Quote:
    """Freeze today's estimate of an order as a quote, a new revision when it has one already.

    Raises QuoteError for recipes that are not in use, InDoubt for those that are not sound, and any refusal of the
    estimate.
    """
    known = Quote.objects.filter(form_key=form_key).first()
    if known is not None:
        return known
    house = House.objects.select_for_update().first() or House(name="The studio")  # one number at a time
    order = Order.objects.select_related("customer").get(pk=order.pk)
    states.check(Job.objects.get(order=order).state, states.QUOTE, QuoteError)
    day = today()
    estimate = price_order(draft_of(order), day)
    not_in_use = [
        f"{recipe.finish}, version {recipe.version_number}"
        for recipe in estimate.basis.line_recipes() if not recipe.in_use
    ]
    if not_in_use:
        raise QuoteError(f"Only recipe versions in use can be quoted. Not in use: {', '.join(not_in_use)}.")
    refuse_doubts(estimate.basis.line_recipes(), estimate.basis.shelf)
    rates = HouseRates.on(day)
    number, revision = _next_number(order)
    price = estimate.price

    def money(value: Any) -> Decimal:
        return as_decimal(value, MONEY_DECIMALS)

    return Quote.objects.create(
        order=order, number=number, revision=revision, basis=freeze(estimate.basis),
        plan=freeze_plan(estimate), figures=as_output(estimate, price_contents(estimate)),
        wording=wording_of(order, house, estimate),
        currency=rates.currency,
        net=money(price.net), tax=money(price.tax), total=money(price.total), deposit=money(price.deposit),
        made_at=now(), made_by=by, valid_until=day + timedelta(days=rates.quote_valid_days), form_key=form_key,
    )


def _next_number(order: Order) -> tuple[int, int]:
    newest = order.quotes.order_by("-revision").first()
    if newest is not None:
        return newest.number, newest.revision + 1
    return (Quote.objects.aggregate(last=Max("number"))["last"] or 0) + 1, 1


def wording_of(order: Order, house: House, estimate: Estimate) -> dict[str, Any]:
    """Return the wording of the quote's paper: studio, customer, lines, terms and care note."""
    lines = list(order.lines.select_related("recipe_version__finish", "glass"))
    pictures = {
        picture.finish_id: picture
        for picture in FinishPicture.objects.filter(
            finish__in=[line.recipe_version.finish_id for line in lines], side=FinishPicture.Side.FRONT
        ).select_related("file")
    }
    finishes = {line.recipe_version.finish_id: line.recipe_version.finish for line in lines}
    return {
        "format": WORDING_FORMAT,
        "house": {
            "name": house.name, "address": house.address, "email": house.email, "phone": house.phone,
            "tax_number": house.tax_number, "paper": house.paper, "units": house.units,
        },
        "customer": {"name": order.customer.name, "address": order.customer.address},
        "title": order.title, "terms": house.terms, "care_note": house.care_note,
        "tax_name": estimate.basis.house.tax_name, "minor_digits": estimate.basis.house.minor_digits,
        "discount_reason": order.discount_reason,
        "lines": [_line_wording(line) for line in lines],
        "bought_in": [item.name for item in order.bought_in.all()],
        "finishes": [
            {"name": finish.name, "description": finish.description, "variation": finish.typical_variation,
             "picture": pictures[finish.pk].file.sha256 if finish.pk in pictures else "",
             "picture_caption": pictures[finish.pk].caption if finish.pk in pictures else ""}
            for finish in finishes.values()
        ],
        "matching": _matching(estimate), "local_codes": LOCAL_CODES,
    }


def _line_wording(line: OrderLine) -> dict[str, Any]:
    glass = line.glass
    return {
        "number": line.number, "quantity": line.quantity, "shape": line.shape, "typed": line.size_text,
        "width_mm": f"{line.width_mm:f}", "height_mm": f"{line.height_mm:f}",
        "finish": line.recipe_version.finish.name, "version": line.recipe_version.number,
        "glass": f"{glass.tint} glass, {glass.treatment}",
        "thickness_mm": decimal_string(Fraction(glass.thickness_mm or 0), 1),
        "route": line.route, "edge": line.edge, "backing": line.get_backing_display() if line.backing else "",
        "match_group": line.match_group, "note": line.note, "place": line.place, "holes": len(line.holes),
        "opening": line.opening, "joint_mm": f"{line.joint_mm:f}",
    }


def _matching(estimate: Estimate) -> list[str]:
    return [warning.sentence for warning in estimate.warnings if warning.about_a_group]


def _job_of(quote: Quote, act: states.Act) -> Job:
    """Return the quote's job, locked. Raises QuoteError where its state does not allow the act."""
    job = Job.objects.select_for_update().get(order=quote.order_id)
    states.check(job.state, act, QuoteError)
    return job


def _move(job: Job, state: str) -> None:
    if job.state != state:
        job.state, job.saves = state, job.saves + 1
        job.save(update_fields=["state", "saves"])


def _refuse_lapsed(quote: Quote) -> None:
    if quote.is_lapsed:
        raise QuoteError(f"{quote} lapsed on {quote.valid_until:%d %b %Y}: save a new revision at today's prices.")


@transaction.atomic
def mark_sent(quote: Quote) -> None:
    """A draft becomes sent and its job quoted; what is sent stays so. Raises QuoteError, also once it is decided."""
    quote = Quote.objects.select_for_update().get(pk=quote.pk)
    if quote.state == Quote.State.SENT:
        return
    if quote.state in quote_states.DECIDED:
        raise QuoteError(f"{quote} was {quote.state} already.")
    job = _job_of(quote, states.SEND)
    _refuse_lapsed(quote)
    quote.state, quote.sent_at = Quote.State.SENT, now()
    quote.save(update_fields=["state", "sent_at"])
    _move(job, states.QUOTED)


@transaction.atomic
def decide(*, quote: Quote, accepted: bool) -> Quote:
    """Mark a quote accepted or declined, once. Raises QuoteError when it lapsed or was decided otherwise."""
    quote = Quote.objects.select_for_update().get(pk=quote.pk)
    wanted = Quote.State.ACCEPTED if accepted else Quote.State.DECLINED
    if quote.state == wanted:
        return quote
    if quote.state in quote_states.DECIDED:
        raise QuoteError(f"{quote} was {quote.state} already.")
    job = _job_of(quote, states.ACCEPT if accepted else states.DECLINE)
    if accepted:
        _refuse_lapsed(quote)
        other = Quote.objects.filter(order=quote.order, state=Quote.State.ACCEPTED).first()
        if other is not None:
            raise QuoteError(f"{other} of this order was accepted already.")
    quote.state, quote.decided_at = wanted, now()
    quote.save(update_fields=["state", "decided_at"])
    still_with_customer = Quote.objects.filter(
        order=quote.order, state__in=[Quote.State.SENT, Quote.State.ACCEPTED]
    ).exists()
    _move(job, states.QUOTED if still_with_customer else states.ENQUIRY)
    return quote
