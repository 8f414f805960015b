"""Deliveries pasted and received, and the price list."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest
from studio.house.models import HouseRates
from studio.kit.access import owner_only
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.rounding import plain
from studio.stockroom.deliveries.forms import DeliveryForm
from studio.stockroom.deliveries.price_list import read_price_list, take_over
from studio.stockroom.deliveries.receiving import read_table, receive_delivery
from studio.stockroom.forms import TableForm
from studio.stockroom.materials import beside
from studio.stockroom.models import (
    Delivery,
    Purchase,
)


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def receive(request: DeskRequest) -> HttpResponse:
    """Take a delivery in: many lines, or one. What is wrong is listed; nothing is posted until all of it is right."""
    return _delivery(request, look=False)


@owner_only
@require_POST
def look_at_delivery(request: DeskRequest) -> HttpResponse:
    """Show what is understood of a delivery; nothing is posted."""
    return _delivery(request, look=True)


def _delivery(request: DeskRequest, *, look: bool) -> HttpResponse:
    rates = HouseRates.known_on(today())
    digits = rates.minor_digits if rates else 2
    form = DeliveryForm(request.POST or None, request.FILES or None, minor_digits=digits,
                        initial={"received_on": today(), **_came(request)})
    context: dict[str, Any] = {"form": form, "deliveries": fetched(Delivery.objects.all()[:10], "lots__material")}
    if form.is_valid():
        values = form.cleaned_data
        lines, wrong = read_table(values["table"])
        context |= {"lines": lines, "wrong": wrong, "table": values["table"]}
        apart = beside(*{line.material for line in lines})
        context["beside"] = apart
        deadly = any(one.stops for one in apart)
        if deadly:
            form.add_error(None, "What would be deadly together is not put in one place: give one another place.")
        if not wrong and not deadly and not look:
            try:
                delivery = receive_delivery(
                    key=values["key"], by=request.user, supplier=values["supplier"], received_on=values["received_on"],
                    lines=lines, carriage=values["carriage"], share_by=values["share_by"],
                    reference=values["reference"], minor_digits=digits, awaited=values["awaited"],
                )
            except DaybookError as refusal:
                form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
            else:
                for one in apart:
                    messages.warning(request, one.sentence)
                messages.success(request, f"{len(lines)} lots from {delivery.supplier} are on the shelf.")
                return redirect("stockroom:shelf")
    refused = form.is_bound and (form.errors or context.get("wrong"))
    return render(request, "stockroom/deliveries/receive.html", context, status=REFUSED if refused else 200)


def _came(request: DeskRequest) -> dict[str, Any]:
    """Return what a link from the buying list brings along: who it was ordered from, and its line to complete."""
    asked = request.GET.get("awaited", "")
    row = asked.isdecimal() and Purchase.objects.filter(
        pk=int(asked[:9]), lot=None, cancelled_because=""
    ).select_related("material").first()
    if not row:
        return {}
    line = f"{row.material}\t\t{plain(row.quantity)} {row.material.stock_unit}\t"
    return {"supplier": row.supplier, "awaited": [row.pk], "table": line}


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def prices(request: DeskRequest) -> HttpResponse:
    """A price list pasted or sent back in, and taken over when every row is right."""
    return _price_list(request, look=False)


@owner_only
@require_POST
def look_at_prices(request: DeskRequest) -> HttpResponse:
    """Show what a price list would change; nothing is changed."""
    return _price_list(request, look=True)


def _price_list(request: DeskRequest, *, look: bool) -> HttpResponse:
    form = TableForm(request.POST or None, request.FILES or None)
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        lines, wrong = read_price_list(form.cleaned_data["table"])
        changes = [one for one in lines if one.changes]
        context |= {"wrong": wrong, "table": form.cleaned_data["table"], "changes": changes}
        if not wrong and not look:
            messages.success(request, f"{take_over(lines)} materials changed.")
            return redirect("stockroom:shelf")
    refused = form.is_bound and (form.errors or context.get("wrong"))
    return render(request, "stockroom/deliveries/prices.html", context, status=REFUSED if refused else 200)
