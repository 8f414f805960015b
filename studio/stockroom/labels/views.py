"""Pages to choose lots and print their labels."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from studio.house.http import DeskRequest, pdf_response
from studio.house.models import House
from studio.house.paper import render_pdf
from studio.kit.access import at_the_desk
from studio.stockroom.labels.forms import LabelForm
from studio.stockroom.labels.sizes import SIZES, sheets
from studio.stockroom.models import Lot

MOST_LABELS = 200


def _asked_lots(request: DeskRequest) -> list[Lot]:
    wanted = [int(pk) for pk in request.GET.getlist("lot") if pk.isdecimal()][:MOST_LABELS]
    rows = {lot.pk: lot for lot in Lot.objects.filter(pk__in=wanted).select_related("material", "level")}
    return [rows[pk] for pk in wanted if pk in rows]


@at_the_desk
@require_safe
def labels(request: DeskRequest) -> HttpResponse:
    """Choose lots and a label size."""
    lots = Lot.objects.filter(level__on_hand__gt=0).select_related("material", "level")
    chosen = {lot.pk for lot in _asked_lots(request)}
    return render(request, "stockroom/labels/labels.html", {
        "form": LabelForm(initial={"size": request.GET.get("size", "a4-21"), "start": 1}), "lots": lots,
        "chosen": chosen,
    })


@at_the_desk
@require_safe
def labels_pdf(request: DeskRequest) -> HttpResponse:
    """Lots' labels: material, lot, dates opened and to discard by, hazards, and the code that opens the lot's page."""
    form, lots = LabelForm(request.GET), _asked_lots(request)
    if not form.is_valid() or not lots:
        return redirect("stockroom:labels")
    size = SIZES[form.cleaned_data["size"]]
    made = [
        {
            "lot": lot, "address": settings.PUBLIC_URL + reverse("stockroom:lot", args=[lot.pk]),
            "hazards": lot.material.label,
        }
        for lot in lots
    ]
    pdf = render_pdf("stockroom/labels/paper_labels.html", {
        "size": size, "pages": sheets(made, size, form.cleaned_data["start"] or 1), "house": House.objects.first(),
    })
    return pdf_response(pdf, "labels.pdf")
