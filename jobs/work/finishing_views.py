"""Finishing a run: what will be deducted from which lot is shown first; then just that is deducted, once."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from jobs.models import Run
from jobs.work.bench import bench_state
from jobs.work.deduction import deduction_of, other_lots
from jobs.work.finishing import finish_run
from studio.house.http import REFUSED, DeskRequest
from studio.kit.access import at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import is_whole, whole_number


def _chosen(sent: QueryDict) -> dict[int, int]:
    """Return the lots that were chosen by hand, by material."""
    named = {name.removeprefix("chosen-"): sent.get(name, "") for name in sent if name.startswith("chosen-")}
    return {whole_number(name): whole_number(value) for name, value in named.items()
            if is_whole(name) and is_whole(value)}


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def finish(request: DeskRequest, pk: int) -> HttpResponse:
    """Show what finishing deducts; sent with the mark of what was shown, deduct just that and finish."""
    run = get_object_or_404(Run.objects.select_related("ticket__job__order"), pk=pk)
    if run.finished_at is not None:
        return redirect("jobs:run", pk)
    if request.method != "POST":
        return _shown(request, run, request.GET)
    if not request.POST.get("shown") and run.is_open:
        return _shown(request, run, request.POST, "Look at what will be deducted, then finish.")
    try:
        finish_run(
            run=run, by=request.user, kept_back_because=request.POST.get("kept_back_because", ""),
            chosen=_chosen(request.POST), chosen_because=request.POST.get("chosen_because", ""),
            shown=request.POST.get("shown", ""),
        )
    except DaybookError as refusal:
        return _shown(request, run, request.POST, str(refusal))
    messages.success(request, "The run is finished and its stock is deducted.")
    return redirect("jobs:run", pk)


def _shown(request: DeskRequest, run: Run, sent: QueryDict, refusal: str = "") -> HttpResponse:
    state, chosen = bench_state(run), _chosen(sent)
    context = {
        "run": run, "ticket": run.ticket, "job": run.ticket.job, "state": state, "refusal": refusal,
        "chosen_because": sent.get("chosen_because", ""), "kept_back_because": sent.get("kept_back_because", ""),
        "can_finish": run.is_open and not state.missing, "chosen": sorted(chosen.items()),
    }
    if context["can_finish"]:
        try:
            context |= {
                "deduction": deduction_of(run, request.user, chosen),
                "other_lots": [(material, lots, chosen.get(material.pk)) for material, lots in other_lots(run)],
            }
        except DaybookError as damaged:
            context |= {"refusal": refusal or str(damaged), "can_finish": False}
    return render(request, "jobs/work/finish.html", context, status=REFUSED if refusal else 200)
