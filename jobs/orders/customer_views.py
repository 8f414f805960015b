"""A customer's page: name, contact details and a note; for owners only."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from jobs.models import Customer
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.kit.access import owner_only
from studio.kit.locks import ChangedMeanwhile, check_opened, differing, write


class CustomerForm(forms.ModelForm):  # type: ignore[type-arg]
    class Meta:
        model = Customer
        fields = ["name", "email", "phone", "address", "note"]
        widgets = {"address": forms.Textarea(attrs={"rows": 3}), "note": forms.Textarea(attrs={"rows": 3})}


@transaction.atomic
def save_customer(pk: int, saves: int | None, values: dict[str, Any]) -> Customer:
    """Save a customer. Raises ChangedMeanwhile when somebody else saved it since it was opened: nothing is saved."""
    row = Customer.objects.select_for_update().get(pk=pk)
    check_opened(row, saves, differing(row, values))
    write(row, values)
    return row


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def customer(request: DeskRequest, pk: int) -> HttpResponse:
    """A customer's details, to be corrected, and their orders."""
    row = get_object_or_404(Customer, pk=pk)
    form = CustomerForm(request.POST or None, instance=get_object_or_404(Customer, pk=pk))
    if form.is_valid():
        try:
            saved = save_customer(pk, sent_saves(request), form.cleaned_data)
            messages.success(request, f"{saved.name} is saved.")
            return redirect("jobs:customer", pk)
        except ChangedMeanwhile as refusal:
            carry_new_saves(request, refusal)
            form.add_error(None, str(refusal))
    return render(request, "jobs/orders/customer.html", {
        "row": row, "form": form, "orders": row.orders.select_related("job").order_by("-job__number"),
    }, status=REFUSED if form.is_bound else 200)
