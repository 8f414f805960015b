"""The list of customers, and a customer's page: how to reach them, jobs, what is owed; merging, export, forgetting."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.db.models import Count, F, Max, Q
from django.db.models.functions import Lower
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.customers.details import add_to, correct, save_customer
from jobs.customers.exporting import export_of
from jobs.customers.forgetting import forget, look_at_forgetting, what_stays
from jobs.customers.forms import AddressForm, ContactForm, CustomerForm, ForgetForm, MergeForm
from jobs.customers.merging import look_at_merging, merge
from jobs.customers.owed import jobs_of, owed_in_words
from jobs.models import Customer, CustomerAddress, CustomerContact
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.house.lists import ordered, words_of
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May

#: the heads of the list of customers; by name where none is asked, one who never ordered after those who did
SORTS: dict[str, Sequence[Any]] = {
    "name": (Lower("name"), "pk"), "jobs": ("jobs", Lower("name"), "pk"),
    "last": (F("last").asc(nulls_last=True), Lower("name"), "pk"),
}
#: what a customer has several of, by its part of the address: the model, its form, one of it in words
PARTS: dict[str, tuple[Any, Any, str]] = {
    "contacts": (CustomerContact, ContactForm, "contact"), "addresses": (CustomerAddress, AddressForm, "address"),
}
#: where a word of the list's question may stand
_ASKED = ("name", "email", "phone", "address", "note", "contacts__name", "contacts__email", "contacts__phone",
          "addresses__address")


@allowed(May.ORDERS)
@require_safe
def customers(request: DeskRequest) -> HttpResponse:
    """Every customer that the address asks for, with how many jobs there were and when the last order was entered."""
    rows, text = Customer.objects.all(), request.GET.get("q", "")
    for word in words_of(text):
        asked = Q()
        for column in _ASKED:
            asked |= Q(**{f"{column}__icontains": word})
        rows = rows.filter(pk__in=Customer.objects.filter(asked).values("pk"))
    counted = rows.annotate(jobs=Count("orders__job"), last=Max("orders__entered_at"))
    return render(request, "jobs/customers/customers.html", {
        "listing": ordered(request, counted, SORTS), "asked": text,
    })


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def customer(request: DeskRequest, pk: int) -> HttpResponse:
    """A customer's details, to be corrected; contacts, addresses, presets, jobs and what is owed."""
    row = get_object_or_404(Customer, pk=pk)
    form = CustomerForm(request.POST or None, instance=get_object_or_404(Customer, pk=pk))
    if form.is_valid():
        try:
            saved = save_customer(pk, sent_saves(request), form.cleaned_data)
            messages.success(request, f"{saved.name} is saved.")
            return redirect("jobs:customer", pk)
        except DaybookError as refusal:
            carry_new_saves(request, refusal)
            form.add_error(None, str(refusal))
    jobs = jobs_of(row)
    return render(request, "jobs/customers/customer.html", {
        "row": row, "form": form, "jobs": jobs, "owed": owed_in_words(jobs), "contacts": row.contacts.all(),
        "addresses": row.addresses.all(), "presets": row.choices.select_related("finish", "glass"),
        "stays": what_stays(row, row.papers_kept_until) if row.papers_kept_until else (),
    }, status=REFUSED if form.is_bound else 200)


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def add(request: DeskRequest, pk: int, what: str) -> HttpResponse:
    """Another contact, or another address."""
    row = get_object_or_404(Customer, pk=pk)
    model, form_class, words = _part_of(what)
    form = form_class(request.POST or None)
    if form.is_valid():
        sent = dict(form.cleaned_data)
        try:
            add_to(model, row, sent.pop("key"), sent)
            messages.success(request, f"The {words} is saved.")
            return redirect("jobs:customer", pk)
        except DaybookError as refusal:
            form.add_error(None, str(refusal))
    return _part_page(request, row, form, f"A further {words}", None)


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def part(request: DeskRequest, pk: int, what: str, row: int) -> HttpResponse:
    """One contact or address, to be corrected or removed."""
    model, form_class, words = _part_of(what)
    found = get_object_or_404(model.objects.select_related("customer"), pk=row, customer=pk)
    form = form_class(request.POST or None, instance=get_object_or_404(model, pk=row))
    if form.is_valid():
        sent = {name: value for name, value in form.cleaned_data.items() if name != "key"}
        try:
            correct(found, sent_saves(request), sent)
            messages.success(request, f"The {words} is saved.")
            return redirect("jobs:customer", pk)
        except DaybookError as refusal:
            carry_new_saves(request, refusal)
            form.add_error(None, str(refusal))
    return _part_page(request, found.customer, form, str(found).capitalize() if what == "addresses" else str(found),
                      found, what)


def _part_of(what: str) -> tuple[Any, Any, str]:
    if what not in PARTS:
        raise Http404
    return PARTS[what]


def _part_page(request: DeskRequest, customer: Customer, form: Any, title: str, found: Any, what: str = "",
               ) -> HttpResponse:
    return render(request, "jobs/customers/part.html", {
        "customer": customer, "form": form, "title": title, "row": found, "what": what,
    }, status=REFUSED if form.is_bound else 200)


@allowed(May.ORDERS)
@require_POST
def remove(request: DeskRequest, pk: int, what: str, row: int) -> HttpResponse:
    """Remove a contact or an address. Sent twice, it is gone once."""
    model, _, words = _part_of(what)
    get_object_or_404(Customer, pk=pk)
    for found in model.objects.filter(pk=row, customer=pk):
        found.delete()
    messages.success(request, f"The {words} is removed.")
    return redirect("jobs:customer", pk)


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def merge_page(request: DeskRequest, pk: int) -> HttpResponse:
    """Choose who stays, see what will move, and merge."""
    leaves = get_object_or_404(Customer, pk=pk)
    chosen = request.POST if request.method == "POST" else request.GET if "into" in request.GET else None
    form, looked = MergeForm(chosen, leaves=leaves), None
    if form.is_bound and form.is_valid():
        stays = form.cleaned_data["into"]
        looked = look_at_merging(leaves, stays)
        if request.method == "POST":
            try:
                merge(leaves=leaves, stays=stays, by=request.user, seen=request.POST.get("seen", ""))
                messages.success(request, f"{leaves} and {stays} are one customer now.")
                return redirect("jobs:customer", stays.pk)
            except DaybookError as refusal:
                form.add_error(None, str(refusal))
    refused = form.is_bound and bool(form.errors)
    return render(request, "jobs/customers/merge.html", {"row": leaves, "form": form, "looked": looked},
                  status=REFUSED if refused else 200)


@allowed(May.ORDERS)
@require_safe
def export(request: DeskRequest, pk: int) -> HttpResponse:
    """All that the studio keeps about a customer, as a ZIP to hand over."""
    row = get_object_or_404(Customer, pk=pk)
    response = HttpResponse(export_of(row), content_type="application/zip")
    response["Content-Disposition"] = f'attachment; filename="customer-{row.pk}.zip"'
    return response


@allowed(May.STUDIO)
@require_http_methods(["GET", "HEAD", "POST"])
def forget_page(request: DeskRequest, pk: int) -> HttpResponse:
    """What forgetting a customer wipes, what stays and why; and forgetting them."""
    row = get_object_or_404(Customer, pk=pk)
    if row.forgotten_on is not None:
        return redirect("jobs:customer", pk)
    form = ForgetForm(request.POST or None)
    if form.is_valid():
        try:
            gone = forget(customer=row, by=request.user, saves=sent_saves(request))
            messages.success(request, f"{gone}. What stays, and why, is said below.")
            return redirect("jobs:customer", pk)
        except DaybookError as refusal:
            carry_new_saves(request, refusal)
            form.add_error(None, str(refusal))
    return render(request, "jobs/customers/forget.html", {
        "row": row, "form": form, "looked": look_at_forgetting(row),
    }, status=REFUSED if form.is_bound else 200)
