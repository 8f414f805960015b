"""Offcuts of a ticket's cutting plan that somebody keeps."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from jobs.models import Run
from jobs.work.kept import keep_offcuts_of
from studio.house.http import DeskRequest
from studio.kit.access import at_the_desk
from studio.kit.errors import DaybookError


@at_the_desk
@require_POST
def keep_offcuts(request: DeskRequest, pk: int) -> HttpResponse:
    """Keep the ticked offcuts of a run's cutting plan; each counts once, however often it is sent."""
    run = get_object_or_404(Run, pk=pk)
    try:
        found = keep_offcuts_of(run=run, names=request.POST.getlist("offcut"), place=request.POST.get("place", "")[:60],
                                by=request.user)
    except DaybookError as refusal:
        messages.error(request, f"{refusal} Nothing was saved.")
        return redirect("jobs:run", pk)
    if found:
        messages.success(request, f"Saved: {', '.join(str(item) for item in found)}. Mark the numbers on the glass.")
    return redirect("jobs:run", pk)
