"""The buying list as page, paper and table, and what was ordered from it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from jobs.looking_back.answers import csv_answer, paper_answer
from jobs.looking_back.buying import buying_list
from studio.house.clock import today
from studio.house.form_keys import KeyField, sent_key
from studio.house.http import DeskRequest
from studio.kit.access import owner_only
from studio.kit.rounding import plain
from studio.stockroom.forms import typed_amount
from studio.stockroom.material_forms import date_input
from studio.stockroom.models import Lot, Material, Purchase


class PurchaseForm(forms.Form):
    """Something that was ordered from a supplier."""

    material = forms.ModelChoiceField(Material.objects.all())
    amount = forms.CharField(max_length=30)
    supplier = forms.CharField(max_length=80, required=False)
    due_on = forms.DateField(required=False, widget=date_input())
    key = KeyField()

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if values.get("material") and values.get("amount"):
            try:
                values["quantity"] = typed_amount(values["amount"], values["material"])
            except forms.ValidationError as refused:
                self.add_error("amount", refused)
        return values


@owner_only
@require_safe
def buying(request: DeskRequest) -> HttpResponse:
    """What to buy, by when, in whole packs; what is awaited; as a page, PDF or CSV."""
    rows, day = buying_list(today()), today()
    form = request.GET.get("as", "")
    if form == "csv":
        return csv_answer(
            "buying-list",
            ("material", "buy", "unit", "packs", "by", "supplier", "last unit cost", "why"),
            (
                (
                    row.material.name,
                    plain(row.buy),
                    row.material.stock_unit,
                    row.packs or "",
                    row.by_when or "",
                    row.supplier,
                    "" if row.unit_cost is None else plain(row.unit_cost),
                    "; ".join(row.why),
                )
                for row in rows
            ),
        )
    if form == "pdf":
        return paper_answer("jobs/looking_back/documents/buying_list.html", "buying-list.pdf", {"rows": rows})
    awaited = Purchase.objects.filter(lot=None, cancelled_because="").select_related("material")
    return render(request, "jobs/looking_back/buying.html", {"rows": rows, "awaited": awaited, "day": day})


@owner_only
@require_POST
def ordered(request: DeskRequest) -> HttpResponse:
    """Mark a line as ordered; it is awaited until it is received."""
    key, form = sent_key(request), PurchaseForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(
            f"{name}: {' '.join(map(str, sentences))}" for name, sentences in form.errors.items()
        ))
        return redirect("jobs:buying")
    values = form.cleaned_data
    Purchase.objects.get_or_create(form_key=key, defaults={
        "material": values["material"], "quantity": values["quantity"], "supplier": values["supplier"],
        "due_on": values["due_on"], "ordered_on": today(),
    })
    messages.success(request, f"{values['material']} is awaited.")
    return redirect("jobs:buying")


def _awaited(pk: int) -> Purchase:
    return get_object_or_404(Purchase.objects.select_related("material"), pk=pk, lot=None, cancelled_because="")


@owner_only
@require_POST
def purchase_came(request: DeskRequest, pk: int) -> HttpResponse:
    """Close what was awaited: it stands on the shelf as a lot."""
    row, number = _awaited(pk), request.POST.get("lot", "").strip()
    lot = Lot.objects.filter(material=row.material, lot_number=number, purchase=None).first()
    if lot is None:
        messages.error(request, f"{row.material} has no lot {number} that is not set against another order: "
                       "receive it first." if number else "Give the lot it came as.")
        return redirect("jobs:buying")
    Purchase.objects.filter(pk=pk).update(lot=lot)
    messages.success(request, f"{row.material} came as lot {number}.")
    return redirect("jobs:buying")


@owner_only
@require_POST
def purchase_cancelled(request: DeskRequest, pk: int) -> HttpResponse:
    """Close what was awaited: it is cancelled, with the reason."""
    row, because = _awaited(pk), request.POST.get("because", "").strip()[:120]
    if because:
        Purchase.objects.filter(pk=pk).update(cancelled_because=because)
        messages.success(request, f"{row.material} is no longer awaited.")
    else:
        messages.error(request, "Say why it is cancelled.")
    return redirect("jobs:buying")
