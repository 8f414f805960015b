"""The order form as a page or its part: what is typed, priced, with its lines arranged where a button said so."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render

from jobs.choices import first_choice_in_words
from jobs.draft import draft_of
from jobs.estimating.estimate import Estimate
from jobs.models import Job, Order
from jobs.orders.letters import Letter, letter_shown
from jobs.orders.line_form import Offer
from jobs.orders.order_form import OrderSheet
from jobs.orders.rows import Row, choices_of, rows_of, with_an_empty_row, with_rows
from jobs.orders.settled import Settling
from jobs.quotes.attention import Short, attention
from jobs.quotes.frozen_plan import stock_needed
from jobs.quotes.price_sentences import price_sentences
from jobs.quotes.pricing import price_order, shortages_of
from jobs.quotes.way_out import ways_out
from studio.house.clock import today
from studio.house.http import DeskRequest, render_page_or_part
from studio.house.models import House, HouseRates
from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import whole_number
from studio.stockroom.models import Material
from studio.stockroom.shelf import Shortage

#: the lines and the choices that a new one starts with, to the lines as they are then
Arrange = Callable[[list[Row], Row], list[Row]]


def offer_of_today() -> Offer:
    house = House.objects.first()
    return Offer(HouseRates.known_on(today()), house.units if house else "metric")


def order_of(number: str | int | None) -> Order | None:
    """Return a job's order with the job beside it; None for a new one. Raises Http404 where there is no such job."""
    if number in (None, ""):
        return None
    job = get_object_or_404(Job.objects.select_related("order__customer"), number=whole_number(str(number)))
    order = job.order
    order.job = job
    return order


def short_of(shortages: list[Shortage]) -> list[Short]:
    """Return what is short in stock as plain values."""
    return [
        Short(name=one.material.name, is_glass=one.material.kind == Material.Kind.GLASS, needed=Fraction(one.needed),
              free=Fraction(one.free), unit=one.material.stock_unit, promised_to=tuple(one.promised_to))
        for one in shortages
    ]


def priced(sheet: OrderSheet, order: Order | None) -> dict[str, Any]:
    """Price what can be priced; put a refusal beside its field."""
    if sheet.bound:
        draft, left_out = sheet.draft()
    elif order is not None:
        draft, left_out = draft_of(order), []
    else:
        return {"estimate": None}
    if not draft.lines:
        return {"estimate": None, "left_out": left_out}
    day, reserved = today(), order.job.reservation_id if order else None
    try:
        estimate: Estimate = price_order(draft, day, reserved)
    except DaybookError as refusal:
        sheet.put(refusal)
        return {"estimate": None, "refusal": str(refusal), "ways_out": ways_out(refusal), "left_out": left_out}
    shortages = shortages_of(stock_needed(estimate), day, own_reservation=reserved)
    sheet.lines.show(estimate)
    points = attention(estimate, short_of(shortages), sheet.due_on, left_out)
    return {
        "estimate": estimate, "left_out": left_out, "shortages": shortages, "points": points,
        "to_look_at": sum(point.needs_a_look for point in points),
        "sentences": price_sentences(estimate, sheet.offer.preference), "first_choice": first_choice_in_words(draft),
    }


def page(
    request: DeskRequest, sheet: OrderSheet, order: Order | None, status: int = 200, price: bool = True,
    more: dict[str, Any] | None = None,
) -> HttpResponse:
    """Return the page, or for htmx its price with what was understood of every line.

    more: what somebody asked to look into, where no script fetches it.
    """
    context = priced(sheet, order) if price else {"estimate": None}
    if not request.htmx:  # the part for htmx holds no letter
        context |= _of_letter(letter_shown(request.POST if sheet.bound else None, order))
    return render_page_or_part(request, "jobs/orders/order.html", "price", {
        **_shown(request, sheet, order), **context, **(more or {}),
    }, status=status)


def _of_letter(letter: Letter) -> dict[str, Any]:
    return {"pasted": letter.settling, "pasted_text": letter.text, "earlier_points": letter.earlier,
            "letters_before": letter.before}


def _shown(request: DeskRequest, sheet: OrderSheet, order: Order | None) -> dict[str, Any]:
    return {
        "sheet": sheet, "order": order, "currency": sheet.offer.currency, "job": order.job if order else None,
        "drawn": set(request.POST.get("drawn", "").split(",")),
    }


def arranged(
    request: DeskRequest, arrange: Arrange, data: QueryDict | None = None, pasted: Settling | None = None
) -> HttpResponse:
    """Return the same form with its lines arranged anew and an empty one at their end; nothing is saved."""
    order = order_of(request.POST.get("job"))
    offer, data = offer_of_today(), request.POST.copy() if data is None else data
    choices = choices_of(rows_of(data), offer.preset_choices(data.get("preset", "")))
    rows = arrange(rows_of(data), choices)
    data = with_rows(data, with_an_empty_row(rows, choices_of(rows, offer.preset_choices(data.get("preset", "")))))
    sheet = OrderSheet(offer, data, order)
    letter = letter_shown(data, order)
    if pasted is not None:
        letter = replace(letter, settling=pasted)
    context = priced(sheet, order)
    for name in ("title", "new_customer"):
        if not data.get(name, "").strip():
            sheet.order.errors.pop(name, None)  # nothing is wrong with what nobody has filled in yet
    return render(request, "jobs/orders/order.html", {
        **_shown(request, sheet, order), "fresh_line": True, **_of_letter(letter), **context,
    })
