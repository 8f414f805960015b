"""Addresses of lots made here that turned out to be ammoniacal silver: made safe and discarded, in one form."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from recipes.clocks import standing
from recipes.making_safe_form import LotSafeForm
from recipes.models import MakingSafe
from recipes.solutions.holding import make_lot_safe
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest
from studio.house.models import House
from studio.kit.access import at_the_desk
from studio.kit.errors import DaybookError
from studio.stockroom.models import Lot


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def lot_made_safe(request: DeskRequest, pk: int) -> HttpResponse:
    """Record that what is left of a lot was made safe, and discard it."""
    lot = get_object_or_404(Lot.objects.select_related("material", "level").filter(silver_clocks__isnull=False)
                            .distinct(), pk=pk)
    house = House.objects.first() or House()
    form = LotSafeForm(request.POST or None, house=house)
    if request.method == "POST":
        key = sent_key(request)
        if form.is_valid():
            try:
                make_lot_safe(key=key, lot=lot, by=request.user, **form.values())
            except DaybookError as refusal:
                form.refuse(refusal)
            else:
                messages.success(request, f"{lot} was made safe, and what was left of it is discarded.")
                return redirect("stockroom:lot", pk)
    return render(request, "recipes/solutions/lot_made_safe.html", {
        "lot": lot, "form": form, "standing": standing(lot.silver_clocks.filter(made_safe=None), house),
        "makings_safe": MakingSafe.objects.filter(clocks__lot=lot).distinct().select_related("by").prefetch_related(
            "clocks"),
    }, status=REFUSED if form.errors else 200)
