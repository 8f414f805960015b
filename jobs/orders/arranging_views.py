"""The buttons of an order's lines: add, duplicate, move, remove and put back, same choices, preset, another finish.

Each answers with the whole form as it then is. The page's script does the same on the page itself, and asks nobody.
"""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import render

from jobs.models import Customer
from jobs.orders.order_form import OrderSheet
from jobs.orders.other_finishes import in_other_finishes
from jobs.orders.presets import save_preset
from jobs.orders.rows import (
    Row,
    duplicated,
    halved,
    merged,
    removed,
    rows_of,
    spread,
    with_finish,
    with_line_moved,
    with_unit,
)
from jobs.orders.shown import arranged, offer_of_today, order_of, page
from studio.house.http import DeskRequest, posted_from
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.pane_sizes import UNITS_ASKED
from studio.kit.roles import May
from studio.kit.typed_numbers import whole_number


@allowed(May.ORDERS)
@posted_from("jobs:new")
def another_line(request: DeskRequest) -> HttpResponse:
    """Show the form with an empty line at its end."""
    return arranged(request, lambda rows, _: rows)


@allowed(May.ORDERS)
@posted_from("jobs:new")
def duplicate_line(request: DeskRequest, at: int) -> HttpResponse:
    """at: the line, counted from 0, here and below."""
    return arranged(request, lambda rows, _: duplicated(rows, at))


@allowed(May.ORDERS)
@posted_from("jobs:new")
def halve_line(request: DeskRequest, at: int) -> HttpResponse:
    """Half of a line's panes as a line of their own, for another finish."""
    return arranged(request, lambda rows, _: halved(rows, at))


@allowed(May.ORDERS)
@posted_from("jobs:new")
def merge_line(request: DeskRequest, at: int) -> HttpResponse:
    """Lines that are alike as one."""
    return arranged(request, lambda rows, _: merged(rows, at))


@allowed(May.ORDERS)
@posted_from("jobs:new")
def line_up(request: DeskRequest, at: int) -> HttpResponse:
    return arranged(request, lambda rows, _: with_line_moved(rows, at, -1))


@allowed(May.ORDERS)
@posted_from("jobs:new")
def line_down(request: DeskRequest, at: int) -> HttpResponse:
    return arranged(request, lambda rows, _: with_line_moved(rows, at, 1))


@allowed(May.ORDERS)
@posted_from("jobs:new")
def remove_line(request: DeskRequest, at: int) -> HttpResponse:
    """Remove a line from the form; it can be put back until the order is saved."""
    return arranged(request, lambda rows, _: removed(rows, at))


@allowed(May.ORDERS)
@posted_from("jobs:new")
def put_line_back(request: DeskRequest, at: int) -> HttpResponse:
    return arranged(request, lambda rows, _: removed(rows, at, back=True))


@allowed(May.ORDERS)
@posted_from("jobs:new")
def spread_line(request: DeskRequest, at: int) -> HttpResponse:
    """Give the lines below this one's choices."""
    return arranged(request, lambda rows, _: spread(rows, at))


@allowed(May.ORDERS)
@posted_from("jobs:new")
def size_in(request: DeskRequest, at: int, unit: str) -> HttpResponse:
    """Write the unit that a line's size was meant in."""
    if unit not in UNITS_ASKED:
        raise Http404
    return arranged(request, lambda rows, _: with_unit(rows, at, unit, offer_of_today().default_unit))


@allowed(May.ORDERS)
@posted_from("jobs:new")
def save_line_as_preset(request: DeskRequest, at: int) -> HttpResponse:
    """Save a line as a preset of its customer, and say so: beside the button for htmx, else above the form."""
    def arrange(rows: list[Row], _: Row) -> list[Row]:
        told = _save_preset(request, rows[at] if at < len(rows) else {})
        (messages.success if told.startswith("Saved") else messages.error)(request, told)
        return rows

    if request.htmx:
        rows = rows_of(request.POST)
        return HttpResponse(_save_preset(request, rows[at] if at < len(rows) else {}), content_type="text/plain")
    return arranged(request, arrange)


def _save_preset(request: DeskRequest, row: Row) -> str:
    customer = Customer.objects.filter(pk=whole_number(request.POST.get("customer", ""))).first()
    try:
        preset = save_preset(customer, row.get("preset_name") or request.POST.get("preset_name", ""), row)
    except DaybookError as refusal:
        return str(refusal)
    return f"Saved for {preset.customer.name} as “{preset.name}”: new lines can start from it."


@allowed(May.ORDERS)
@posted_from("jobs:new")
def other_finishes(request: DeskRequest, at: int) -> HttpResponse:
    """The same line in every other finish in use, with its price: fetched when opened, a page of its own otherwise."""
    return _other_finishes(request, at)


@allowed(May.ORDERS)
@posted_from("jobs:new")
def other_finishes_of_all(request: DeskRequest) -> HttpResponse:
    """The whole order in every finish in use, with its price."""
    return _other_finishes(request, None)


def _other_finishes(request: DeskRequest, at: int | None) -> HttpResponse:
    order = order_of(request.POST.get("job"))
    sheet = OrderSheet(offer_of_today(), request.POST, order)
    found = {"at": at, "open_at": at, "others": in_other_finishes(sheet, at)}
    if request.htmx:
        return render(request, "jobs/orders/other_finishes.html", found)
    return page(request, sheet, order, more=found)


@allowed(May.ORDERS)
@posted_from("jobs:new")
def take_finish(request: DeskRequest, at: int, version: int) -> HttpResponse:
    """Give one line another finish."""
    return arranged(request, lambda rows, _: with_finish(rows, version, at))


@allowed(May.ORDERS)
@posted_from("jobs:new")
def take_finish_for_all(request: DeskRequest, version: int) -> HttpResponse:
    return arranged(request, lambda rows, _: with_finish(rows, version, None))
