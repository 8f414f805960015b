"""Mix a solution ahead, from its page."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from recipes.models import SolutionVersion
from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from studio.house.form_keys import sent_key
from studio.house.http import DeskRequest
from studio.kit.access import at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.units import amount_in


@at_the_desk
@require_POST
def mix_ahead_now(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Take the ingredients from their lots and put a lot of the solution on the shelf: all or nothing, once."""
    version = get_object_or_404(SolutionVersion.objects.select_related("solution"), solution__code=code, number=number)
    key = sent_key(request)
    try:
        volume = amount_in(request.POST.get("volume", ""), "volume", "ml")
        lot = mix_ahead(key=key, by=request.user, version=version, volume_ml=volume, day=today())
    except DaybookError as refusal:
        messages.error(request, f"{refusal} Nothing was mixed.")
        return redirect("recipes:solution", code, number)
    messages.success(request, f"{lot} is on the shelf, until {lot.until}. Print its label.")
    return redirect("stockroom:lot", lot.pk)
