"""Waste containers: opened, filled, handed over."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.house.lists import listed
from studio.house.models import House
from studio.kit.access import allowed, at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.kit.typed_numbers import is_whole, whole_number
from studio.stockroom.models import Posting, WasteContainer
from studio.stockroom.waste.containers import (
    conflicts_of,
    hand_over,
    put_in,
    save_container,
    silver_returned,
    state_of,
)
from studio.stockroom.waste.forms import ContainerForm, HandOverForm, ReturnedForm, WasteForm
from studio.stockroom.waste.sources import source_of

#: the heads of the list, of a container's place in the usual order and its state: open ones first where none is asked
SORTS: dict[str, Callable[[tuple[int, Any]], Any]] = {
    "open": lambda row: row[0], "container": lambda row: row[1].row.name.casefold(),
    "state": lambda row: (row[1].row.handed_on or date.max, row[0]),
    "holds": lambda row: (row[1].contents.volume_ml, row[0]), "silver": lambda row: (row[1].contents.silver_g, row[0]),
}


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def containers(request: DeskRequest) -> HttpResponse:
    """Waste containers: open and handed over, what each holds, and a form for a new one."""
    form = ContainerForm(request.POST or None)
    if form.is_valid():
        try:
            return redirect("stockroom:container", save_container(form.as_typed()).pk)
        except DaybookError as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
    rows = WasteContainer.objects.prefetch_related("entries")
    house = House.objects.first()
    most_days = house.waste_days_open if house else None
    found = [(at, state_of(row, row.entries.all(), today(), most_days)) for at, row in enumerate(rows)]
    listing = listed(request, found, SORTS)
    return render(request, "stockroom/waste/containers.html", {
        "form": form, "house_row": house, "listing": listing, "containers": [state for _, state in listing.rows],
    }, status=REFUSED if form.is_bound else 200)


def _container_page(request: DeskRequest, row: WasteContainer, **more: Any) -> HttpResponse:
    entries = list(row.entries.select_related("by", "posting__run__ticket__job", "posting__trial_use__trial"))
    house = House.objects.first()
    refused = any(form.errors for form in more.values())
    return render(request, "stockroom/waste/container.html", {
        "row": row, "entries": entries,
        "container": state_of(row, entries, today(), house.waste_days_open if house else None),
        "waste_form": more.get("waste") or WasteForm(initial=_asked_waste(request)),
        "hand_form": more.get("hand") or HandOverForm(initial={"handed_on": today()}),
        "conflicts": conflicts_of(row) if row.handed_on is None else [],
        "change_form": more.get("change") or ContainerForm(row=row),
        "back_form": more.get("back") or ReturnedForm(initial={"returned_on": today()}),
    }, status=REFUSED if refused else 200)


def _asked_waste(request: DeskRequest) -> dict[str, str]:
    """Return what a link to a container brings along: from where, and its estimated silver."""
    asked = {name: request.GET[name][:120] for name in ("what", "silver", "source") if request.GET.get(name)}
    posting = request.GET.get("posting", "")
    if is_whole(posting) and "source" not in asked:
        asked["source"] = source_of(Posting.objects.filter(pk=whole_number(posting)).first())
    return asked


@at_the_desk
@require_safe
def container(request: DeskRequest, pk: int) -> HttpResponse:
    """One container: what went in, and forms for more, for handing over and for what came back."""
    return _container_page(request, get_object_or_404(WasteContainer, pk=pk))


def _container_act(
    request: DeskRequest, pk: int, name: str, form: forms.Form,
    write: Callable[[WasteContainer, dict[str, Any]], object],
) -> HttpResponse:
    """Save what a container's form holds, or show the container with the refusal in that form."""
    row = get_object_or_404(WasteContainer, pk=pk)
    if form.is_valid():
        try:
            write(row, form.cleaned_data)
            return redirect("stockroom:container", pk)
        except DaybookError as refusal:
            carry_new_saves(request, refusal)
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
    return _container_page(request, row, **{name: form})


@at_the_desk
@require_POST
def put_waste_in(request: DeskRequest, pk: int) -> HttpResponse:
    return _container_act(request, pk, "waste", WasteForm(request.POST), lambda row, typed: put_in(
        key=typed["key"], container=row, by=request.user, what=typed["what"], agents=typed["agents"],
        volume_ml=typed["volume"].value or Decimal(0), silver_g=typed["silver"] or Decimal(0),
        none_apply=typed["none_apply"], source=typed["source"], ph=typed["ph"]))


@allowed(May.ORDERS)
@require_POST
def change_container(request: DeskRequest, pk: int) -> HttpResponse:
    """Change what a container is for, where it stands, and what and how much it may take."""
    form = ContainerForm(request.POST, row=get_object_or_404(WasteContainer, pk=pk))
    return _container_act(request, pk, "change", form, lambda row, typed: save_container(
        form.as_typed(), sent_saves(request)))


@allowed(May.ORDERS)
@require_POST
def hand_container_over(request: DeskRequest, pk: int) -> HttpResponse:
    return _container_act(request, pk, "hand", HandOverForm(request.POST), lambda row, typed: hand_over(
        row, on=typed["handed_on"], to=typed["handed_to"], note=typed["note"], saves=sent_saves(request)))


@allowed(May.ORDERS)
@require_POST
def silver_came_back(request: DeskRequest, pk: int) -> HttpResponse:
    return _container_act(request, pk, "back", ReturnedForm(request.POST), lambda row, typed: silver_returned(
        row, on=typed["returned_on"], grams=typed["grams"], saves=sent_saves(request)))
