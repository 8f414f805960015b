"""What is left of a finished run's keeping mix goes on the shelf."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from jobs.models import Run
from jobs.work.entries import mix_key
from jobs.work.kept import keep_leftover_of
from jobs.work.ticketing import plan_of
from studio.house.form_keys import sent_key
from studio.house.http import DeskRequest
from studio.kit.access import at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.units import amount_in


@at_the_desk
@require_POST
def leftover(request: DeskRequest, pk: int) -> HttpResponse:
    """Put what is left of a finished run's keeping mix on the shelf as a lot."""
    run = get_object_or_404(Run.objects.select_related("ticket__job"), pk=pk, finished_at__isnull=False)
    asked = request.POST.get("mix", "")
    if not any(mix.key == mix_key(asked) and mix.keeps for mix in plan_of(run.ticket).mixes):
        raise Http404
    key = sent_key(request)
    try:
        lot = keep_leftover_of(run=run, mix_key=asked, volume_ml=amount_in(request.POST.get("volume", ""), "volume"),
                               key=key, by=request.user)
    except DaybookError as refusal:
        messages.error(request, f"{refusal} Nothing was saved.")
        return redirect("jobs:run", pk)
    messages.success(request, f"{lot} is on the shelf, until {lot.until}. Label it.")
    return redirect("stockroom:lot", lot.pk)
