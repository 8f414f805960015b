"""The stockroom's work: deliveries, what is done to a lot, counts, waste, labels, storage, tables."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Sum
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.access import at_the_desk, owner_only
from studio.clock import now, today
from studio.errors import DaybookError
from studio.http import REFUSED, DeskRequest, csv_response, pdf_response, sent_version
from studio.inventory.counting import differences, note_counts, post_count, start_count
from studio.inventory.hazards import AGENT_CLASSES, label_elements
from studio.inventory.labels import SIZES, sheets
from studio.inventory.materials import beside, standing
from studio.inventory.models import (
    CountSheet,
    Delivery,
    Lot,
    LotPaper,
    Material,
    Purchase,
    StockMovement,
    WasteContainer,
)
from studio.inventory.price_list import read_price_list, take_over
from studio.inventory.receiving import read_table, receive_delivery, table_rows
from studio.inventory.stock_forms import (
    ContainerForm,
    CountForm,
    DeliveryForm,
    HandOverForm,
    LabelForm,
    ReturnedForm,
    TableForm,
    WasteForm,
    typed_amount,
)
from studio.inventory.storage import stored_together
from studio.inventory.tables import as_csv
from studio.inventory.waste import contents, hand_over, put_in, silver_returned
from studio.kit.asking import fetched
from studio.models import House, HouseRates
from studio.paper import render_pdf
from studio.rounding import plain
from studio.stored_files import keep

MOST_LABELS = 200


# What is done to a lot -----------------------------------------------------------------------------------------------

def _lot(pk: int) -> Lot:
    return get_object_or_404(Lot.objects.select_related("material", "level"), pk=pk)


@owner_only
@require_POST
def lot_paper(request: DeskRequest, pk: int) -> HttpResponse:
    """Keep a safety data sheet, certificate or invoice with a lot."""
    lot, sent, kind = _lot(pk), request.FILES.get("paper"), request.POST.get("kind", "")
    if sent is None or kind not in LotPaper.Kind.values:
        messages.error(request, "Choose a file and say what it is.")
    elif (sent.size or 0) > 20_000_000 or sent.read(5) != b"%PDF-":
        messages.error(request, "Keep papers as PDF, at most 20 MB.")
    else:
        sent.seek(0)
        file = keep(sent.read(), name=f"{lot.material.code}-{kind}.pdf", media_type="application/pdf",
                    owner_only=kind == LotPaper.Kind.INVOICE)
        LotPaper.objects.create(lot=lot, kind=kind, file=file)
    return redirect("inventory:lot", pk)


# Deliveries ----------------------------------------------------------------------------------------------------------

@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def receive(request: DeskRequest) -> HttpResponse:
    """Take a delivery in: many lines, or one. What is wrong is listed; nothing is posted until all of it is right."""
    return _delivery(request, look=False)


@owner_only
@require_POST
def look_at_delivery(request: DeskRequest) -> HttpResponse:
    """Show what is understood of a delivery; nothing is posted."""
    return _delivery(request, look=True)


def _delivery(request: DeskRequest, *, look: bool) -> HttpResponse:
    rates = HouseRates.known_on(today())
    digits = rates.minor_digits if rates else 2
    form = DeliveryForm(request.POST or None, request.FILES or None, minor_digits=digits,
                        initial={"received_on": today(), **_came(request)})
    context: dict[str, Any] = {"form": form, "deliveries": fetched(Delivery.objects.all()[:10], "lots__material")}
    if form.is_valid():
        values = form.cleaned_data
        lines, wrong = read_table(values["table"])
        context |= {"lines": lines, "wrong": wrong, "table": values["table"]}
        apart = beside(*{line.material for line in lines})
        context["beside"] = apart
        deadly = any(one.stops for one in apart)
        if deadly:
            form.add_error(None, "What would be deadly together is not put in one place: give one another place.")
        if not wrong and not deadly and not look:
            try:
                delivery = receive_delivery(
                    key=values["key"], by=request.user, supplier=values["supplier"], received_on=values["received_on"],
                    lines=lines, carriage=values["carriage"], share_by=values["share_by"],
                    reference=values["reference"], minor_digits=digits, awaited=values["awaited"],
                )
            except DaybookError as refusal:
                form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
            else:
                for one in apart:
                    messages.warning(request, one.sentence)
                messages.success(request, f"{len(lines)} lots from {delivery.supplier} are on the shelf.")
                return redirect("inventory:shelf")
    refused = form.is_bound and (form.errors or context.get("wrong"))
    return render(request, "inventory/receive.html", context, status=REFUSED if refused else 200)


def _came(request: DeskRequest) -> dict[str, Any]:
    """Return what a link from the buying list brings along: who it was ordered from, and its line to complete."""
    asked = request.GET.get("awaited", "")
    row = asked.isdecimal() and Purchase.objects.filter(
        pk=int(asked[:9]), lot=None, called_off_because=""
    ).select_related("material").first()
    if not row:
        return {}
    line = f"{row.material}\t\t{plain(row.quantity)} {row.material.stock_unit}\t"
    return {"supplier": row.supplier, "awaited": [row.pk], "table": line}


@at_the_desk
@require_safe
def storage(request: DeskRequest) -> HttpResponse:
    """What stands where, and what must not stand together."""
    places: dict[str, list[Material]] = {}
    for material in Material.objects.filter(lots__level__on_hand__gt=0).distinct().order_by("storage_place", "name"):
        places.setdefault(material.storage_place or "no place said", []).append(material)
    return render(request, "inventory/storage.html", {
        "places": places, "found": stored_together(standing()), "agents": AGENT_CLASSES,
    })


# Counts --------------------------------------------------------------------------------------------------------------

@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def counts(request: DeskRequest) -> HttpResponse:
    """Count sheets, and a form for a new one."""
    places = sorted(set(Material.objects.exclude(storage_place="").values_list("storage_place", flat=True)))
    form = CountForm(request.POST or None, places=places, initial={"blind": True})
    if form.is_valid():
        values = form.cleaned_data
        try:
            sheet = start_count(key=values["key"], by=request.user, place=values["place"], blind=values["blind"])
            return redirect("inventory:count", sheet.pk)
        except DaybookError as refusal:
            form.add_error("place", str(refusal))
    return render(request, "inventory/counts.html", {
        "form": form, "sheets": CountSheet.objects.select_related("by")[:30],
    }, status=REFUSED if form.is_bound else 200)


def _sheet(pk: int) -> CountSheet:
    return get_object_or_404(CountSheet.objects.select_related("by", "posting"), pk=pk)


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def count(request: DeskRequest, pk: int) -> HttpResponse:
    """A count: amounts are entered and differences seen."""
    sheet = _sheet(pk)
    if request.GET.get("as") == "csv":
        return _count_csv(sheet)
    if request.method != "POST":
        return _count_page(request, sheet)
    return _entered(request, sheet, lambda: None)


@owner_only
@require_POST
def count_posted(request: DeskRequest, pk: int) -> HttpResponse:
    """Enter what is counted and post the differences."""
    sheet = _sheet(pk)

    def post() -> None:
        post_count(sheet, request.user)
        messages.success(request, "The count is posted.")

    return _entered(request, sheet, post)


def _entered(request: DeskRequest, sheet: CountSheet, then: Callable[[], None]) -> HttpResponse:
    """Keep what a count's form holds, then do what is next; or show what is wrong beside its line."""
    typed: dict[int, str] = {}
    wrong: dict[int, str] = {}
    read: dict[int, Decimal | None] = {}
    sent = _sent_counts(request)
    for line in sheet.lines.select_related("lot__material"):
        by_lot = sent.get((line.lot.material.name.casefold(), line.lot.lot_number))
        typed[line.pk] = (by_lot or request.POST.get(f"line-{line.pk}", "")).strip()[:30]
        try:
            read[line.pk] = _counted(typed[line.pk], line.lot.material)
        except DaybookError as unread:
            wrong[line.pk] = str(unread)
    try:
        note_counts(sheet, read)
        if not wrong:
            then()
            return redirect("inventory:count", sheet.pk)
    except DaybookError as refused:
        return _count_page(request, sheet, typed, wrong, str(refused))
    return _count_page(request, sheet, typed, wrong)


def _count_page(
    request: DeskRequest, sheet: CountSheet, typed: dict[int, str] | None = None, wrong: dict[int, str] | None = None,
    refusal: str = "",
) -> HttpResponse:
    lines, wrong = list(sheet.lines.select_related("lot__material", "lot__level")), wrong or {}
    kept = {line.pk: "" if line.counted is None else f"{plain(line.counted)} {line.lot.material.stock_unit}"
            for line in lines}
    found = differences(sheet)
    return render(request, "inventory/count.html", {
        "sheet": sheet, "lines": [(line, {**kept, **(typed or {})}[line.pk], wrong.get(line.pk, ""))
                                  for line in lines],
        "differences": found, "value": sum((one.value for one in found), Decimal(0)), "refusal": refusal,
        "waiting": sum(line.counted is None for line in lines),
        "moved": _moved_since(sheet),
    }, status=REFUSED if wrong or refusal else 200)


def _count_csv(sheet: CountSheet) -> HttpResponse:
    """The sheet as a table: fill in what was counted, and send it back in."""
    rows = ((line.lot.material.name, line.lot.lot_number, "" if sheet.blind and not sheet.posted_at
             else f"{plain(line.expected)} {line.lot.material.stock_unit}", "" if line.counted is None
             else f"{plain(line.counted)} {line.lot.material.stock_unit}")
            for line in sheet.lines.select_related("lot__material"))
    return csv_response(as_csv(("material", "lot", "expected", "counted"), rows), f"count-{sheet.pk}.csv")


def _sent_counts(request: DeskRequest) -> dict[tuple[str, str], str]:
    """Return what a sent table says was counted, by material and lot."""
    sent = request.FILES.get("table")
    if sent is None or (sent.size or 0) > 1_000_000:
        return {}
    rows = table_rows(sent.read().decode("utf-8-sig", "replace"))
    head = [cell.casefold() for cell in rows[0]] if rows else []
    if not {"material", "lot", "counted"} <= set(head):
        return {}
    named = [dict(zip(head, cells, strict=False)) for cells in rows[1:]]
    return {(row.get("material", "").casefold(), row.get("lot", "")): row.get("counted", "") for row in named}


def _counted(text: str, material: Material) -> Decimal | None:
    if not text:
        return None
    if text in ("0", "none"):
        return Decimal(0)
    try:
        return typed_amount(text, material)
    except ValidationError as refused:
        raise DaybookError(" ".join(refused.messages)) from refused


def _moved_since(sheet: CountSheet) -> list[dict[str, Any]]:
    """Return what moved between the sheet's moment and now, by lot: the count is as of its own time."""
    moved = StockMovement.objects.filter(lot__counts__sheet=sheet, posting__at__gt=sheet.as_of)
    if sheet.posted_at is not None:
        moved = moved.exclude(posting=sheet.posting_id).filter(posting__at__lte=sheet.posted_at)
    rows = moved.order_by().values("lot__material__name", "lot__lot_number", "lot__material__stock_unit")
    return [dict(row) for row in rows.annotate(total=Sum("quantity"))]


@at_the_desk
@require_safe
def count_pdf(request: DeskRequest, pk: int) -> HttpResponse:
    """The sheet to print: lots of a place, with blanks, and expected amounts unless it is blind."""
    sheet, house = _sheet(pk), House.objects.first()
    pdf = render_pdf("inventory/documents/count_sheet.html", {
        "sheet": sheet, "lines": sheet.lines.select_related("lot__material"), "house": house,
        "paper_size": house.paper if house else "A4",
    })
    return pdf_response(pdf, f"count-{sheet.pk}.pdf")


# Waste ---------------------------------------------------------------------------------------------------------------

@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def containers(request: DeskRequest) -> HttpResponse:
    """Waste containers: open and handed over, what each holds, and a form for a new one."""
    form = ContainerForm(request.POST or None)
    if form.is_valid():
        row = WasteContainer.objects.create(**form.cleaned_data, opened_on=today())
        return redirect("inventory:container", row.pk)
    rows = WasteContainer.objects.prefetch_related("entries")
    house, on = House.objects.first(), today()
    return render(request, "inventory/containers.html", {
        "form": form, "house_row": house,
        "rows": [(row, contents(row.entries.all()), _days_open(row, on)) for row in rows],
        "most_days": house.waste_days_open if house else None,
    }, status=REFUSED if form.is_bound else 200)


def _days_open(row: WasteContainer, on: date) -> int:
    return ((row.handed_on or on) - row.opened_on).days


def _container_page(request: DeskRequest, row: WasteContainer, **more: Any) -> HttpResponse:
    entries = list(row.entries.select_related("by", "posting__run__ticket__job", "posting__trial_use__trial"))
    house = House.objects.first()
    refused = any(form.errors for form in more.values())
    return render(request, "inventory/container.html", {
        "row": row, "entries": entries, "contents": contents(entries), "agents": AGENT_CLASSES,
        "days": _days_open(row, today()), "most_days": house.waste_days_open if house else None,
        "waste_form": more.get("waste") or WasteForm(initial=_asked_waste(request)),
        "hand_form": more.get("hand") or HandOverForm(initial={"handed_on": today()}),
        "back_form": more.get("back") or ReturnedForm(initial={"returned_on": today()}), "house_row": house,
    }, status=REFUSED if refused else 200)


def _asked_waste(request: DeskRequest) -> dict[str, str]:
    """Return what a link to a container brings along: from where, and how much silver by reckoning."""
    return {name: request.GET[name][:120] for name in ("what", "silver", "posting") if request.GET.get(name)}


@at_the_desk
@require_safe
def container(request: DeskRequest, pk: int) -> HttpResponse:
    """One container: what went in, and forms for more, for handing over and for what came back."""
    return _container_page(request, get_object_or_404(WasteContainer, pk=pk))


def _container_act(
    request: DeskRequest, pk: int, name: str, form: forms.Form,
    write: Callable[[WasteContainer, dict[str, Any]], object],
) -> HttpResponse:
    """Write what a container's form holds, or show the container with the refusal in that form."""
    row = get_object_or_404(WasteContainer, pk=pk)
    if form.is_valid():
        try:
            write(row, form.cleaned_data)
            return redirect("inventory:container", pk)
        except DaybookError as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
    return _container_page(request, row, **{name: form})


@at_the_desk
@require_POST
def put_waste_in(request: DeskRequest, pk: int) -> HttpResponse:
    return _container_act(request, pk, "waste", WasteForm(request.POST), lambda row, typed: put_in(
        key=typed["key"], container=row, by=request.user, what=typed["what"], agents=typed["agents"],
        volume_ml=typed["volume"].value or Decimal(0), silver_g=typed["silver"] or Decimal(0),
        made_safe=typed["made_safe"], posting=typed["posting"]))


@owner_only
@require_POST
def hand_container_over(request: DeskRequest, pk: int) -> HttpResponse:
    return _container_act(request, pk, "hand", HandOverForm(request.POST), lambda row, typed: hand_over(
        row, on=typed["handed_on"], to=typed["handed_to"], note=typed["note"], version=sent_version(request)))


@owner_only
@require_POST
def silver_came_back(request: DeskRequest, pk: int) -> HttpResponse:
    return _container_act(request, pk, "back", ReturnedForm(request.POST), lambda row, typed: silver_returned(
        row, on=typed["returned_on"], grams=typed["grams"], version=sent_version(request)))


# Labels and tables ---------------------------------------------------------------------------------------------------

def _asked_lots(request: DeskRequest) -> list[Lot]:
    wanted = [int(pk) for pk in request.GET.getlist("lot") if pk.isdecimal()][:MOST_LABELS]
    rows = {lot.pk: lot for lot in Lot.objects.filter(pk__in=wanted).select_related("material", "level")}
    return [rows[pk] for pk in wanted if pk in rows]


@at_the_desk
@require_safe
def labels(request: DeskRequest) -> HttpResponse:
    """Choose lots and a label size by its millimetres."""
    lots = Lot.objects.filter(level__on_hand__gt=0).select_related("material", "level")
    chosen = {lot.pk for lot in _asked_lots(request)}
    return render(request, "inventory/labels.html", {
        "form": LabelForm(initial={"size": request.GET.get("size", "a4-21"), "start": 1}), "lots": lots,
        "chosen": chosen,
    })


@at_the_desk
@require_safe
def labels_pdf(request: DeskRequest) -> HttpResponse:
    """Lots' labels: what it is, lot, opened and discard-by, hazards, and the code that opens its page."""
    form, lots = LabelForm(request.GET), _asked_lots(request)
    if not form.is_valid() or not lots:
        return redirect("inventory:labels")
    size = SIZES[form.cleaned_data["size"]]
    made = [
        {
            "lot": lot, "address": settings.PUBLIC_URL + reverse("inventory:lot", args=[lot.pk]),
            "hazards": label_elements(lot.material.pictograms, [lot.material.signal_word],
                                      lot.material.hazard_statements),
        }
        for lot in lots
    ]
    pdf = render_pdf("inventory/documents/labels.html", {
        "size": size, "pages": sheets(made, size, form.cleaned_data["start"] or 1), "house": House.objects.first(),
    })
    return pdf_response(pdf, "labels.pdf")


@owner_only
@require_safe
def table(request: DeskRequest, name: str) -> HttpResponse:
    """A table of the stockroom as CSV: materials with prices, lots, movements."""
    tables: dict[str, Callable[[], str]] = {"materials": _materials_csv, "lots": _lots_csv, "movements": _movements_csv}
    if name not in tables:
        raise Http404
    return csv_response(tables[name](), f"{name}-{now():%Y-%m-%d}.csv")


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def prices(request: DeskRequest) -> HttpResponse:
    """A price list pasted or sent back in, and taken over when every row is right."""
    return _price_list(request, look=False)


@owner_only
@require_POST
def look_at_prices(request: DeskRequest) -> HttpResponse:
    """Show what a price list would change; nothing is changed."""
    return _price_list(request, look=True)


def _price_list(request: DeskRequest, *, look: bool) -> HttpResponse:
    form = TableForm(request.POST or None, request.FILES or None)
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        lines, wrong = read_price_list(form.cleaned_data["table"])
        changes = [one for one in lines if one.changes]
        context |= {"wrong": wrong, "table": form.cleaned_data["table"], "changes": changes}
        if not wrong and not look:
            messages.success(request, f"{take_over(lines)} materials changed.")
            return redirect("inventory:shelf")
    refused = form.is_bound and (form.errors or context.get("wrong"))
    return render(request, "inventory/prices.html", context, status=REFUSED if refused else 200)


def _materials_csv() -> str:
    return as_csv(
        ("material", "kind", "stock unit", "storage place", "reorder point", "pack size", "list price", "CAS number"),
        ((one.name, one.kind, one.stock_unit, one.storage_place, _figure(one.reorder_point), _figure(one.pack_size),
          _figure(one.list_price), one.cas_number) for one in Material.objects.all()),
    )


def _lots_csv() -> str:
    """Columns read back by a delivery: material, lot, amount, price, expires."""
    lots = Lot.objects.select_related("material", "level")
    return as_csv(
        ("material", "lot", "amount", "price", "expires", "supplier", "received", "on hand", "state"),
        ((lot.material.name, lot.lot_number, f"{plain(lot.quantity_received)} {lot.material.stock_unit}",
          plain(lot.landed_cost), lot.expires_on_given or "", lot.supplier, lot.received_on, plain(lot.level.on_hand),
          lot.state) for lot in lots),
    )


def _movements_csv() -> str:
    rows = StockMovement.objects.select_related("posting__by", "lot__material").order_by("pk")
    return as_csv(
        ("at", "material", "lot", "kind", "moved", "unit", "unit cost", "why", "by"),
        ((one.posting.at.isoformat(), one.lot.material.name, one.lot.lot_number, one.kind, plain(one.quantity),
          one.lot.material.stock_unit, plain(one.unit_cost), one.posting.why, one.posting.by.username)
         for one in rows),
    )


def _figure(value: Decimal | None) -> str:
    return "" if value is None else plain(value)
