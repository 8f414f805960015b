"""Tracing as page, paper and table."""

from __future__ import annotations

from fractions import Fraction

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from jobs.looking_back.answers import csv_answer, paper_answer
from jobs.looking_back.reach import PaneHolds, Reached, lots_in_panes
from jobs.looking_back.recall import recall_of, settle
from jobs.looking_back.tracing import LotUsed, lots_of_job
from jobs.models import Job, PaneResult
from studio.exact import STOCK_DECIMALS
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.kit.rounding import as_decimal, plain
from studio.stockroom.models import Lot


@allowed(May.ORDERS)
@require_safe
def trace_lot(request: DeskRequest, pk: int) -> HttpResponse:
    """Everything a lot reached: mixes, loads, panes, customers, trials; as a page, PDF or CSV."""
    return _lot_traced(request, pk)


def _lot_traced(request: DeskRequest, pk: int, refusal: str = "") -> HttpResponse:
    """Answer with a lot's trace, of a held one with what is to be settled. refusal: why nothing was settled."""
    lot = get_object_or_404(Lot.objects.select_related("material", "level"), pk=pk)
    items = recall_of([lot])
    reached = [item.reached for item in items]
    form = request.GET.get("as", "")
    if form == "csv":
        head = ("kind", "what", "customer", "load", "mixes", "pane", "came out", "amount", "unit", "how sure", "via")
        return csv_answer(f"trace-lot-{lot.pk}", head, (row for found in reached for row in _trace_rows(found)))
    context = {"lot": lot, "reached": reached, "items": items, "refusal": refusal, "typed": request.POST,
               "ticked": request.POST.getlist("what")}
    if form == "pdf":
        return paper_answer("jobs/looking_back/documents/trace_lot.html", f"trace-lot-{lot.pk}.pdf", context)
    return render(request, "jobs/looking_back/trace_lot.html", context, status=REFUSED if refusal else 200)


@allowed(May.ORDERS)
@require_POST
def settle_recall(request: DeskRequest, pk: int) -> HttpResponse:
    """Note what was decided of what a held lot touched; a refusal keeps what was ticked and typed."""
    lot = get_object_or_404(Lot, pk=pk)
    try:
        rows = settle(key=sent_key(request), lot=lot, names=request.POST.getlist("what"),
                      decided=request.POST.get("decided", ""), by=request.user)
    except DaybookError as refusal:
        return _lot_traced(request, pk, str(refusal))
    messages.success(request, f"Settled: {rows[0].decided}")
    return redirect("jobs:trace_lot", pk)


def _trace_rows(found: Reached) -> list[tuple[object, ...]]:
    kind = "trial" if found.trial is not None else "run"
    where = (kind, found.name, found.customer, found.load, "; ".join(found.mixes))
    sure = (found.unit, found.standing, "; ".join(found.via))
    if not found.panes:
        return [(*where, "", "", _exact(found.amount), *sure)]
    return [(*where, pane.label, pane.came_out, _exact(pane.amount) if pane.amount else "", *sure)
            for pane in found.panes]


def _exact(amount: Fraction) -> str:
    return plain(as_decimal(amount, STOCK_DECIMALS))


@allowed(May.ORDERS)
@require_safe
def trace_job(request: DeskRequest, number: int) -> HttpResponse:
    """Every lot in a job, those mixed here with the lots they were mixed from; as a page, PDF or CSV."""
    job = get_object_or_404(Job.objects.select_related("order__customer"), number=number)
    lots_used, in_panes = lots_of_job(job), lots_in_panes(job)
    form = request.GET.get("as", "")
    if form == "csv":
        return csv_answer(
            f"trace-job-{number}",
            ("pane", "material", "lot", "supplier", "received", "amount", "unit", "how sure", "via"),
            [*(_lot_row(used) for used in lots_used), *(_pane_row(held) for held in in_panes)],
        )
    panes = PaneResult.objects.filter(run__ticket__job=job).select_related("recipe_version__finish")
    context = {"job": job, "lots_used": lots_used, "in_panes": in_panes, "panes": panes}
    if form == "pdf":
        return paper_answer("jobs/looking_back/documents/trace_job.html", f"trace-job-{number}.pdf", context)
    return render(request, "jobs/looking_back/trace_job.html", context)


def _lot_row(used: LotUsed) -> tuple[object, ...]:
    lot = used.lot
    return ("", lot.material.name, lot.lot_number, lot.supplier, lot.received_on, plain(used.amount),
            lot.material.stock_unit, "", used.via)


def _pane_row(held: PaneHolds) -> tuple[object, ...]:
    lot = held.lot
    return (held.label, lot.material.name, lot.lot_number, lot.supplier, lot.received_on, _exact(held.amount),
            lot.material.stock_unit, held.standing, held.via)
