"""The page on which the desk enters what the blanks of a printed ticket say."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from jobs.models import Run
from jobs.work.paper_entry import Paper, enter_paper
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest
from studio.kit.access import at_the_desk
from studio.kit.errors import DaybookError


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def from_paper(request: DeskRequest, pk: int) -> HttpResponse:
    """Enter what the paper says, typed through in the ticket's order; what is blank is not done."""
    run = get_object_or_404(Run.objects.select_related("ticket__job__order", "ticket__job__quote"), pk=pk)
    if not run.is_open:
        return redirect("jobs:run", pk)
    key = sent_key(request) if request.method == "POST" else None
    paper, refusal = Paper(run, request.POST if key else None), ""
    if key is not None:
        try:
            enter_paper(paper, by=request.user, key=key)
        except DaybookError as refused:
            refusal = str(refused)
        else:
            messages.success(request, "What the paper says is recorded.")
            return redirect("jobs:run", pk)
    return render(request, "jobs/work/from_paper.html", {
        "run": run, "ticket": run.ticket, "job": run.ticket.job, "state": paper.state, "paper": paper,
        "refusal": refusal,
    }, status=REFUSED if refusal else 200)
