"""Correcting what a finished run deducted: a page of its own, for the owner."""

from __future__ import annotations

from decimal import Decimal

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from jobs.models import Run
from jobs.work.correcting import Deducted, correct_deduction, deducted
from recipes.recorded import amount_question
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile
from studio.kit.meant_so import Question, put
from studio.kit.roles import May
from studio.kit.rounding import plain
from studio.kit.typed_numbers import is_whole, whole_number
from studio.stockroom.forms import typed_amount
from studio.stockroom.models import Material


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def correct(request: DeskRequest, pk: int) -> HttpResponse:
    """Show what a run deducted, lot by lot, and deduct what was really used in its place."""
    run = get_object_or_404(Run.objects.select_related("ticket__job__order", "posting"), pk=pk)
    rows, refusal, wrong = deducted(run), "", {}
    asked: dict[int, Question] = {}
    typed, opened = {row.lot.pk: plain(row.amount) for row in rows}, run.posting_id
    if request.method == "POST":
        key, amounts, opened = sent_key(request), {}, whole_number(request.POST.get("opened", "")) or 0
        for row in rows:
            typed[row.lot.pk] = request.POST.get(f"lot-{row.lot.pk}", "").strip()[:30]
            try:
                amounts[row.lot.pk] = _amount(typed[row.lot.pk], row.lot.material)
            except ValidationError as unread:
                wrong[row.lot.pk] = " ".join(unread.messages)
                continue
            if sentence := _far_off(row, amounts[row.lot.pk]):
                question = put(f"lot-{row.lot.pk}_meant_so", sentence, typed[row.lot.pk], request.POST)
                asked[row.lot.pk] = question
                if not question.ticked:
                    wrong[row.lot.pk] = sentence
        try:
            if not wrong:
                correct_deduction(run=run, by=request.user, key=key, amounts=amounts, why=request.POST.get("why", ""),
                                  opened=opened)
                messages.success(request, "Corrected: what was deducted went back, and the right amounts are deducted.")
                return redirect("jobs:run", run.pk)
        except ChangedMeanwhile as refused:
            refusal, opened = str(refused), refused.saves
        except DaybookError as refused:
            refusal = str(refused)
    return render(request, "jobs/work/correct.html", {
        "run": run, "opened": opened, "job": run.ticket.job, "refusal": refusal, "why": request.POST.get("why", ""),
        "rows": [(row, typed[row.lot.pk], wrong.get(row.lot.pk, ""), asked.get(row.lot.pk)) for row in rows],
    }, status=REFUSED if refusal or wrong else 200)


def _far_off(row: Deducted, amount: Decimal) -> str:
    """Return what to ask of an amount that is far from the one it is put in place of; none at all is often right."""
    if not amount:
        return ""
    return amount_question(row.lot.material.name, row.lot.material.stock_unit, row.amount, amount, "deducted was")


def _amount(text: str, material: Material) -> Decimal:
    """Read an amount; a bare number is in the stock unit that stands beside it. Empty is not none: that is typed, 0."""
    if not text:
        raise ValidationError("Say how much was used; 0 if nothing was.")
    if text in ("0", "none"):
        return Decimal(0)
    bare = is_whole(text.replace(",", "").replace(".", ""))
    in_unit = bare and material.stock_unit in ("g", "mL")
    return typed_amount(f"{text} {material.stock_unit}" if in_unit else text, material)
