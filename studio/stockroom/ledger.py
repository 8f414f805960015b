"""The stock ledger: receive, use, correct, discard and reverse. Every posting counts once, or not at all."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from itertools import count
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from studio.house.clock import now
from studio.house.models import Person
from studio.kit.asking import among
from studio.kit.database_rules import broken_constraint
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.kit.rounding import plain
from studio.stockroom.materials import check_place
from studio.stockroom.models import Lot, LotLevel, Material, Posting, StockMovement
from studio.stockroom.picking import LotOnShelf, Pick, pick
from studio.stockroom.shelf import as_on_shelf


class LedgerError(DaybookError):
    """A posting that would break a rule of the ledger; nothing was saved."""


class NotEnough(LedgerError):
    """A shelf that cannot give what is asked. Carries the material, what is asked and what is missing."""

    def __init__(self, material: Material, wanted: Decimal, missing: Decimal, kept_back: Sequence[str] = ()) -> None:
        unit = material.stock_unit
        sentence = (
            f"{material.name}: {plain(missing)} {unit} of the {plain(wanted)} {unit} used is missing "
            "on the usable lots, so nothing was saved."
        )
        if kept_back:
            sentence += f" Not counted: {'; '.join(kept_back)}; the owner can say why they may be used."
        super().__init__(
            sentence + " Receive or count the lot you took it from, or correct the amount, then finish again.",
            f"material-{material.pk}",
        )
        self.material, self.wanted, self.missing = material, wanted, missing


@dataclass(frozen=True, kw_only=True)
class Movement:
    """A movement to be posted: a signed quantity in the lot's stock unit."""

    lot: Lot
    kind: str
    quantity: Decimal
    unit_cost: Decimal
    note: str = ""
    reverses: StockMovement | None = None


@transaction.atomic
def post(
    *, key: UUID, kind: str, by: Person, movements: Sequence[Movement], why: str = "", at: datetime | None = None
) -> Posting:
    """Write one posting with its movements, once; sent again with the same key it is returned as it is.

    Raises LedgerError when a lot would fall below zero or a movement is malformed.
    """
    known = Posting.objects.filter(key=key).first()
    if known is not None:
        return known
    lock_levels([movement.lot.pk for movement in movements])
    posting = Posting(key=key, kind=kind, at=at or now(), by=by, why=why)
    posting.full_clean(validate_unique=False, validate_constraints=False)
    try:
        with transaction.atomic():
            posting.save(force_insert=True)
            for line, movement in enumerate(movements, start=1):
                StockMovement.objects.create(
                    posting=posting, line=line, lot=movement.lot, kind=movement.kind, quantity=movement.quantity,
                    unit_cost=movement.unit_cost, note=movement.note, reverses=movement.reverses,
                )
    except IntegrityError as refused:
        again = Posting.objects.filter(key=key).first()
        if again is not None:
            return again
        raise LedgerError(_sentence(refused, movements)) from refused
    return posting


def _sentence(refused: IntegrityError, movements: Sequence[Movement]) -> str:
    if broken_constraint(refused) == "lot_never_below_zero":
        lots = ", ".join(sorted({str(movement.lot) for movement in movements if movement.quantity < 0}))
        return f"One of these does not hold that much, so nothing was saved: {lots}."
    return f"The ledger refused this, so nothing was saved: {refused}"


def lock_levels(lot_ids: Sequence[int]) -> dict[int, LotLevel]:
    """Lock the levels of lots in the order of their ids, so that two postings never wait for each other."""
    levels = LotLevel.objects.select_for_update().order_by("lot_id")
    return {level.lot_id: level for level in among(levels, "lot_id", lot_ids)}


def why_not_received(material: Material) -> str:
    """Return why no delivery brings a material, made here or ammoniacal silver; nothing where one does."""
    if material.is_ammoniacal_silver:
        return (f"{material.name} is ammoniacal silver (a silver salt and ammonia): it is used at once and never "
                "stored, so no lot of it is received. Make safe by the written procedure what there is of it, then "
                "discard it; do not touch what has dried.")
    if material.is_received:
        return ""
    return (f"{material.name} is made here: a lot of it comes from mixing it ahead or from a run's leftover, never "
            "from a delivery. What is bought ready made is a chemical of its own.")


def why_not_numbered(lot_number: str) -> str:
    """Return why a new lot cannot have a number, in a sentence: another lot has it; nothing where it is free."""
    other = Lot.objects.filter(lot_number__iexact=lot_number).select_related("material").first()
    if other is None:
        return ""
    return (f"{other.material} has a lot {other.lot_number} already, received on {other.received_on:%d %b %Y}, and one "
            f"number names one lot. If it is another, write this one as {free_number(lot_number)}, on its label too.")


def free_number(lot_number: str) -> str:
    """Return a lot number with what makes it another: S1-2, or S1-3 where that is taken."""
    taken = {number.casefold() for number in Lot.objects.filter(
        lot_number__istartswith=f"{lot_number}-").values_list("lot_number", flat=True)}
    return next(found for found in (f"{lot_number}-{at}" for at in count(2)) if found.casefold() not in taken)


@transaction.atomic
def receive(
    *, key: UUID, by: Person, material: Material, lot_number: str, quantity: Decimal, cost_with_carriage: Decimal,
    received_on: date, at: datetime | None = None, **of_lot: Any,
) -> Lot:
    """Receive a lot: its row and its receipt movement. of_lot: supplier, expires_on_given, opened_on, …

    Raises LedgerError for what no delivery brings (a solution made here, ammoniacal silver) and for the number of
    another lot, and DeadlyTogether where it must not stand.
    """
    known = Posting.objects.filter(key=key).first()
    if known is not None:
        return known.movements.get().lot
    refused = why_not_received(material)
    if refused:
        kind = "made here" if not material.is_received else "ammoniacal silver"
        raise LedgerError(refused, "material", kind=kind, subject=material.name)
    taken = why_not_numbered(lot_number)
    if taken:
        raise LedgerError(taken, "lot_number", subject=lot_number)
    lot = Lot(
        material=material, lot_number=lot_number, quantity_received=quantity, cost_with_carriage=cost_with_carriage,
        received_on=received_on, **of_lot,
    )
    lot.full_clean()
    lot.save(force_insert=True)
    post(
        key=key, kind=Posting.Kind.RECEIPT, by=by, at=at, movements=[
            Movement(lot=lot, kind=StockMovement.Kind.RECEIPT, quantity=quantity, unit_cost=lot.unit_cost)
        ],
    )
    check_place(material)
    return lot


@dataclass(frozen=True, kw_only=True)
class Used:
    """An amount of a material that was used up, in its stock unit."""

    material: Material
    amount: Decimal
    note: str = ""
    #: the actual lot that somebody chose, taken from first; alone: from no other
    first_lot: int | None = None
    alone: bool = False


@transaction.atomic
def use_up(
    *, key: UUID, by: Person, used: Sequence[Used], day: date, why: str, at: datetime | None = None,
    kept_back_because: str = "",
) -> Posting:
    """Take used amounts from usable lots, first expired first out, all or nothing, once.

    kept_back_because: the owner's reason for using held and expired lots where usable ones fall short.
    Raises NotEnough, naming the material and what is missing; then nothing is posted.
    """
    if kept_back_because and not by.may(May.OVERRULE):
        raise LedgerError("Only the owner can say why a held or expired lot is used.", "kept_back_because")
    known = Posting.objects.filter(key=key).first()
    if known is not None:
        return known
    materials = [amount.material.pk for amount in used]
    can_give = Lot.objects.filter(material_id__in=materials, level__on_hand__gt=0).order_by("pk")
    locked = lock_levels(list(can_give.values_list("pk", flat=True)))
    takings, short = takings_of(used, day, at, kept_back_too=bool(kept_back_because), of_lots=locked)
    if short:
        raise short[0]
    return post(key=key, kind=Posting.Kind.RUN, by=by, why=why, at=at, movements=[
        Movement(
            lot=taking.lot, kind=StockMovement.Kind.USE, quantity=-taking.amount, unit_cost=taking.lot.unit_cost,
            note=kept_back_because[:200] if taking.kept_back else taking.used.note,
        )
        for taking in takings
    ])


@dataclass(frozen=True, kw_only=True)
class Taking:
    """An amount of what was used that comes from one lot. kept_back: why that lot is held or expired, if it is."""

    used: Used
    lot: Lot
    amount: Decimal
    kept_back: str = ""


def takings_of(
    used: Sequence[Used], day: date, at: datetime | None = None, *, kept_back_too: bool = False,
    of_lots: Collection[int] | None = None,
) -> tuple[list[Taking], list[NotEnough]]:
    """Return which lots used amounts come from, and a refusal for each that the lots cannot give. Two queries.

    What is taken from one lot alone comes first; the rest empties what that leaves. kept_back_too: held and expired
    lots as well, where usable ones fall short. of_lots: those that are locked; all that hold anything, where none are.
    """
    holding = Lot.objects.filter(level__on_hand__gt=0).select_related("material", "level")
    lots = {lot.pk: lot for lot in among(holding, "material_id", [amount.material.pk for amount in used])
            if of_lots is None or lot.pk in of_lots}
    shelf = {pk: as_on_shelf(lot, at) for pk, lot in lots.items()}
    takings: dict[int, list[Taking]] = {}
    short: dict[int, NotEnough] = {}
    for number, amount in sorted(enumerate(used), key=lambda row: not row[1].alone):
        mine = [lot for pk, lot in shelf.items() if lots[pk].material_id == amount.material.pk
                and (pk == amount.first_lot or not amount.alone)]
        picks, missing = _picks(amount, mine, day, kept_back_too=kept_back_too)
        for picked in picks:
            lot = shelf[picked.lot_id]
            takings.setdefault(number, []).append(Taking(
                used=amount, lot=lots[picked.lot_id], amount=picked.amount,
                kept_back="" if lot.usable_on(day) else lot.why_not(day),
            ))
        for picked in picks:
            lot = shelf[picked.lot_id]
            shelf[picked.lot_id] = replace(lot, on_hand=lot.on_hand - picked.amount)
        if missing > 0:
            kept_back = [f"lot {lot.lot_number} ({lot.why_not(day)})" for lot in mine if lot.on_hand > 0
                         and not lot.usable_on(day)]
            short[number] = NotEnough(amount.material, amount.amount, missing, kept_back)
    return ([taking for number in sorted(takings) for taking in takings[number]],
            [short[number] for number in sorted(short)])


def _picks(
    used: Used, lots: Sequence[LotOnShelf], day: date, *, kept_back_too: bool
) -> tuple[list[Pick], Decimal]:
    chosen = [lot for lot in lots if lot.lot_id == used.first_lot]
    rest = [lot for lot in lots if lot.lot_id != used.first_lot]
    picks, missing = pick(used.amount, chosen, day, kept_back_too=kept_back_too)
    more, missing = pick(missing, rest, day, kept_back_too=kept_back_too)
    return [*picks, *more], missing


def reverse(
    *, key: UUID, by: Person, posting: Posting, why: str, at: datetime | None = None, note: str = "",
) -> Posting:
    """Post the exact opposite of a posting, each movement naming the one that it reverses. note: of each movement."""
    if not why.strip():
        raise LedgerError("Say why it is reversed.", "why")
    movements = [
        Movement(lot=moved.lot, kind=moved.kind, quantity=-moved.quantity, unit_cost=moved.unit_cost, reverses=moved,
                 note=note)
        for moved in posting.movements.select_related("lot__material")
    ]
    return post(key=key, kind=Posting.Kind.REVERSAL, by=by, movements=movements, why=why, at=at)
