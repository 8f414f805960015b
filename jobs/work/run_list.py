"""The list of runs: every one that there was, open and ended."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import F
from django.db.models.functions import Lower
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.models import Run
from studio.house.http import DeskRequest
from studio.house.lists import ordered
from studio.kit.access import at_the_desk

#: the heads of the list of runs, those without a day last; the newest first where none is asked
SORTS: dict[str, Sequence[Any]] = {
    "newest": ("-opened_at", "-pk"), "run": ("ticket__job__number", "pk"),
    "title": (Lower("ticket__job__order__title"), "ticket__job__number", "pk"),
    "due": (F("ticket__job__due_on").asc(nulls_last=True), "pk"), "opened": ("opened_at", "pk"),
    "finished": (F("finished_at").asc(nulls_last=True), "pk"),
}


@at_the_desk
@require_safe
def runs(request: DeskRequest) -> HttpResponse:
    """Every run that the address asks for: open ones, those that ended, or all."""
    rows, state = Run.objects.select_related("ticket__job__order").defer("ticket__plan"), request.GET.get("state", "")
    if state == "open":
        rows = rows.open()
    elif state == "ended":
        rows = rows.exclude(pk__in=Run.objects.open())
    return render(request, "jobs/work/runs.html", {"listing": ordered(request, rows, SORTS), "state": state})
