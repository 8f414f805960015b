"""The record of changes, for the owner to read and filter: nobody edits it."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

from django import forms
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from studio.house.clock import house_zone
from studio.house.http import REFUSED, DeskRequest
from studio.house.lists import paged, words_of
from studio.house.models import ChangeRecord, Person
from studio.house.typed_fields import DayField
from studio.kit.access import allowed
from studio.kit.roles import May

A_PROGRAM = "program"
#: of a day to look back to: it stands in the field, so that the filter keeps one line
EXAMPLE = "yesterday, 1 Feb"


class ChangesFilter(forms.Form):
    """What of the record is asked for: of what kind, by whom, between which days, with which words."""

    kind = forms.ChoiceField(required=False, label="About")
    by = forms.ChoiceField(required=False, label="By")
    since = DayField(required=False, towards="back", label="From", help_text="")
    until = DayField(required=False, towards="back", label="To", help_text="")
    q = forms.CharField(required=False, max_length=100, label="Words")

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        kinds: Any = self.fields["kind"]
        people: Any = self.fields["by"]
        for name in ("since", "until"):
            self.fields[name].widget.attrs["placeholder"] = EXAMPLE
        kinds.choices = [("", "everything"), *ChangeRecord.Kind.choices]
        people.choices = [("", "anybody"), (A_PROGRAM, "nobody logged in"),
                          *((str(person.pk), person.name) for person in Person.objects.order_by("username"))]

    def wanted(self) -> Q:
        """Return the condition of a valid filter: whole days, in the studio's zone."""
        asked = self.cleaned_data
        wanted = Q()
        if asked["kind"]:
            wanted &= Q(kind=asked["kind"])
        if asked["by"] == A_PROGRAM:
            wanted &= Q(by=None)
        elif asked["by"]:
            wanted &= Q(by=asked["by"])
        if asked["since"]:
            wanted &= Q(at__gte=datetime.combine(asked["since"], time.min, house_zone()))
        if asked["until"]:
            wanted &= Q(at__lt=datetime.combine(asked["until"] + timedelta(days=1), time.min, house_zone()))
        for word in words_of(asked["q"]):
            wanted &= Q(subject__icontains=word) | Q(what__icontains=word)
        return wanted


@allowed(May.STUDIO)
@require_safe
def changes_page(request: DeskRequest) -> HttpResponse:
    """Who changed what, the newest first; what cannot be read of a filter is said beside its field."""
    form = ChangesFilter(request.GET if any(name in request.GET for name in ChangesFilter.base_fields) else None)
    rows = ChangeRecord.objects.select_related("by")
    refused = form.is_bound and not form.is_valid()
    if form.is_bound:
        rows = rows.none() if refused else rows.filter(form.wanted())
    return render(request, "house/changes.html", {"form": form, "listing": paged(request, rows)},
                  status=REFUSED if refused else 200)
