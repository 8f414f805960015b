"""Kept offcuts: listed, added and discarded."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.exact import LENGTH_DECIMALS
from studio.house.http import REFUSED, DeskRequest
from studio.house.lists import ordered
from studio.house.models import House
from studio.kit.access import at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal
from studio.kit.units import size_unit
from studio.stockroom.models import Offcut
from studio.stockroom.offcuts.forms import OffcutForm
from studio.stockroom.offcuts.kept import discard_offcut, keep_offcut

#: the heads of the list; by its number where none is asked
SORTS = {"number": ("number",), "glass": ("material__name", "number"), "size": ("width_mm", "height_mm", "number"),
         "where": ("place", "number"), "kept": ("kept_at", "number")}


def _page(request: DeskRequest, form: OffcutForm, status: int = 200, refusal: str = "") -> HttpResponse:
    rows = Offcut.objects.select_related("material", "kept_by", "reservation").filter(gone_at=None)
    return render(request, "stockroom/offcuts/offcuts.html", {
        "listing": ordered(request, rows, SORTS), "form": form, "refusal": refusal,
    }, status=status)


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def offcuts(request: DeskRequest) -> HttpResponse:
    """Every kept offcut, and a form to add one."""
    default_unit = size_unit(House.unit_preference())
    if request.method != "POST":
        return _page(request, OffcutForm(default_unit=default_unit))
    form = OffcutForm(request.POST, default_unit=default_unit)
    if not form.is_valid():
        return _page(request, form, REFUSED)
    size = form.cleaned_data["size"]
    try:
        row = keep_offcut(
            key=form.cleaned_data["key"], by=request.user, material=form.cleaned_data["material"],
            width_mm=as_decimal(size.width_mm, LENGTH_DECIMALS), height_mm=as_decimal(size.height_mm, LENGTH_DECIMALS),
            place=form.cleaned_data["place"],
        )
    except (DaybookError, ValidationError) as refusal:
        form.add_error(None, str(refusal))
        return _page(request, form, REFUSED)
    messages.success(request, f"{row} is kept: mark its number on the glass.")
    return redirect("stockroom:offcuts")


@at_the_desk
@require_POST
def offcut_discarded(request: DeskRequest, number: int) -> HttpResponse:
    row = get_object_or_404(Offcut, number=number)
    try:
        discard_offcut(offcut=row, by=request.user, why=request.POST.get("why", ""))
    except DaybookError as refusal:
        return _page(request, OffcutForm(), REFUSED, str(refusal))
    messages.success(request, f"{row} is discarded.")
    return redirect("stockroom:offcuts")
