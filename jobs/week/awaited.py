"""What jobs wait for: deliveries on their way, and what is short and not ordered."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Q, QuerySet

from jobs.models import Job
from studio.stockroom.models import Lot, Material, Purchase, ReservedAmount
from studio.stockroom.shelf import lots_on_shelf


@dataclass(frozen=True, kw_only=True)
class Awaited:
    """A delivery that a job waits for: of what, on which day."""

    on: date
    what: str
    job: int
    is_glass: bool = False


def shelf_of(jobs: QuerySet[Job]) -> list[tuple[Any, ...]]:
    """Return what the shelf holds of all that is promised to jobs: a plan rests on it. One query."""
    promised = ReservedAmount.objects.filter(reservation__job__in=jobs.order_by(), reservation__released_at=None)
    lots = Lot.objects.filter(level__on_hand__gt=0, material__in=promised.values("material"))
    return list(lots.order_by("pk").values_list(
        "pk", "state", "level__on_hand", "expires_on_given", "opened_on", "discard_at"))


def awaited_by(jobs: Sequence[Job], first: date) -> tuple[list[Awaited], dict[int, list[str]]]:
    """Return the deliveries that jobs wait for, in their order, and what of a job's is short and not ordered.

    What is on the shelf goes to the jobs in their order; what is short then waits for what is on its way. Four queries.
    """
    mine = Q(reservation__job__in=[job.pk for job in jobs])
    needed: dict[int, dict[int, Decimal]] = defaultdict(dict)
    for amount in ReservedAmount.objects.filter(mine, reservation__released_at=None).select_related("reservation__job"):
        needed[amount.reservation.job.pk][amount.material_id] = amount.quantity
    materials = {row.pk: row for row in Material.objects.filter(
        pk__in={pk for amounts in needed.values() for pk in amounts})}
    shelf = lots_on_shelf(materials)
    left = {pk: sum((lot.on_hand for lot in shelf[pk] if lot.usable_on(first)), Decimal(0)) for pk in materials}
    coming: dict[int, list[list[Any]]] = defaultdict(list)
    for purchase in Purchase.objects.filter(lot=None, cancelled_because="", material__in=materials).order_by("due_on"):
        coming[purchase.material_id].append([purchase.due_on, purchase.quantity])
    awaited: list[Awaited] = []
    short: dict[int, list[str]] = defaultdict(list)
    for job in jobs:
        for pk, quantity in sorted(needed.get(job.pk, {}).items()):
            taken = min(left[pk], quantity)
            left[pk] -= taken
            missing, last = quantity - taken, None
            for entry in coming[pk]:
                if missing <= 0:
                    break
                share = min(entry[1], missing)
                entry[1] -= share
                missing -= share
                last = entry[0] or last
            if last is not None and last > first:
                awaited.append(Awaited(on=last, what=materials[pk].name, job=job.number,
                                       is_glass=materials[pk].kind == Material.Kind.GLASS))
            if missing > 0:
                short[job.number].append(materials[pk].name)
    return awaited, dict(short)
