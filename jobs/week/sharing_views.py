"""Mixes that two jobs could share: offered with what each saves, accepted one by one, taken back until mixed."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from jobs.week.sharing import CannotShare, accept, agreed_lately, sharing_offers, take_back
from studio.house.form_keys import fresh_key, sent_key
from studio.house.http import REFUSED, DeskRequest, posted_from
from studio.kit.access import allowed
from studio.kit.roles import May


def _shown(request: DeskRequest, status: int = 200, **more: Any) -> HttpResponse:
    return render(request, "jobs/week/sharing.html", {
        "offers": [(offer, fresh_key()) for offer in sharing_offers()], "agreed": agreed_lately(), **more,
    }, status=status)


@allowed(May.ORDERS)
@require_safe
def week_sharing(request: DeskRequest) -> HttpResponse:
    """What could be one mix, tried by a plan in which no job is ready later; and what is shared already."""
    return _shown(request)


@allowed(May.ORDERS)
@posted_from("jobs:week_sharing")
def share_mix(request: DeskRequest) -> HttpResponse:
    """Accept one offer. Sent twice it counts once."""
    try:
        row = accept(request.POST.get("one", ""), request.POST.get("other", ""), sent_key(request))
    except CannotShare as refusal:
        return _shown(request, REFUSED, refusal=str(refusal))
    messages.success(request, f"{row}: the plan makes it once for both, and their tickets say so.")
    return redirect("jobs:week_sharing")


@allowed(May.ORDERS)
@require_POST
def unshare_mix(request: DeskRequest, pk: int) -> HttpResponse:
    """Make two mixes of one again, any time before they are mixed."""
    try:
        if take_back(pk):
            messages.success(request, "Taken back: each job has its own mix again.")
    except CannotShare as refusal:
        messages.error(request, str(refusal))
    return redirect("jobs:week_sharing")
