"""Pages to receive a delivery, of all deliveries, and to read a price list back in."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from django.contrib import messages
from django.db.models.functions import Lower
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.house.clock import today
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest
from studio.house.lists import ordered
from studio.house.models import HouseRates
from studio.kit.access import allowed
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.kit.rounding import plain
from studio.kit.typed_numbers import is_whole, whole_number
from studio.stockroom.deliveries.forms import DeliveryForm
from studio.stockroom.deliveries.price_list import apply_price_list, read_price_list
from studio.stockroom.deliveries.receiving import read_table, receive_delivery, received_already
from studio.stockroom.forms import TableForm, unusual_amounts, unusual_prices
from studio.stockroom.materials import storage_conflicts
from studio.stockroom.models import Delivery, Material, Purchase
from studio.stockroom.tables import as_csv

#: so many stand under the form; the rest in the list
NEWEST = 10
#: the heads of the list of deliveries; the newest first where none is asked
SORTS: dict[str, Sequence[Any]] = {
    "newest": ("-received_on", "-pk"), "from": (Lower("supplier"), "-received_on", "-pk"),
    "received": ("received_on", "pk"), "carriage": ("carriage", "-received_on", "-pk"),
}


@allowed(May.ORDERS)
@require_safe
def deliveries(request: DeskRequest) -> HttpResponse:
    """Every delivery that was received, with its lots."""
    listing = ordered(request, Delivery.objects.all(), SORTS)
    return render(request, "stockroom/deliveries/deliveries.html", {
        "listing": listing, "deliveries": fetched(listing.rows, "lots__material"),
    })


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def receive(request: DeskRequest) -> HttpResponse:
    """Receive a delivery of one line or many. What is wrong is listed; nothing is saved until all of it is right."""
    return _delivery(request, only_check=False)


@allowed(May.ORDERS)
@require_POST
def check_delivery(request: DeskRequest) -> HttpResponse:
    """Show what is understood of a delivery; nothing is saved."""
    return _delivery(request, only_check=True)


def _delivery(request: DeskRequest, *, only_check: bool) -> HttpResponse:
    before = received_already(sent_key(request)) if request.method == "POST" and "key" in request.POST else ""
    if before:
        messages.warning(request, before)
        return redirect("stockroom:shelf")
    rates = HouseRates.known_on(today())
    digits = rates.minor_digits if rates else 2
    form = DeliveryForm(request.POST or None, request.FILES or None, minor_digits=digits,
                        initial={"received_on": today(), **_from_order(request)})
    context: dict[str, Any] = {"form": form, "deliveries": fetched(Delivery.objects.all()[:NEWEST], "lots__material")}
    if form.is_valid():
        values = form.cleaned_data
        lines, wrong = read_table(values["table"])
        context |= {"lines": lines, "wrong": wrong, "table": values["table"]}
        conflicts = storage_conflicts(*{line.material for line in lines})
        context["conflicts"] = conflicts
        question = " ".join(filter(None, [
            unusual_amounts([(line.material, line.amount) for line in lines]),
            unusual_prices([(line.material, Fraction(line.price) / Fraction(line.amount)) for line in lines]),
        ]))
        if question and not wrong:
            form.ask("table", question, of=values["table"])
        deadly = any(conflict.stops for conflict in conflicts)
        if deadly:
            form.add_error(None, "These must not stand together: give one of them another storage place first.")
        if not wrong and not form.errors and not only_check:
            try:
                delivery = receive_delivery(
                    key=values["key"], by=request.user, supplier=values["supplier"], received_on=values["received_on"],
                    lines=lines, carriage=values["carriage"], share_by=values["share_by"],
                    reference=values["reference"], minor_digits=digits, awaited=values["awaited"],
                )
            except DaybookError as refusal:
                form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
            else:
                for conflict in conflicts:
                    messages.warning(request, conflict.sentence)
                messages.success(request, f"{_lots(len(lines))} from {delivery.supplier} on the shelf.")
                return redirect("stockroom:shelf")
    refused = form.is_bound and (form.errors or context.get("wrong"))
    return render(request, "stockroom/deliveries/receive.html", context, status=REFUSED if refused else 200)


def _lots(count: int) -> str:
    return "1 lot" if count == 1 else f"{count} lots"


def _from_order(request: DeskRequest) -> dict[str, Any]:
    """Return what a link from the buying list fills in: who it was ordered from, and its line to complete."""
    asked = request.GET.get("awaited", "")
    row = is_whole(asked) and Purchase.objects.filter(
        pk=whole_number(asked), lot=None, cancelled_because=""
    ).select_related("material").first()
    if not row:
        return {}
    line = f"{row.material}\t\t{plain(row.quantity)} {row.material.stock_unit}\t"
    return {"supplier": row.supplier, "awaited": [row.pk], "table": line}


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def prices(request: DeskRequest) -> HttpResponse:
    """A price list pasted or sent back in, and saved when every row is right."""
    return _price_list(request, only_check=False)


@allowed(May.ORDERS)
@require_POST
def check_prices(request: DeskRequest) -> HttpResponse:
    """Show what a price list would change; nothing is changed."""
    return _price_list(request, only_check=True)


def _without_prices(request: DeskRequest) -> str:
    """Return a price list of the materials that the address names, whose prices are to be written in."""
    rows = Material.objects.filter(code__in=request.GET.get("of", "").split(",")).order_by("name")
    named = [(row.name, "" if row.list_price is None else plain(row.list_price), f"a {row.stock_unit}") for row in rows]
    return as_csv(("material", "list price", "is of"), named) if named else ""


def _price_list(request: DeskRequest, *, only_check: bool) -> HttpResponse:
    form = TableForm(request.POST or None, request.FILES or None)
    context: dict[str, Any] = {"form": form, "table": _without_prices(request)}
    if form.is_valid():
        lines, wrong = read_price_list(form.cleaned_data["table"])
        changes = [line for line in lines if line.changes]
        context |= {"wrong": wrong, "table": form.cleaned_data["table"], "changes": changes}
        question = unusual_prices([(line.material, Fraction(line.changes["list_price"])) for line in changes
                                   if "list_price" in line.changes])
        if question and not wrong:
            form.ask("table", question, of=form.cleaned_data["table"])
        if not wrong and not form.errors and not only_check:
            try:
                messages.success(request, f"Materials changed: {apply_price_list(lines)}.")
            except DaybookError as refusal:
                form.add_error(refusal.field, str(refusal))
            else:
                return redirect("stockroom:shelf")
    refused = form.is_bound and (form.errors or context.get("wrong"))
    return render(request, "stockroom/deliveries/prices.html", context, status=REFUSED if refused else 200)
