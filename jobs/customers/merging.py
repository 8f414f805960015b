"""Merge two customers who are one: everything of one goes to the other, at once. Nothing undoes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from jobs.customers.details import CustomerError, check_not_forgotten
from jobs.models import Customer, CustomerAddress, CustomerContact
from studio.house.changes import note_change
from studio.house.models import ChangeRecord, Person
from studio.kit.locks import check_opened, in_words, tried_three_times

_OWN = ("email", "phone", "address", "note")


@dataclass(frozen=True, kw_only=True)
class Merging:
    """What a merge moves, a sentence each. seen: what tells this state of both from a later one."""

    leaves: Customer
    stays: Customer
    moves: Sequence[str]
    seen: str


def look_at_merging(leaves: Customer, stays: Customer) -> Merging:
    """Return what a merge would move; nothing is changed."""
    orders = list(leaves.orders.order_by("pk").values_list("pk", "title"))
    parts = [
        (len(orders), "order", ", ".join(title for _, title in orders[:6]) + (" and more" if len(orders) > 6 else "")),
        (leaves.choices.count(), "preset", ", ".join(leaves.choices.values_list("name", flat=True))),
        (leaves.contacts.count(), "contact", ", ".join(leaves.contacts.values_list("name", flat=True))),
        (leaves.addresses.count(), "address", ""),
    ]
    moves = [f"{count} {what}{_s(count, what)}{f': {which}' if which else ''}."
             for count, what, which in parts if count]
    moves += [f"The {_words(name)} of {leaves}, {_becomes(leaves, stays, name)}." for name in _OWN
              if getattr(leaves, name) and getattr(leaves, name) != getattr(stays, name)]
    seen = f"{leaves.saves}.{stays.saves}.{'-'.join(str(pk) for pk, _ in orders)}"
    return Merging(leaves=leaves, stays=stays, moves=moves or ["Nothing: only the name goes."], seen=seen)


def _s(count: int, what: str) -> str:
    return "" if count == 1 else "es" if what.endswith("s") else "s"


def _words(name: str) -> str:
    return {"email": "e-mail", "phone": "telephone"}.get(name, name)


def _becomes(leaves: Customer, stays: Customer, name: str) -> str:
    if not getattr(stays, name):
        return f"which {stays} has none of"
    return {"address": "as a further address", "note": f"under the note of {stays}"}.get(
        name, f"as a contact called {leaves}")


@tried_three_times
@transaction.atomic
def merge(*, leaves: Customer, stays: Customer, by: Person, seen: str) -> Customer:
    """Let everything of one customer go to another, who stays; the first is gone. seen: of what was shown.

    Raises CustomerError for a customer and themselves, one who was forgotten, or where something changed since.
    """
    if leaves.pk == stays.pk:
        raise CustomerError("Choose another customer: that is the same.", "into")
    rows = {row.pk: row for row in Customer.objects.select_for_update().filter(
        pk__in=[leaves.pk, stays.pk]).order_by("pk")}
    if rows.keys() != {leaves.pk, stays.pk}:
        raise CustomerError("One of them is gone: they were merged meanwhile.")
    leaves, stays = rows[leaves.pk], rows[stays.pk]
    for row in (leaves, stays):
        check_not_forgotten(row)
    looked = look_at_merging(leaves, stays)
    if looked.seen != seen:
        raise CustomerError("Something of them was changed since this was shown: look at it again.")
    check_opened(stays, None, in_words(stays, _OWN))
    _take_details(leaves, stays)
    names = set(stays.choices.values_list("name", flat=True))
    for preset in leaves.choices.all():
        preset.name = _free(preset.name, names)
        names.add(preset.name)
        preset.customer = stays
        preset.save()
    counts = {what: getattr(leaves, what).update(customer=stays) for what in ("orders", "contacts", "addresses")}
    number = leaves.pk
    leaves.delete()
    stays.full_clean()
    stays.save()
    said = ", ".join(f"{count} {what}" for what, count in counts.items() if count) or "nothing"
    note_change(ChangeRecord.Kind.CUSTOMERS, f"Customer {stays.pk}",
                f"customer {number} was merged into this one; moved: {said}", by=by)
    return stays


def _take_details(leaves: Customer, stays: Customer) -> None:
    """Let no detail of the one who leaves be lost: it fills what is empty, or stands beside what is there."""
    contact = {name: getattr(leaves, name) for name in ("email", "phone")
               if getattr(leaves, name) and getattr(stays, name) not in ("", getattr(leaves, name))}
    if contact:
        CustomerContact.objects.create(customer=stays, name=leaves.name, **contact)
    if leaves.address and stays.address not in ("", leaves.address):
        longest = CustomerAddress._meta.get_field("address").max_length or 0
        if len(leaves.address) <= longest:
            CustomerAddress.objects.create(customer=stays, kind=CustomerAddress.Kind.OTHER, address=leaves.address,
                                           note=f"of {leaves.name}")
        else:  # longer than one is kept: whole, in the note
            stays.note = f"{stays.note}\nAddress of {leaves.name}: {leaves.address}".strip()
    if leaves.note and stays.note and leaves.note != stays.note:
        stays.note = f"{stays.note}\n{leaves.note}"
    for name in _OWN:
        setattr(stays, name, getattr(stays, name) or getattr(leaves, name))


def _free(name: str, taken: set[str]) -> str:
    """Return a preset's name, with a number where the other customer has one of that name."""
    if name not in taken:
        return name
    at = next(at for at in range(2, len(taken) + 3) if f"{name[:55]} {at}" not in taken)
    return f"{name[:55]} {at}"
