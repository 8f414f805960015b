"""Addresses of what is done to a lot: open, hold, release, discard, return."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from studio.house.clock import today
from studio.house.form_keys import sent_key
from studio.house.http import DeskRequest, carry_new_saves, sent_saves
from studio.kit.access import allowed, at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile
from studio.kit.roles import May
from studio.stockroom.forms import AmountOfForm
from studio.stockroom.lots.keeping import discard, hold_lot, open_lot, release_lot, return_to_supplier
from studio.stockroom.lots.views import show_lot
from studio.stockroom.models import Lot, LotEvent, Posting


def _act(request: DeskRequest, pk: int, act: Callable[[Lot], LotEvent | Posting]) -> HttpResponse:
    """Do one thing to a lot, or show the lot with why not and what was typed."""
    lot = get_object_or_404(Lot.objects.select_related("material", "level"), pk=pk)
    try:
        act(lot)
    except ChangedMeanwhile as refusal:
        carry_new_saves(request, refusal)
        return show_lot(request, pk, str(refusal))
    except DaybookError as refusal:
        return show_lot(request, pk, f"{refusal} Nothing was changed.")
    return redirect("stockroom:lot", pk)


def _amount(request: DeskRequest, lot: Lot) -> Decimal:
    form = AmountOfForm(request.POST, material=lot.material)
    if not form.is_valid():
        raise DaybookError(" ".join(map(str, form.errors.get("amount", ["Say how much."]))), "amount")
    return Decimal(form.cleaned_data["amount"])


@at_the_desk
@require_POST
def open_today(request: DeskRequest, pk: int) -> HttpResponse:
    key, saves = sent_key(request), sent_saves(request)
    return _act(request, pk, lambda lot: open_lot(key=key, lot=lot, by=request.user, on=today(), saves=saves))


@at_the_desk
@require_POST
def hold(request: DeskRequest, pk: int) -> HttpResponse:
    key, why, saves = sent_key(request), request.POST.get("why", ""), sent_saves(request)
    return _act(request, pk, lambda lot: hold_lot(key=key, lot=lot, by=request.user, why=why, saves=saves))


@at_the_desk
@require_POST
def release(request: DeskRequest, pk: int) -> HttpResponse:
    key, why, saves = sent_key(request), request.POST.get("why", ""), sent_saves(request)
    return _act(request, pk, lambda lot: release_lot(key=key, lot=lot, by=request.user, why=why, saves=saves))


@at_the_desk
@require_POST
def discard_some(request: DeskRequest, pk: int) -> HttpResponse:
    key, why = sent_key(request), request.POST.get("why", "")
    return _act(request, pk, lambda lot: discard(
        key=key, lot=lot, by=request.user, amount=_amount(request, lot), why=why))


@allowed(May.ORDERS)
@require_POST
def return_some(request: DeskRequest, pk: int) -> HttpResponse:
    key, why = sent_key(request), request.POST.get("why", "")
    return _act(request, pk, lambda lot: return_to_supplier(
        key=key, lot=lot, by=request.user, amount=_amount(request, lot), why=why))
