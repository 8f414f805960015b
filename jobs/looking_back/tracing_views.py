"""Tracing as page, paper and table."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from jobs.looking_back.answers import csv_answer, paper_answer
from jobs.looking_back.tracing import LotUse, LotUsed, lots_of_job, uses_of_lot
from jobs.models import Job, PaneResult
from studio.house.http import DeskRequest
from studio.kit.access import owner_only
from studio.kit.rounding import plain
from studio.stockroom.models import Lot


@owner_only
@require_safe
def trace_lot(request: DeskRequest, pk: int) -> HttpResponse:
    """Everything a lot reached: mixes, runs, panes, customers, trials; as a page, PDF or CSV."""
    lot = get_object_or_404(Lot.objects.select_related("material", "level"), pk=pk)
    uses = uses_of_lot(lot)
    form = request.GET.get("as", "")
    if form == "csv":
        head = ("kind", "what", "customer", "pane", "came out", "amount", "unit", "via")
        return csv_answer(f"trace-lot-{lot.pk}", head, (row for use in uses for row in _trace_rows(use)))
    context = {"lot": lot, "uses": uses}
    if form == "pdf":
        return paper_answer("jobs/looking_back/documents/trace_lot.html", f"trace-lot-{lot.pk}.pdf", context)
    return render(request, "jobs/looking_back/trace_lot.html", context)


def _trace_rows(use: LotUse) -> list[tuple[object, ...]]:
    rest = (plain(use.amount), use.unit, "; ".join(use.via))
    if not use.panes:
        return [(use.kind, use.name, use.customer, "", "", *rest)]
    return [(use.kind, use.name, use.customer, pane.label, "good" if pane.good else "spoilt", *rest)
            for pane in use.panes]


@owner_only
@require_safe
def trace_job(request: DeskRequest, number: int) -> HttpResponse:
    """Every lot in a job, those mixed here with the lots they were mixed from; as a page, PDF or CSV."""
    job = get_object_or_404(Job.objects.select_related("order__customer"), number=number)
    lots_used = lots_of_job(job)
    form = request.GET.get("as", "")
    if form == "csv":
        return csv_answer(
            f"trace-job-{number}",
            ("material", "lot", "supplier", "received", "amount", "unit", "via"),
            (_lot_row(used) for used in lots_used),
        )
    context = {"job": job, "lots_used": lots_used, "panes": PaneResult.objects.filter(run__ticket__job=job)
               .select_related("recipe_version__finish")}
    if form == "pdf":
        return paper_answer("jobs/looking_back/documents/trace_job.html", f"trace-job-{number}.pdf", context)
    return render(request, "jobs/looking_back/trace_job.html", context)


def _lot_row(used: LotUsed) -> tuple[object, ...]:
    lot = used.lot
    return (lot.material.name, lot.lot_number, lot.supplier, lot.received_on, plain(used.amount),
            lot.material.stock_unit, used.via)
