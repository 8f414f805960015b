"""Find jobs, customers, finishes, solutions, steps, trials, materials and lots by parts of words and by value.

It gathers from all rooms.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q
from django.urls import reverse

from jobs.models import Job
from recipes.finding import find
from studio.house.models import Person
from studio.stockroom.models import Lot, Material

MOST = 25


@dataclass(frozen=True, kw_only=True)
class Found:
    kind: str
    name: str
    about: str
    address: str


def search(wanted: str, person: Person) -> list[Found]:
    """Return what a person may see that holds the wanted words."""
    if not wanted:
        return []
    found = [Found(kind=hit.kind, name=hit.name, about=hit.about, address=hit.address) for hit in find(wanted)]
    found += [
        Found(kind="material", name=material.name, about=material.storage_place,
              address=reverse("stockroom:material", args=[material.code]))
        for material in Material.objects.filter(Q(name__icontains=wanted) | Q(cas_number__icontains=wanted))[:MOST]
    ]
    lots = Lot.objects.filter(Q(lot_number__icontains=wanted) | Q(supplier__icontains=wanted))
    found += [
        Found(kind="lot", name=f"lot {lot.lot_number}", about=lot.material.name,
              address=reverse("stockroom:lot", args=[lot.pk]))
        for lot in lots.select_related("material")[:MOST]
    ]
    return _jobs(wanted) + found if person.is_owner else found


def _jobs(wanted: str) -> list[Found]:
    words = Q(order__title__icontains=wanted) | Q(order__customer__name__icontains=wanted)
    if wanted.isdigit():
        words |= Q(number=int(wanted))
    return [
        Found(kind="job", name=f"Job {job.number}: {job.order.title}", about=job.order.customer.name,
              address=reverse("jobs:job", args=[job.number]))
        for job in Job.objects.filter(words).select_related("order__customer")[:MOST]
    ]
