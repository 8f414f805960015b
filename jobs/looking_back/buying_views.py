"""The buying list as page, paper and table, and what was ordered from it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import F, QuerySet
from django.db.models.functions import Lower
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.looking_back.answers import csv_answer, paper_answer
from jobs.looking_back.buying import ToBuy, buying_list
from studio.house.clock import today
from studio.house.form_keys import KeyField, sent_key
from studio.house.http import REFUSED, DeskRequest
from studio.house.lists import listed
from studio.house.lists import ordered as ordered_as_asked
from studio.house.typed_fields import DayField
from studio.kit.access import allowed
from studio.kit.roles import May
from studio.kit.rounding import plain
from studio.kit.typed_numbers import is_whole
from studio.stockroom.forms import typed_amount
from studio.stockroom.models import Lot, Material, Purchase

#: so many of what is awaited stand on the buying list's page; the rest in a list of their own
AWAITED_FIRST = 10
#: the heads of the buying list, the most pressing first where none is asked; what has no day comes last
SORTS: dict[str, Callable[[ToBuy], Any]] = {
    "pressing": lambda row: (row.by_when or date.max, row.material.name),
    "name": lambda row: row.material.name.casefold(),
}
#: the heads of what is awaited, what is expected first where none is asked
AWAITED_SORTS: dict[str, Sequence[Any]] = {
    "expected": (F("due_on").asc(nulls_last=True), "pk"), "name": (Lower("material__name"), "pk"),
    "from": (Lower("supplier"), "pk"),
}


class PurchaseForm(forms.Form):
    """Something that was ordered from a supplier."""

    material = forms.ModelChoiceField(Material.objects.all(), widget=forms.HiddenInput())
    amount = forms.CharField(max_length=30, label="How much")
    supplier = forms.CharField(max_length=80, required=False, label="From")
    due_on = DayField(required=False, label="Expected on")
    key = KeyField()

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if values.get("material") and values.get("amount"):
            try:
                values["quantity"] = typed_amount(values["amount"], values["material"])
            except forms.ValidationError as refused:
                self.add_error("amount", refused)
        return values


def _names_of(material: object) -> str:
    """Return how the fields of a material's form are named: each row has one."""
    return f"id_%s-{material}" if is_whole(str(material)) else "id_%s"


def _form_of(row: ToBuy) -> PurchaseForm:
    """Return the form that marks a row as ordered, with what is to be bought in it."""
    return PurchaseForm(auto_id=_names_of(row.material.pk), initial={
        "material": row.material.pk, "amount": f"{plain(row.buy)} {row.material.stock_unit}", "supplier": row.supplier,
    })


@allowed(May.ORDERS)
@require_safe
def buying(request: DeskRequest) -> HttpResponse:
    """What to buy, by when, in whole packs; what is awaited; as a page, PDF or CSV."""
    rows = buying_list(today())
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
    return _page(request, rows)


def _page(request: DeskRequest, rows: Sequence[ToBuy], refused: PurchaseForm | None = None) -> HttpResponse:
    """Show the list. refused: what was typed and not taken, in its row, or above the list where that shows it not."""
    waiting, listing = _waiting().order_by(*AWAITED_SORTS["expected"]), listed(request, rows, SORTS)
    of = refused["material"].value() if refused is not None else None
    with_forms = [(row, refused if refused is not None and str(row.material.pk) == of else _form_of(row))
                  for row in listing.rows]
    apart = refused is not None and all(form is not refused for _, form in with_forms)
    return render(request, "jobs/looking_back/buying.html", {
        "listing": listing, "rows": with_forms, "refused": refused, "apart": apart,
        "apart_of": Material.objects.filter(pk=str(of)).first() if apart and is_whole(str(of)) else None,
        "awaited": waiting[:AWAITED_FIRST], "awaited_in_all": waiting.count(), "day": today(),
    }, status=REFUSED if refused is not None else 200)


@allowed(May.ORDERS)
@require_safe
def awaited(request: DeskRequest) -> HttpResponse:
    """Everything that is ordered and not here yet."""
    listing = ordered_as_asked(request, _waiting(), AWAITED_SORTS)
    return render(request, "jobs/looking_back/awaited.html", {
        "listing": listing, "awaited": listing.rows, "day": today(),
    })


def _waiting() -> QuerySet[Purchase]:
    return Purchase.objects.filter(lot=None, cancelled_because="").select_related("material")


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def ordered(request: DeskRequest) -> HttpResponse:
    """Mark a line as ordered; it is awaited until it is received. Asked for as a page, it is the list."""
    if request.method != "POST":
        return redirect(f"{reverse('jobs:buying')}?{request.GET.urlencode()}")
    key, form = sent_key(request), PurchaseForm(request.POST, auto_id=_names_of(request.POST.get("material", "")))
    if not form.is_valid():
        return _page(request, buying_list(today()), form)
    values = form.cleaned_data
    Purchase.objects.get_or_create(form_key=key, defaults={
        "material": values["material"], "quantity": values["quantity"], "supplier": values["supplier"],
        "due_on": values["due_on"], "ordered_on": today(),
    })
    messages.success(request, f"{values['material']} is awaited.")
    return redirect("jobs:buying")


def _awaited(pk: int) -> Purchase:
    return get_object_or_404(Purchase.objects.select_related("material"), pk=pk, lot=None, cancelled_because="")


@allowed(May.ORDERS)
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


@allowed(May.ORDERS)
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
