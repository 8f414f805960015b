"""Pages to choose lots and print their labels."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from studio.house.http import REFUSED, DeskRequest, pdf_response
from studio.house.models import House
from studio.house.paper import render_pdf
from studio.kit.access import at_the_desk
from studio.kit.typed_numbers import is_whole, whole_number
from studio.stockroom.labels.fitting import fits, sizes_for, why_too_small
from studio.stockroom.labels.forms import LabelForm
from studio.stockroom.labels.sizes import SIZES, sheets
from studio.stockroom.labels.wording import lot_wording, package_ml
from studio.stockroom.made_here import what_is_in
from studio.stockroom.models import Lot

MOST_LABELS = 200


def _asked_lots(request: DeskRequest) -> list[Lot]:
    wanted = [whole_number(pk) for pk in request.GET.getlist("lot") if is_whole(pk)][:MOST_LABELS]
    rows = {lot.pk: lot for lot in Lot.objects.filter(pk__in=wanted).select_related("material", "level")}
    return [rows[pk] for pk in wanted if pk in rows]


@at_the_desk
@require_safe
def labels(request: DeskRequest) -> HttpResponse:
    """Choose lots and a label size."""
    form = LabelForm(initial={"size": request.GET.get("size", next(iter(SIZES))), "start": 1})
    return _labels_page(request, form, _asked_lots(request))


def _labels_page(request: DeskRequest, form: LabelForm, chosen: list[Lot], status: int = 200) -> HttpResponse:
    lots = Lot.objects.filter(level__on_hand__gt=0).select_related("material", "level")
    return render(request, "stockroom/labels/labels.html", {
        "form": form, "lots": lots, "chosen": {lot.pk for lot in chosen},
    }, status=status)


@at_the_desk
@require_safe
def labels_pdf(request: DeskRequest) -> HttpResponse:
    """Lots' labels: what it is, lot, dates, hazards, and the code that opens the lot's page.

    A label too small for what it must say is refused, with the sizes that would do.
    """
    form, lots = LabelForm(request.GET), _asked_lots(request)
    if not form.is_valid() or not lots:
        return redirect("stockroom:labels")
    size, own_label = SIZES[form.cleaned_data["size"]], form.cleaned_data["suppliers_label"]
    inside = what_is_in(lots)
    wanted = [
        (lot, lot_wording(lot, suppliers_label_stays=own_label, made_of=inside.get(lot.pk)), package_ml(lot))
        for lot in lots
    ]
    made: list[dict[str, object]] = []
    too_small: list[str] = []
    for lot, wording, capacity in wanted:
        if setting := fits(wording, size, capacity):
            to = settings.PUBLIC_URL + reverse("stockroom:lot", args=[lot.pk])
            made.append({"wording": wording, "setting": setting, "to": to, "name": f"label-{len(made)}"})
        else:
            too_small.append(wording.name)
    if too_small:
        each = {
            (lot.pk if lot.made_here else -lot.material_id, capacity): (wording, capacity)
            for lot, wording, capacity in wanted
        }
        larger = sizes_for(each.values(), SIZES.values())
        form.add_error(None, why_too_small(list(dict.fromkeys(too_small)), size, larger))
        if not own_label:
            form.add_error(None, "Where the supplier's own label stays on, tick that: a small label then points to it.")
        return _labels_page(request, form, lots, REFUSED)
    pdf = render_pdf("stockroom/labels/paper_labels.html", {
        "size": size, "labels": made, "pages": sheets(made, size, form.cleaned_data["start"] or 1),
        "house": House.objects.first(),
    })
    return pdf_response(pdf, "labels.pdf")
