"""The settings of the week: one page, with the days apart below; what the helper records of hours away."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, posted_from, sent_saves
from studio.house.week import the_week
from studio.house.week_changes import week_changed
from studio.house.week_forms import DayApartForm, WeekForm
from studio.house.week_models import DayApart, StudioWeek
from studio.kit.access import allowed
from studio.kit.locks import ChangedMeanwhile, check_opened, differing
from studio.kit.public_holidays import public_holidays
from studio.kit.roles import May


def _shown(request: DeskRequest, form: WeekForm | None = None, apart: DayApartForm | None = None) -> HttpResponse:
    week, day = the_week(), today()
    ahead = {**public_holidays(week.country, week.region, day.year),
             **public_holidays(week.country, week.region, day.year + 1)}
    return render(request, "house/week.html", {
        "form": form or WeekForm(instance=week), "apart": apart or DayApartForm(), "row": week,
        "days": DayApart.objects.filter(last_on__gte=day - timedelta(days=7)),
        "holidays": [(on, name) for on, name in ahead.items() if day <= on <= day + timedelta(days=366)],
    }, status=REFUSED if form or apart else 200)


@allowed(May.STUDIO)
@require_http_methods(["GET", "HEAD", "POST"])
def week_settings(request: DeskRequest) -> HttpResponse:
    """Hours, benches, holidays and the figures of a promise; saved over somebody else's they are shown both."""
    if request.method != "POST":
        return _shown(request)
    form = WeekForm(request.POST, instance=the_week())
    if form.is_valid():
        try:
            _save(request, form)
            messages.success(request, "The week is saved: the plan is worked out by it from now on.")
            return redirect("studio:week")
        except ChangedMeanwhile as refusal:
            carry_new_saves(request, refusal)
            form.add_error(None, str(refusal))
    return _shown(request, form=form)


@transaction.atomic
def _save(request: DeskRequest, form: WeekForm) -> None:
    """Save the week. Raises ChangedMeanwhile."""
    kept = StudioWeek.objects.select_for_update().first()
    if kept is not None:
        check_opened(kept, sent_saves(request), differing(kept, form.cleaned_data))
        form.instance.saves = kept.saves
    form.save()
    week_changed()


@allowed(May.STUDIO)
@posted_from("studio:week")
def add_day_apart(request: DeskRequest) -> HttpResponse:
    """Days off, half days and extra days, of the studio or one of the two. Sent twice they count once."""
    form: Any = DayApartForm(request.POST)
    if not form.is_valid():
        return _shown(request, apart=form)
    row = save_day_apart(form)
    messages.success(request, f"Saved: {row}.")
    return redirect("studio:week")


@transaction.atomic
def save_day_apart(form: DayApartForm) -> DayApart:
    """Save days apart once, by the key of their form."""
    known = DayApart.objects.filter(key=form.cleaned_data["key"]).first()
    if known is not None:
        return known
    form.instance.key = form.cleaned_data["key"]
    row = form.save()
    week_changed()
    return row


@allowed(May.STUDIO)
@require_POST
def remove_day_apart(request: DeskRequest, pk: int) -> HttpResponse:
    """Take back days apart: other hours count again."""
    with transaction.atomic():
        row = get_object_or_404(DayApart, pk=pk)
        said = str(row)
        row.delete()
        week_changed()
    messages.success(request, f"Removed: {said}. The hours of other weeks count again.")
    return redirect("studio:week")
