"""Undoing a posting, on a page that says which amounts move back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.stockroom.models import Lot, Posting
from studio.stockroom.undoing import UNDONE, in_words, undo_delivery, why_not_undone
from studio.stockroom.undone_receipts import came_with, given_back_in_words, number_before


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def undo(request: DeskRequest, pk: int) -> HttpResponse:
    """Say what moves back, and move it back once a reason is given. A lot of a delivery: the others too, if ticked."""
    posting = get_object_or_404(Posting.objects.select_related("by"), pk=pk)
    moved = list(posting.movements.select_related("lot__material", "lot__delivery", "reversed_by").order_by("line"))
    refusal = why_not_undone(posting, moved)
    back, lots = _came_from(posting, [movement.lot_id for movement in moved]), [movement.lot for movement in moved]
    beside = came_with(lots[0]) if posting.kind == Posting.Kind.RECEIPT else []
    whole = "whole" in request.POST
    if request.method == "POST":  # pressed twice, its key is known: the second answer is the first
        others = [movement.posting for movement in beside] if whole else []
        try:
            undo_delivery(key=sent_key(request), posting=posting, others=others, by=request.user,
                          why=request.POST.get("why", ""))
        except DaybookError as refused:
            refusal = str(refused)
        else:
            messages.success(request, _undone(posting, lots + [movement.lot for movement in beside if whole]))
            return redirect(back)
    given_back = [sentence for movement in moved for sentence in given_back_in_words(movement.lot)
                  ] if posting.kind == Posting.Kind.RECEIPT and not why_not_undone(posting, moved) else []
    return render(request, "stockroom/undo.html", {
        "posting": posting, "what": UNDONE.get(Posting.Kind(posting.kind), posting.kind_in_words), "back": back,
        "moves": [*map(in_words, moved), *given_back], "refusal": refusal, "why": request.POST.get("why", ""),
        "can": not why_not_undone(posting, moved), "lot": lots[0] if posting.kind == Posting.Kind.RECEIPT else None,
        "beside": beside, "whole": whole,
    }, status=REFUSED if refusal and request.method == "POST" else 200)


def _undone(posting: Posting, lots: list[Lot]) -> str:
    sentence = f"Undone: {UNDONE[Posting.Kind(posting.kind)]}. The opposite amounts are posted."
    if posting.kind != Posting.Kind.RECEIPT:
        return sentence
    numbers = ", ".join(number_before(lot.lot_number) for lot in lots)
    return f"{sentence} {f'The number {numbers} is' if len(lots) == 1 else f'The numbers {numbers} are'} free again."


def _came_from(posting: Posting, lots: list[int]) -> str:
    sheet = getattr(posting, "count_sheet", None)
    if sheet is not None:
        return reverse("stockroom:count", args=[sheet.pk])
    return reverse("stockroom:lot", args=[lots[0]]) if lots else reverse("stockroom:shelf")
