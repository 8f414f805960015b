"""Offcuts of a ticket's cutting plan that somebody keeps."""

from __future__ import annotations

from uuid import NAMESPACE_URL, uuid5

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from jobs.models import Run
from jobs.ticketing import plan_of
from studio.access import at_the_desk
from studio.exact import LENGTH_DECIMALS
from studio.http import DeskRequest
from studio.inventory.models import Material
from studio.inventory.offcuts import keep_offcut
from studio.rounding import as_decimal


@at_the_desk
@require_POST
def keep_offcuts(request: DeskRequest, pk: int) -> HttpResponse:
    """Keep the ticked offcuts of a run's cutting plan; each counts once, however often it is sent."""
    run = get_object_or_404(Run.objects.select_related("ticket__job"), pk=pk)
    ticked = set(request.POST.getlist("offcut"))
    kept = []
    with transaction.atomic():
        for glass in plan_of(run.ticket).glass:
            material = Material.objects.filter(code=glass.code).first()
            for sheet in glass.plan:
                for at, one in enumerate(sheet.offcuts, start=1):
                    name = f"{glass.code}/{sheet.number}/{at}"
                    if name in ticked and material is not None:
                        kept.append(keep_offcut(
                            key=uuid5(NAMESPACE_URL, f"silvering-daybook:offcut:{run.pk}:{name}"), by=request.user,
                            material=material, width_mm=as_decimal(one.width_mm, LENGTH_DECIMALS),
                            height_mm=as_decimal(one.height_mm, LENGTH_DECIMALS),
                            place=request.POST.get("place", "")[:60], came_from=f"job {run.ticket.job.number}",
                        ))
    if kept:
        messages.success(request, f"Kept: {', '.join(str(one) for one in kept)}. Mark the numbers on the glass.")
    return redirect("jobs:run", pk)
