"""Undoing what was posted, by opposite movements: a delivery's line, a discard, a return, a saved count.

A delivery's line gives back its lot number too, and the order that it closed (`undone_receipts.py`).
What a run or a trial took is not undone here: a run's deduction is corrected on the run's page, and what a trial used
belongs to its records. Nothing that a clock of ammoniacal silver ran for comes back: it was made safe, not kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from uuid import UUID, uuid5

from django.db import transaction

from studio.house.models import Person
from studio.kit.asking import among
from studio.kit.locks import tried_three_times
from studio.kit.rounding import plain
from studio.kit.units import show_stock, unit_of
from studio.stockroom.hazards.classes import is_ammoniacal_silver
from studio.stockroom.ledger import LedgerError, lock_levels, reverse
from studio.stockroom.made_here import classes_of_lots
from studio.stockroom.models import Lot, LotLevel, Posting, StockMovement
from studio.stockroom.undone_receipts import give_back

Kind = Posting.Kind
#: rooms above say why what was taken of a lot is not undone, in a sentence; nothing where it may be
NOT_BACK: list[Callable[[Lot], str]] = []

#: what can be undone, and how that is called
UNDONE = {Kind.RECEIPT: "the receipt", Kind.DISCARD: "the discarding", Kind.RETURN: "the return",
          Kind.COUNT: "the count"}


def why_not_undone(posting: Posting, movements: Iterable[StockMovement]) -> str:
    """Return why a posting cannot be undone, in a sentence; nothing where it can. movements: its own, with lots."""
    moved = list(movements)
    if posting.kind not in UNDONE:
        return "That is not undone here."
    if any(hasattr(movement, "reversed_by") for movement in moved):
        return "That was undone already."
    if any(movement.reverses_id for movement in moved):
        return "That undoes something itself: do it again instead."
    lots = [movement.lot for movement in moved]
    inside = classes_of_lots(lots)
    for lot in lots:
        if is_ammoniacal_silver(inside[lot.pk]):
            return f"{lot} is ammoniacal silver: what was made safe or discarded of it does not come back."
    not_back = next(filter(None, (why_not(lot) for lot in lots for why_not in NOT_BACK)), "")
    return not_back or _used_since(moved) or _in_waste(posting)


def _used_since(moved: list[StockMovement]) -> str:
    levels = among(LotLevel.objects.all(), "lot_id", [movement.lot_id for movement in moved])
    on_hand = {level.lot_id: level.on_hand for level in levels}
    for movement in moved:
        if on_hand[movement.lot_id] < movement.quantity:
            lot, unit = movement.lot, movement.lot.material.stock_unit
            came, left = (show_stock(Fraction(held), unit) for held in (movement.quantity, on_hand[movement.lot_id]))
            return (f"Of {came} received into {lot} only {left} is left, the rest was used since: it is not undone. "
                    "Count the lot, return or discard what is left instead.")
    return ""


def _in_waste(posting: Posting) -> str:
    waste = posting.waste.select_related("container").first()
    return "" if waste is None else f"It went into container {waste.container.name}: it does not come back out of it."


@tried_three_times
@transaction.atomic
def undo_posting(*, key: UUID, posting: Posting, by: Person, why: str) -> Posting:
    """Post the opposite of a delivery's line, a discard, a return or a count, once. Raises LedgerError.

    A delivery of which something was used is not undone as a whole: what is not there cannot go back.
    """
    lock_levels(list(posting.movements.values_list("lot_id", flat=True)))
    known = Posting.objects.filter(key=key).first()
    if known is not None:
        return known
    moved = list(posting.movements.select_related("lot__material", "reversed_by").order_by("line"))
    refused = why_not_undone(posting, moved)
    if refused:
        raise LedgerError(refused)
    if not moved:
        raise LedgerError("That count found everything right: it moved nothing, and there is nothing to undo.")
    if not why.strip():
        raise LedgerError("Say why it is undone.", "why")
    of_delivery = posting.kind == Kind.RECEIPT
    undone = reverse(key=key, by=by, posting=posting, why=why.strip()[:200],
                     note=f"was lot {moved[0].lot.lot_number} until then" if of_delivery else "")
    for movement in moved if of_delivery else ():
        give_back(movement.lot)
    return undone


@tried_three_times
@transaction.atomic
def undo_delivery(*, key: UUID, posting: Posting, others: Iterable[Posting], by: Person, why: str) -> Posting:
    """Undo the receipts of a delivery's lots together: posting by the form's key, the others by theirs. Or none.

    Raises LedgerError, which names the lot that keeps them.
    """
    receipts = sorted(others, key=lambda receipt: receipt.pk)
    lock_levels([lot for receipt in (posting, *receipts) for lot in receipt.movements.values_list("lot_id", flat=True)])
    undone = undo_posting(key=key, posting=posting, by=by, why=why)
    for receipt in receipts:
        undo_posting(key=uuid5(key, str(receipt.pk)), posting=receipt, by=by, why=why)
    return undone


def in_words(movement: StockMovement) -> str:
    """Return what the opposite of a movement does: “912 mL come back into lot S1”."""
    size, stock_unit = Fraction(abs(movement.quantity)), movement.lot.material.stock_unit
    unit = unit_of(size, stock_unit)
    one = "s" if unit != unit_of(size + 1, stock_unit) else ""
    does = f"leave{one}" if movement.quantity > 0 else f"come{one} back into"
    return f"{plain(abs(movement.quantity))} {unit} {does} {movement.lot}."
