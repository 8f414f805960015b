"""Pages that look from the jobs at the stockroom: tracing, the buying list, the silver account, a run's leftovers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from jobs.buying import buying_list
from jobs.models import Job, PaneResult, Run
from jobs.silver_account import silver_account
from jobs.ticketing import plan_of
from jobs.tracing import Came, Reached, forwards, lots_of_job
from jobs.work.kept import keep_leftover_of
from studio.access import at_the_desk, owner_only
from studio.clock import today
from studio.errors import DaybookError
from studio.form_keys import KeyField, sent_key
from studio.http import DeskRequest, csv_response, pdf_response
from studio.inventory.forms import date_input
from studio.inventory.models import Lot, Material, Purchase
from studio.inventory.stock_forms import typed_amount
from studio.inventory.tables import as_csv
from studio.models import House
from studio.paper import render_pdf
from studio.rounding import plain
from studio.units import amount_in


def _csv(name: str, head: Sequence[str], rows: Any) -> HttpResponse:
    return csv_response(as_csv(head, rows), f"{name}.csv")


def _paper(template: str, name: str, context: dict[str, Any]) -> HttpResponse:
    house = House.objects.first()
    pdf = render_pdf(template, {**context, "house": house, "paper_size": house.paper if house else "A4",
                                "made_on": today()})
    return pdf_response(pdf, name)


# Tracing -------------------------------------------------------------------------------------------------------------

@owner_only
@require_safe
def trace_lot(request: DeskRequest, pk: int) -> HttpResponse:
    """Everything a lot reached: mixes, runs, panes, customers, trials; as a page, PDF or CSV."""
    lot = get_object_or_404(Lot.objects.select_related("material", "level"), pk=pk)
    reached = forwards(lot)
    form = request.GET.get("as", "")
    if form == "csv":
        head = ("kind", "what", "customer", "pane", "came out", "amount", "unit", "through")
        return _csv(f"trace-lot-{lot.pk}", head, (row for one in reached for row in _trace_rows(one)))
    context = {"lot": lot, "reached": reached}
    if form == "pdf":
        return _paper("jobs/documents/trace_lot.html", f"trace-lot-{lot.pk}.pdf", context)
    return render(request, "jobs/trace_lot.html", context)


def _trace_rows(one: Reached) -> list[tuple[object, ...]]:
    rest = (plain(one.amount), one.unit, "; ".join(one.through))
    if not one.panes:
        return [(one.kind, one.name, one.customer, "", "", *rest)]
    return [(one.kind, one.name, one.customer, pane.label, "good" if pane.good else "spoilt", *rest)
            for pane in one.panes]


@owner_only
@require_safe
def trace_job(request: DeskRequest, number: int) -> HttpResponse:
    """Every lot in a job, made-up ones taken apart; as a page, PDF or CSV."""
    job = get_object_or_404(Job.objects.select_related("order__customer"), number=number)
    came = lots_of_job(job)
    form = request.GET.get("as", "")
    if form == "csv":
        return _csv(f"trace-job-{number}", ("material", "lot", "supplier", "received", "amount", "unit", "inside"),
                    (_came_row(one) for one in came))
    context = {"job": job, "came": came, "panes": PaneResult.objects.filter(run__ticket__job=job)
               .select_related("recipe_issue__finish")}
    if form == "pdf":
        return _paper("jobs/documents/trace_job.html", f"trace-job-{number}.pdf", context)
    return render(request, "jobs/trace_job.html", context)


def _came_row(one: Came) -> tuple[object, ...]:
    lot = one.lot
    return (lot.material.name, lot.lot_number, lot.supplier, lot.received_on, plain(one.amount),
            lot.material.stock_unit, one.inside)


# Buying --------------------------------------------------------------------------------------------------------------

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
        return _csv("buying-list", ("material", "buy", "unit", "packs", "by", "supplier", "last unit cost", "why"), (
            (row.material.name, plain(row.buy), row.material.stock_unit, row.packs or "", row.by_when or "",
             row.supplier, "" if row.unit_cost is None else plain(row.unit_cost), "; ".join(row.why)) for row in rows
        ))
    if form == "pdf":
        return _paper("jobs/documents/buying_list.html", "buying-list.pdf", {"rows": rows})
    awaited = Purchase.objects.filter(lot=None, called_off_because="").select_related("material")
    return render(request, "jobs/buying.html", {"rows": rows, "awaited": awaited, "day": day})


@owner_only
@require_POST
def ordered(request: DeskRequest) -> HttpResponse:
    """Mark a line as ordered; it is awaited until it is received."""
    key, form = sent_key(request), PurchaseForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(f"{name}: {' '.join(map(str, told))}" for name, told in form.errors.items()))
        return redirect("jobs:buying")
    values = form.cleaned_data
    Purchase.objects.get_or_create(form_key=key, defaults={
        "material": values["material"], "quantity": values["quantity"], "supplier": values["supplier"],
        "due_on": values["due_on"], "ordered_on": today(),
    })
    messages.success(request, f"{values['material']} is awaited.")
    return redirect("jobs:buying")


def _awaited(pk: int) -> Purchase:
    return get_object_or_404(Purchase.objects.select_related("material"), pk=pk, lot=None, called_off_because="")


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
def purchase_called_off(request: DeskRequest, pk: int) -> HttpResponse:
    """Close what was awaited: it is called off, with the reason."""
    row, because = _awaited(pk), request.POST.get("because", "").strip()[:120]
    if because:
        Purchase.objects.filter(pk=pk).update(called_off_because=because)
        messages.success(request, f"{row.material} is no longer awaited.")
    else:
        messages.error(request, "Say why it is called off.")
    return redirect("jobs:buying")


# Silver and leftovers ------------------------------------------------------------------------------------------------

@owner_only
@require_safe
def silver_account_page(request: DeskRequest) -> HttpResponse:
    """Silver bought, on the shelf, on good glass, in containers, handed over, unaccounted."""
    return render(request, "jobs/silver_account.html", {"account": silver_account()})


@at_the_desk
@require_POST
def leftover(request: DeskRequest, pk: int) -> HttpResponse:
    """Put what is left of a finished run's keeping mix on the shelf as a lot."""
    run = get_object_or_404(Run.objects.select_related("ticket__job"), pk=pk, finished_at__isnull=False)
    asked = request.POST.get("mix", "")
    if not any(one.key == asked and one.keeps for one in plan_of(run.ticket).mixes):
        raise Http404
    key = sent_key(request)
    try:
        lot = keep_leftover_of(run=run, mix_key=asked, volume_ml=amount_in(request.POST.get("volume", ""), "volume"),
                               key=key, by=request.user)
    except DaybookError as refusal:
        messages.error(request, f"{refusal} Nothing was kept.")
        return redirect("jobs:run", pk)
    messages.success(request, f"{lot} is on the shelf, until {lot.expires_on:%d %b %Y}. Label it.")
    return redirect("inventory:lot", lot.pk)
