"""Pages of the stockroom: the shelf, a material, a lot with its history. Costs are the owner's."""

from __future__ import annotations

from decimal import Decimal

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.access import at_the_desk, owner_only
from studio.clock import now, today
from studio.errors import DaybookError
from studio.http import REFUSED, DeskRequest
from studio.inventory.forms import MaterialForm, ReceiveForm
from studio.inventory.hazards import AGENT_CLASSES, HAZARD_STATEMENTS, PICTOGRAMS
from studio.inventory.ledger import receive
from studio.inventory.materials import beside, save_material
from studio.inventory.models import Lot, Material, ReservedAmount, StockMovement
from studio.inventory.outlook import days_of_cover, endangered, level_chart, used_a_day, worth
from studio.inventory.shelf import standings
from studio.inventory.storage import Stored, stored_together
from studio.kit.asking import fetched
from studio.models import House

SORTS = {
    "name": lambda one: one.material.name.lower(), "free": lambda one: one.free,
    "kind": lambda one: (one.material.kind, one.material.name.lower()),
}


@at_the_desk
@require_safe
def shelf(request: DeskRequest) -> HttpResponse:
    """The shelf at a glance: how every material stands."""
    sort = request.GET.get("sort", "name")
    rows = sorted(standings(today()), key=SORTS.get(sort, SORTS["name"]))
    pace, money = used_a_day(now()), worth(today()) if request.user.is_owner else {}
    found = stored_together([
        Stored(name=one.material.name, place=one.material.storage_place,
               agents=frozenset(one.material.agent_classes)) for one in rows if one.on_hand > 0
    ])
    return render(request, "inventory/shelf.html", {
        "rows": [(one, days_of_cover(one.free, pace.get(one.material.pk)), money.get(one.material.pk)) for one in rows],
        "sort": sort, "value": sum(money.values(), Decimal(0)), "endangered": endangered(today()),
        "beside": [one for one in found if one.stops], "beside_more": sum(not one.stops for one in found),
    })


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def new_material(request: DeskRequest) -> HttpResponse:
    return _write_material(request, None)


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def edit_material(request: DeskRequest, code: str) -> HttpResponse:
    """Change a material; whatever was made of it is checked again."""
    return _write_material(request, get_object_or_404(Material, code=code))


def _write_material(request: DeskRequest, material: Material | None) -> HttpResponse:
    form = MaterialForm(request.POST or None, instance=material, preference=House.unit_preference())
    if form.is_valid():
        try:
            saved = save_material(form.instance, form.cleaned_data["version"])
        except DaybookError as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        else:
            for one in beside(saved):
                messages.warning(request, one.sentence)
            messages.success(request, f"{saved} is saved.")
            return redirect("inventory:material", saved.code)
    return render(request, "inventory/material_form.html", {"form": form, "material": material},
                  status=REFUSED if form.is_bound else 200)


@owner_only
@require_POST
def receive_lot(request: DeskRequest, code: str) -> HttpResponse:
    """Take a lot in, once for each form; a refusal keeps what was typed."""
    material = get_object_or_404(Material, code=code)
    form = ReceiveForm(request.POST, material=material)
    if not form.is_valid():
        return _material_page(request, material, form, REFUSED)
    values = form.cleaned_data
    try:
        lot = receive(
            key=values["key"], by=request.user, material=material, lot_number=values["lot_number"],
            quantity=values["amount"], landed_cost=values["landed_cost"], received_on=values["received_on"],
            supplier=values["supplier"], expires_on_given=values["expires_on"],
        )
    except ValidationError as refusal:
        for sentence in refusal.messages:
            form.add_error("lot_number", sentence)
        return _material_page(request, material, form, REFUSED)
    messages.success(request, f"{lot} is on the shelf.")
    return redirect("inventory:material", code)


@at_the_desk
@require_safe
def material_page(request: DeskRequest, code: str) -> HttpResponse:
    """A material: its lots in picking order, what is promised, its hazards; the owner can take a lot in."""
    material = get_object_or_404(Material, code=code)
    form = ReceiveForm(material=material, initial={"received_on": today()})
    return _material_page(request, material, form)


def _material_page(request: DeskRequest, material: Material, form: ReceiveForm, status: int = 200) -> HttpResponse:
    day = today()
    lots = sorted(
        material.lots.select_related("level", "material"),
        key=lambda lot: (lot.level.on_hand == 0, lot.expires_on is None, lot.expires_on or day, lot.received_on),
    )
    promised = list(ReservedAmount.objects.filter(material=material, reservation__released_at=None)
                    .select_related("reservation"))
    moved = StockMovement.objects.filter(lot__material=material).order_by("posting__at", "pk")
    chart = level_chart(((at.date(), quantity) for at, quantity in moved.values_list("posting__at", "quantity")), day,
                        material.reorder_point)
    return render(request, "inventory/material.html", {
        "material": material, "day": day, "chart": chart, "lots": [(lot, lot.has_expired(day)) for lot in lots],
        "promised": promised, "agents": [AGENT_CLASSES[one] for one in material.agent_classes],
        "statements": [(code, HAZARD_STATEMENTS[code]) for code in material.hazard_statements],
        "pictograms": [PICTOGRAMS[one] for one in material.pictograms],
        "form": form if request.user.is_owner else None,
    }, status=status)


@at_the_desk
@require_safe
def lot_page(request: DeskRequest, pk: int) -> HttpResponse:
    return show_lot(request, pk)


def show_lot(request: DeskRequest, pk: int, refusal: str = "") -> HttpResponse:
    """Show a lot and every movement that made it what it is, with the running level.

    refusal: why what was sent to it was refused; what was typed then stays in its form.
    """
    movements = StockMovement.objects.select_related(
        "posting__by", "posting__run__ticket__job", "posting__trial_use__trial", "reverses__posting"
    )
    rows = Lot.objects.select_related("material", "level").prefetch_related(Prefetch("movements", movements))
    lot = fetched([get_object_or_404(rows, pk=pk)], "events__by", "papers__file")[0]
    level, history = Decimal(0), []
    for movement in sorted(lot.movements.all(), key=lambda one: (one.posting.at, one.pk)):
        level += movement.quantity
        history.append((movement, level, -movement.quantity * movement.unit_cost))
    return render(request, "inventory/lot.html", {
        "lot": lot, "history": history, "expired": lot.has_expired(today()),
        "value": lot.level.on_hand * lot.unit_cost, "in_doubt": _in_doubt(lot),
        "refusal": refusal, "typed": request.POST,
    }, status=REFUSED if refusal else 200)


def _in_doubt(lot: Lot) -> list[str]:
    """Return the booked jobs that a held lot puts in doubt: those promised its material."""
    if lot.state != Lot.State.HELD:
        return []
    promised = ReservedAmount.objects.filter(material=lot.material, reservation__released_at=None)
    return list(promised.order_by("reservation_id").values_list("reservation__what_for", flat=True))
