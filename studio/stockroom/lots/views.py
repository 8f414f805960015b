"""A lot's page and its papers."""

from __future__ import annotations

from decimal import Decimal

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from studio.house.clock import today
from studio.house.file_contents import check_content
from studio.house.http import REFUSED, DeskRequest
from studio.house.kept_files import keep
from studio.kit.access import allowed, at_the_desk
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.stockroom.bars import TURNS, level_bar
from studio.stockroom.hazards.statements import statement_in_words
from studio.stockroom.lots.keeping import TOUCHED_BY_LOT
from studio.stockroom.made_here import is_ammoniacal, what_is_in
from studio.stockroom.models import Lot, LotPaper, Posting, ReservedAmount, StockMovement
from studio.stockroom.shelf import promised_amounts
from studio.stockroom.undone_receipts import received_again_as


def _lot(pk: int) -> Lot:
    return get_object_or_404(Lot.objects.select_related("material", "level"), pk=pk)


@allowed(May.ORDERS)
@require_POST
def lot_paper(request: DeskRequest, pk: int) -> HttpResponse:
    """Save a safety data sheet, certificate or invoice with a lot."""
    lot, sent, kind = _lot(pk), request.FILES.get("paper"), request.POST.get("kind", "")
    if sent is None or kind not in LotPaper.Kind.values:
        messages.error(request, "Choose a file and say what it is.")
    elif (sent.size or 0) > 20_000_000:
        messages.error(request, "Papers are saved as PDF, at most 20 MB.")
    else:
        content = sent.read()
        try:
            check_content(content, "application/pdf", "paper")
        except DaybookError as refusal:
            messages.error(request, str(refusal))
            return redirect("stockroom:lot", pk)
        file = keep(content, name=f"{lot.material.code}-{kind}.pdf", media_type="application/pdf",
                    owner_only=kind == LotPaper.Kind.INVOICE)
        LotPaper.objects.create(lot=lot, kind=kind, file=file)
    return redirect("stockroom:lot", pk)


@at_the_desk
@require_safe
def lot_page(request: DeskRequest, pk: int) -> HttpResponse:
    return show_lot(request, pk)


def show_lot(request: DeskRequest, pk: int, refusal: str = "") -> HttpResponse:
    """Show a lot and every movement that made it what it is, with the running level.

    refusal: why a form was refused; what was typed then stays in it.
    """
    movements = StockMovement.objects.select_related(
        "posting__by", "posting__run__ticket__job", "posting__trial_use__trial", "reverses__posting",
        "reversed_by",
    )
    rows = Lot.objects.select_related("material", "level").prefetch_related(Prefetch("movements", movements))
    lot = fetched([get_object_or_404(rows, pk=pk)], "events__by", "papers__file")[0]
    level, history = Decimal(0), []
    for movement in sorted(lot.movements.all(), key=lambda movement: (movement.posting.at, movement.pk)):
        level += movement.quantity
        came = movement.kind == StockMovement.Kind.RECEIPT  # undone, nothing of it was used
        cost_used = Decimal(0) if came else -movement.quantity * movement.unit_cost
        history.append((movement, level, max(cost_used, Decimal(0))))
    made_of = what_is_in([lot]).get(lot.pk)
    promised = sum((promise for _, promise in promised_amounts([lot.material_id])[lot.material_id]), Decimal(0))
    return render(request, "stockroom/lots/lot.html", {
        "ammoniacal": is_ammoniacal(lot, made_of),
        "lot": lot, "again": received_again_as(lot), "history": history, "expired": lot.has_expired(today()),
        "turning": lot.expires_on is not None and lot.expires_on <= today() + TURNS,
        "made_of": made_of, "promised": promised,
        "bar": level_bar(usable=lot.level.on_hand, promised=Decimal(0), received=lot.quantity_received, reorder=None),
        "hazards": [statement_in_words(code, lot.material.statement_categories.get(code, "")) + "."
                    for code in lot.material.hazard_statements],
        "value": lot.level.on_hand * lot.unit_cost, "in_doubt": _in_doubt(lot),
        "touched": [found for room in TOUCHED_BY_LOT for found in room(lot)] if lot.is_held else [],
        "refusal": refusal, "typed": request.POST,
        "undoable": _undoable(lot) if request.user.may(May.ORDERS) else set(),
    }, status=REFUSED if refusal else 200)


def _undoable(lot: Lot) -> set[int]:
    """Return the postings of a lot's own movements that may be undone here; a count is undone on its own page."""
    kinds = (Posting.Kind.RECEIPT, Posting.Kind.DISCARD, Posting.Kind.RETURN)
    return {movement.posting_id for movement in lot.movements.all()
            if movement.posting.kind in kinds and movement.reverses_id is None and not hasattr(movement, "reversed_by")}


def _in_doubt(lot: Lot) -> list[str]:
    """Return the booked jobs that a held lot puts in doubt: those that its material is promised to."""
    if lot.state != Lot.State.HELD:
        return []
    promised = ReservedAmount.objects.filter(material=lot.material, reservation__released_at=None)
    return list(promised.order_by("reservation_id").values_list("reservation__what_for", flat=True))
