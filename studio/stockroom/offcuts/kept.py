"""Kept offcuts: stock with a size. Kept once, promised to one job, used or discarded once."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.db.models import Max, Q

from studio.house.clock import now
from studio.house.models import House, Person
from studio.kit.errors import DaybookError
from studio.stockroom.models import Material, Offcut, Reservation


class OffcutError(DaybookError):
    """An offcut that does not exist, or is no longer free."""


@transaction.atomic
def keep_offcut(
    *, key: UUID, by: Person, material: Material, width_mm: Decimal, height_mm: Decimal, place: str = "",
    came_from: str = "",
) -> Offcut:
    """Keep an offcut under the next number; the same key counts once. Raises ValidationError for a size of 0."""
    House.objects.select_for_update().first()  # one number at a time
    known = Offcut.objects.filter(form_key=key).first()
    if known is not None:
        return known
    if material.kind != Material.Kind.GLASS:
        raise OffcutError(f"{material.name} is not glass.", "material")
    row = Offcut(
        number=(Offcut.objects.aggregate(last=Max("number"))["last"] or 0) + 1, material=material, width_mm=width_mm,
        height_mm=height_mm, place=place.strip(), came_from=came_from, kept_at=now(), kept_by=by, form_key=key,
    )
    row.full_clean()
    row.save(force_insert=True)
    return row


def free_offcuts(material_ids: Collection[int], own_reservation: int | None = None) -> list[Offcut]:
    """Return kept offcuts that are promised to no job. own_reservation: one that does not count (a job's own)."""
    free = Q(reservation=None) | Q(reservation__released_at__isnull=False) | Q(reservation=own_reservation)
    return list(Offcut.objects.filter(free, material__in=material_ids, gone_at=None).order_by("number"))


def promise(numbers: Collection[int], reservation: Reservation) -> None:
    """Promise offcuts to a job, all or none, within the caller's transaction. Raises OffcutError for one not free."""
    rows = {row.number: row for row in Offcut.objects.select_for_update().filter(number__in=numbers).order_by("number")}
    others = _promised_to(list(rows.values()), own_reservation=reservation.pk)
    for number in sorted(numbers):
        row = rows.get(number)
        if row is None or row.gone_at is not None or row.reservation_id in others:
            raise OffcutError(
                f"Kept offcut {number} is no longer free: save a new revision of the quote, which plans without it."
            )
    Offcut.objects.filter(number__in=numbers).update(reservation=reservation)


def _promised_to(rows: Collection[Offcut], own_reservation: int | None = None) -> dict[int, str]:
    """Return the reservations that locked offcuts are promised to, and what for.

    Asked for by itself: PostgreSQL reads a locked row anew, but not what was joined to it.
    """
    unreleased = Reservation.objects.filter(pk__in=[row.reservation_id for row in rows if row.reservation_id],
                                            released_at=None).exclude(pk=own_reservation or 0)
    return dict(unreleased.values_list("pk", "what_for"))


def take_out_of_stock(offcuts: Collection[Offcut], *, by: Person, why: str) -> None:
    """Mark offcuts as used or discarded; those out of stock already stay as they are."""
    Offcut.objects.filter(pk__in=[row.pk for row in offcuts], gone_at=None).update(
        gone_at=now(), gone_by=by, gone_because=why[:120]
    )


@transaction.atomic
def discard_offcut(*, offcut: Offcut, by: Person, why: str) -> None:
    """Discard an offcut. Raises OffcutError without a reason, or while it is promised to a job."""
    row = Offcut.objects.select_for_update().get(pk=offcut.pk)
    if not why.strip():
        raise OffcutError("Say why it is discarded, for instance “scratched”.", "why")
    promised = _promised_to([row])
    if row.gone_at is None and promised:
        raise OffcutError(f"{row} is promised to {', '.join(promised.values())}.", "why")
    take_out_of_stock([row], by=by, why=why.strip())
