"""A receipt that was undone: its lot stays for the trace, and gives back its number and the order that it closed.

One number names one lot. The label on the bottle names the lot that it is received as again; the one that was undone is
called by that number with “(undone)” behind it, keeps its page, its movements and its address, and leads to the other.
"""

from __future__ import annotations

from itertools import count
from typing import Any

from django.db.models import F, QuerySet

from studio.kit.rounding import plain
from studio.stockroom.models import UNDONE, Lot, Purchase, StockMovement

LONGEST = 40


def but_undone(lots: QuerySet[Lot]) -> QuerySet[Lot]:
    """Return lots without those whose receipt was undone: they say nothing of prices and amounts."""
    undone = StockMovement.objects.filter(kind=StockMovement.Kind.RECEIPT, reverses__gt=0)  # few, by the index
    return lots.exclude(pk__in=undone.order_by().values("lot"))


def _undone_receipts(lot: Any) -> QuerySet[StockMovement]:
    return StockMovement.objects.filter(lot=lot, kind=StockMovement.Kind.RECEIPT, reverses__isnull=False)


def number_before(lot_number: str) -> str:
    """Return the number that a lot had before its receipt was undone: its own, where that says nothing of it."""
    found = UNDONE.fullmatch(lot_number)
    return found["number"] if found else lot_number


def undone_number(lot_number: str, taken: set[str]) -> str:
    """Return what an undone lot is called: “A7 (undone)”, or “A7 (undone 2)”. taken: numbers in small letters."""
    ends = (f" (undone{'' if at == 1 else f' {at}'})" for at in count(1))
    names = (f"{lot_number[:LONGEST - len(end)].rstrip()}{end}" for end in ends)
    return next(name for name in names if name.casefold() not in taken)


def give_back(lot: Lot) -> None:
    """Free the number of a lot whose receipt is undone, and let the order that it closed be awaited again."""
    stem = lot.lot_number[:LONGEST - len(" (undone 999)")].rstrip()
    taken = {number.casefold() for number in
             Lot.objects.filter(lot_number__istartswith=stem).values_list("lot_number", flat=True)}
    Lot.objects.filter(pk=lot.pk).update(lot_number=undone_number(lot.lot_number, taken), saves=F("saves") + 1)
    Purchase.objects.filter(lot=lot).update(lot=None)


def came_with(lot: Lot) -> list[StockMovement]:
    """Return the receipts of the other lots of a lot's delivery that stand, by lot number, with lots and postings."""
    if lot.delivery_id is None:
        return []
    receipts = StockMovement.objects.filter(lot__delivery=lot.delivery_id, kind=StockMovement.Kind.RECEIPT,
                                            reverses=None, reversed_by=None).exclude(lot=lot)
    return list(receipts.select_related("lot__material", "posting").order_by("lot__lot_number"))


def given_back_in_words(lot: Lot) -> list[str]:
    """Return what undoing a lot's receipt gives back besides its amount, a sentence each."""
    order = Purchase.objects.filter(lot=lot).select_related("material").first()
    sentences = [f"The number {lot.lot_number} is free again: the bottle can be received under it once more."]
    if order is not None:
        amount = f"{plain(order.quantity)} {order.material.stock_unit}"
        sentences.append(f"The order of {amount} {order.material} is awaited again.")
    return sentences


def received_again_as(lot: Lot) -> tuple[str, Lot | None] | None:
    """Return the number on the label of an undone lot, and the lot it names now; None for any other lot."""
    if not _undone_receipts(lot).exists():
        return None
    number = number_before(lot.lot_number)
    return number, Lot.objects.filter(lot_number__iexact=number).exclude(pk=lot.pk).select_related("material").first()
