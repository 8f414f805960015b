"""Pages to start from: pick a shelf from the trade's list, and class in one sitting what nobody has classed."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from studio.house.http import REFUSED, DeskRequest
from studio.kit.access import allowed
from studio.kit.asking import among
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.hazards.identity import WET_KINDS
from studio.stockroom.hazards.trade import trade_sources
from studio.stockroom.listed import standing_for
from studio.stockroom.materials import save_material, storage_conflicts, touched_by
from studio.stockroom.models import Material
from studio.stockroom.starting.forms import ClassingForm
from studio.stockroom.starting.starting_shelf import offered, pick_starting_shelf


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def starting_shelf(request: DeskRequest) -> HttpResponse:
    """The trade's materials to tick: one press enters them, complete; what exists already is left as it is."""
    keys = set(request.POST.getlist("material"))
    if request.method == "POST" and keys:
        picked = pick_starting_shelf(keys)
        for sentence in picked.said:
            messages.warning(request, sentence)
        if picked.added:
            count = len(picked.added)
            messages.success(request, f"{count} material{'' if count == 1 else 's'} entered: compare each with its "
                                      "supplier's data sheet, which comes first.")
        return redirect("stockroom:shelf")
    standing = list(Material.objects.all())
    rows = [(material, sorted(REACTS_AS[code] for code in material.classes), standing_for(material, standing))
            for material in offered()]
    refused = request.method == "POST"
    return render(request, "stockroom/starting/starting_shelf.html", {
        "rows": rows, "sources": trade_sources().items(), "nothing_ticked": refused,
    }, status=REFUSED if refused else 200)


def unclassed_materials() -> list[Material]:
    """Return every material that is used wet and of which nobody knows how it reacts."""
    return [row for row in Material.objects.filter(kind__in=WET_KINDS) if row.is_unclassed]


def without_hazards() -> list[Material]:
    """Return every material whose classes are known, and whose hazard statements nobody entered."""
    rows = Material.objects.filter(kind__in=WET_KINDS)
    return [row for row in rows if row.hazards_not_entered and not row.is_unclassed]


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def unclassed(request: DeskRequest) -> HttpResponse:
    """What nobody has classed, worked through in one sitting: each that was filled in is saved, the others stay."""
    if request.method != "POST":
        forms = [ClassingForm(instance=material) for material in unclassed_materials()]
        return render(request, "stockroom/starting/unclassed.html", {
            "forms": forms, "without_hazards": without_hazards(),
        })
    refused, classed = [], 0
    for form in _filled_in(request):
        if _saved(request, form):
            classed += 1
        else:
            refused.append(form)
    if classed:
        messages.success(request, f"{classed} material{'' if classed == 1 else 's'} saved.")
    if not refused:
        return redirect("stockroom:unclassed")
    filled = {form.instance.pk for form in refused}
    others = [ClassingForm(instance=material) for material in unclassed_materials() if material.pk not in filled]
    return render(request, "stockroom/starting/unclassed.html", {
        "forms": [*refused, *others], "without_hazards": without_hazards(),
    }, status=REFUSED)


def _filled_in(request: DeskRequest) -> list[ClassingForm]:
    """Return the forms that came with the page and were filled in; of a material that somebody classed meanwhile too,
    so that what was typed is not lost. A material entered since was not on the page, so nothing was said of it.
    """
    codes = [name.removesuffix("-saves") for name in request.POST if name.endswith("-saves")]
    waiting = {material.pk for material in unclassed_materials()}
    found = []
    for material in among(Material.objects.order_by("name"), "code", codes):
        form = ClassingForm(request.POST, instance=material)
        changed = set(form.changed_data) - {"saves"}
        if material.pk not in waiting:  # what stands there was not taken away by whoever left it empty
            changed = {name for name in changed if request.POST.get(form.add_prefix(name))}
        if changed:
            found.append(form)
    return found


def _saved(request: DeskRequest, form: ClassingForm) -> bool:
    if not form.is_valid():
        return False
    try:
        saved = save_material(form.instance, form.cleaned_data["saves"], request.user)
    except DaybookError as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        return False
    for sentence in [*(conflict.sentence for conflict in storage_conflicts(saved)), *touched_by(saved)]:
        messages.warning(request, sentence)
    return True
