"""The dated rates: today's are edited, a later day begins new ones, older ones stay readable underneath."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.house.changes import note_change
from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.house.models import ChangeRecord, EdgeType, HouseRates
from studio.house.rates_forms import EdgeRows, RatesForm, edge_rows
from studio.house.rates_words import NAMES, differing_rates, edges_told, rates_told
from studio.house.saving import PRICES_EXIST
from studio.house.typed_fields import day_reader
from studio.kit.access import allowed
from studio.kit.locks import AGAIN, ChangedMeanwhile, check_opened
from studio.kit.roles import May
from studio.kit.typed_dates import NoDate, show_day_in_full

FIXED = "The currency is fixed once a price exists in it."
TWO_AT_ONCE = "Somebody else saved rates from that day just now: open this page again to see them."


@allowed(May.STUDIO)
@require_http_methods(["GET", "HEAD", "POST"])
def rates_page(request: DeskRequest) -> HttpResponse:
    """The rates from a day on as a form, and every row so far in words."""
    rows = list(HouseRates.objects.prefetch_related("edge_types"))
    shown = _shown(rows, request.POST.get("shown") or request.GET.get("from", ""))
    of_day = _of_typed_day(request.POST.get("effective_from", ""))
    carried = shown.effective_from.isoformat() if shown else ""
    fixed = any(exist() for exist in PRICES_EXIST)
    initial: dict[str, Any] = {"effective_from": today()}
    if shown is not None:
        initial |= {name: getattr(shown, name) for name in NAMES}
        if shown.effective_from > today():
            initial["effective_from"] = shown.effective_from
    form = RatesForm(request.POST or None, instance=of_day, initial=initial, fixed=fixed)
    edges = edge_rows(request.POST or None, list(shown.edge_types.all()) if shown else [])
    if form.is_bound and form.is_valid() & edges.is_valid():
        try:
            _save(request, form, edges, of_day)
            day = show_day_in_full(form.instance.effective_from)
            messages.success(request, f"Saved: these rates count from {day}.")
            return redirect("studio:rates")
        except ChangedMeanwhile as refusal:
            carry_new_saves(request, refusal)
            carried = form.instance.effective_from.isoformat()
            form.add_error(None, str(refusal))
        except IntegrityError as refused:
            form.add_error(*(("currency", FIXED) if FIXED in str(refused) else (None, TWO_AT_ONCE)))
    elif form.is_bound:
        carried = request.POST.get("opened_day", carried)
    told = rates_told(rows)
    return render(request, "house/rates.html", {
        "form": form, "edges": edges, "shown": shown, "today": today(), "fixed": fixed, "opened_day": carried,
        "ahead": [each for each in told if each.row.effective_from > today()],
        "so_far": [each for each in told if each.row.effective_from <= today()],
        "in_force": next((row for row in rows if row.effective_from <= today()), None),
    }, status=REFUSED if form.is_bound else 200)


def _shown(rows: list[HouseRates], asked: str) -> HouseRates | None:
    """Return the row that the form starts from: the one asked for, else the one in force, else the newest."""
    in_force = next((row for row in rows if row.effective_from <= today()), rows[0] if rows else None)
    return next((row for row in rows if asked and row.effective_from.isoformat() == asked), in_force)


def _of_typed_day(typed: str) -> HouseRates | None:
    """Return the row of the day that was typed, however it was written."""
    try:
        return HouseRates.objects.filter(effective_from=day_reader("near").read(typed)).first()
    except NoDate:
        return None


@transaction.atomic
def _save(request: DeskRequest, form: RatesForm, edges: EdgeRows, of_day: HouseRates | None) -> None:
    """Save the rates with their edges. Raises ChangedMeanwhile, and IntegrityError where the database refuses."""
    if of_day is not None:
        row = HouseRates.objects.select_for_update().get(pk=of_day.pk)
        reads = differing_rates(row, form.cleaned_data)
        if request.POST.get("opened_day") != row.effective_from.isoformat():
            raise ChangedMeanwhile(
                f"There are rates from {show_day_in_full(row.effective_from)} already, with {reads}. Nothing was "
                f"saved: compare them with what you typed. {AGAIN}", row.saves,
            )
        check_opened(row, sent_saves(request), reads)
        form.instance.saves = row.saves
    earlier = HouseRates.objects.filter(effective_from__lt=form.cleaned_data["effective_from"]).first()
    rates = form.save()
    from_row = rates if of_day is not None else earlier
    before = edges_told(from_row) if from_row is not None else ""
    rates.edge_types.all().delete()
    EdgeType.objects.bulk_create([EdgeType(rates=rates, **edge) for edge in edges.edges])
    if before and before != (after := edges_told(rates)):
        note_change(ChangeRecord.Kind.RATES, str(rates), f"Edges: {before} → {after}")


@allowed(May.STUDIO)
@require_POST
def remove_rates(request: DeskRequest, pk: int) -> HttpResponse:
    """Remove rates that do not count yet; those of today and before stay."""
    row = get_object_or_404(HouseRates, pk=pk)
    day = show_day_in_full(row.effective_from)
    if row.effective_from <= today():
        messages.error(request, f"The rates from {day} count already: they stay. Change today's instead.")
    else:
        row.delete()
        messages.success(request, f"The rates from {day} are removed: they had not begun to count.")
    return redirect("studio:rates")
