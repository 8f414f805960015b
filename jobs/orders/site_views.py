"""Pages of a line's site record and a job's photographs: the site, the dry lay, the delivery."""

from __future__ import annotations

from fractions import Fraction
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from jobs.models import Job, JobPhotograph, SiteRecord
from jobs.orders.saving import save_site_record, take_opening
from jobs.orders.site import Opening
from recipes.photographs import MEDIA_TYPE, copies_of
from studio.exact import LENGTH_DECIMALS
from studio.house.clock import now, today
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.house.kept_files import keep
from studio.house.lists import paged
from studio.house.models import House
from studio.house.typed_fields import DayField
from studio.kit.access import allowed, at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile
from studio.kit.meant_so import AsksOnce
from studio.kit.pane_sizes import length_question
from studio.kit.roles import May
from studio.kit.rounding import as_decimal
from studio.kit.units import amount_in, show_length, size_unit

_WIDTHS = ("width_low_mm", "width_middle_mm", "width_high_mm")
_HEIGHTS = ("height_left_mm", "height_middle_mm", "height_right_mm")
_DIAGONALS = ("diagonal_rising_mm", "diagonal_falling_mm")


class SiteForm(AsksOnce):
    """An opening as measured: lengths as typed, in any unit; one that few panes have is asked about."""

    width_low_mm = forms.CharField(max_length=30, label="Width, low")
    width_middle_mm = forms.CharField(max_length=30, label="Width, middle")
    width_high_mm = forms.CharField(max_length=30, label="Width, high")
    height_left_mm = forms.CharField(max_length=30, label="Height, left")
    height_middle_mm = forms.CharField(max_length=30, label="Height, middle")
    height_right_mm = forms.CharField(max_length=30, label="Height, right")
    diagonal_rising_mm = forms.CharField(max_length=30, required=False, label="Diagonal, lower left to upper right")
    diagonal_falling_mm = forms.CharField(max_length=30, required=False, label="Diagonal, upper left to lower right")
    access = forms.CharField(max_length=400, required=False, label="The way in",
                             help_text="Stairs, doors, lift, parking, the tightest turn.")
    measured_by = forms.CharField(max_length=80)
    measured_on = DayField(towards="back")
    note = forms.CharField(max_length=400, required=False)

    LENGTHS = (*_WIDTHS, *_HEIGHTS, *_DIAGONALS)

    def __init__(self, data: Any = None, *, default_unit: str, **more: Any) -> None:
        super().__init__(data, **more)
        self.default_unit = default_unit

    @property
    def measured_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.LENGTHS]

    @property
    def other_fields(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in self.LENGTHS]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        for name in self.LENGTHS:
            typed = values.get(name)
            if not typed:
                values[name] = None
                continue
            try:
                length = amount_in(typed, "length", self.default_unit)
                question = length_question(length)
            except DaybookError as refusal:
                self.add_error(name, str(refusal))
                continue
            if not question or name not in self.changed_data or self.ask(name, question):
                values[name] = as_decimal(length, LENGTH_DECIMALS)
        return values


def opening_of(record: SiteRecord) -> Opening:
    def mm(name: str) -> Fraction | None:
        value = getattr(record, name)
        return None if value is None else Fraction(value)

    widths, heights = ([mm(name) or Fraction(0) for name in names] for names in (_WIDTHS, _HEIGHTS))
    return Opening(
        widths=(widths[0], widths[1], widths[2]), heights=(heights[0], heights[1], heights[2]),
        rising=mm("diagonal_rising_mm"), falling=mm("diagonal_falling_mm"),
    )


def _job(number: int) -> Job:
    return get_object_or_404(Job.objects.select_related("order__customer"), number=number)


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def site_record(request: DeskRequest, number: int, line: int) -> HttpResponse:
    """The site record of one line: what was measured, saved over what was there when it was opened."""
    job = _job(number)
    row = get_object_or_404(job.order.lines, number=line)
    record = SiteRecord.objects.filter(order=job.order, line_number=line).first()
    preference = House.unit_preference()
    default_unit = size_unit(preference)
    initial: dict[str, Any] = {"measured_on": today(), "measured_by": request.user.name}
    if record is not None:
        initial = {name: getattr(record, name) for name in ("access", "measured_by", "measured_on", "note")}
        initial |= {name: show_length(Fraction(getattr(record, name)), preference) for name in SiteForm.LENGTHS
                    if getattr(record, name) is not None}
    form = SiteForm(request.POST if request.method == "POST" else None, default_unit=default_unit, initial=initial)
    if form.is_bound and form.is_valid():
        try:
            save_site_record(job.order, line, sent_saves(request), form.cleaned_data)
            messages.success(request, "The site record is saved.")
            return redirect("jobs:site", number, line)
        except ChangedMeanwhile as refusal:
            carry_new_saves(request, refusal)
            form.add_error(None, str(refusal))
    return render(request, "jobs/orders/site.html", {
        "job": job, "line": row, "form": form, "record": record, "opening": opening_of(record) if record else None,
    }, status=REFUSED if form.is_bound else 200)


@allowed(May.ORDERS)
@require_POST
def take_size(request: DeskRequest, number: int, line: int) -> HttpResponse:
    """Use the narrowest width and the lowest height as the line's opening; the joint stays as it is."""
    job = _job(number)
    record = get_object_or_404(SiteRecord, order=job.order, line_number=line)
    try:
        text = take_opening(order=job.order, number=line, opening=opening_of(record))
    except DaybookError as refusal:
        messages.error(request, str(refusal))
        return redirect("jobs:site", number, line)
    messages.success(request, f"Line {line} is now for an opening of {text}.")
    return redirect("jobs:order", number)


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def photographs(request: DeskRequest, number: int) -> HttpResponse:
    """A job's photographs, and adding one; what is saved is made anew from its pixels, without metadata."""
    job, refusal = _job(number), ""
    if request.method == "POST":
        key = sent_key(request)
        sent, kind = request.FILES.get("photograph"), request.POST.get("kind", "")
        if sent is None or kind not in JobPhotograph.Kind.values:
            refusal = "Choose or take a photograph first, and say what it shows."
        else:
            try:
                _add(request, key, job, kind, sent.read())
                return redirect("jobs:photographs", number)
            except DaybookError as refused:
                refusal = str(refused)
    found, shows = job.photographs.select_related("picture", "by"), request.GET.get("shows", "")
    if shows in JobPhotograph.Kind.values:
        found = found.filter(kind=shows)
    return render(request, "jobs/orders/photographs.html", {
        "job": job, "listing": paged(request, found), "shows": shows,
        "refusal": refusal, "kinds": JobPhotograph.Kind.choices,
    }, status=REFUSED if refusal else 200)


def _add(request: DeskRequest, key: UUID, job: Job, kind: str, content: bytes) -> None:
    if JobPhotograph.objects.filter(key=key).exists():
        return
    copies, _ = copies_of(content)
    picture = keep(copies.print_copy, name=f"job-{job.number}-{kind.replace(' ', '-')}.jpg", media_type=MEDIA_TYPE,
                   owner_only=False)
    JobPhotograph.objects.create(
        key=key, job=job, kind=kind, caption=request.POST.get("caption", "")[:120], picture=picture, at=now(),
        by=request.user,
    )
