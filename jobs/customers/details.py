"""Keep how a customer is reached: own details, contacts and addresses. What changes is told, never its values."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar
from uuid import UUID

from django.db import transaction

from jobs.models import Customer, CustomerAddress, CustomerContact
from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened, differing, tried_three_times, write

Reached = TypeVar("Reached", CustomerContact, CustomerAddress)


class CustomerError(DaybookError):
    """A customer cannot be changed, merged or forgotten like that."""


def check_not_forgotten(customer: Customer) -> None:
    """Refuse to write of a customer who was forgotten. Raises CustomerError."""
    if customer.forgotten_on is not None:
        raise CustomerError(f"{customer}: nothing more is kept. Enter an order for a new customer instead.")


@tried_three_times
@transaction.atomic
def save_customer(pk: int, saves: int | None, values: Mapping[str, Any]) -> Customer:
    """Save a customer. Raises ChangedMeanwhile when somebody else saved it since it was opened: nothing is saved."""
    row = Customer.objects.select_for_update().get(pk=pk)
    check_not_forgotten(row)
    check_opened(row, saves, differing(row, values))
    write(row, dict(values))
    return row


@tried_three_times
@transaction.atomic
def add_to(model: type[Reached], customer: Customer, key: UUID, values: Mapping[str, Any]) -> Reached:
    """Add a contact or an address. A form's key counts once. Raises CustomerError for a forgotten customer."""
    locked = Customer.objects.select_for_update().get(pk=customer.pk)
    known = model._default_manager.filter(key=key).first()
    if known is not None:
        return known
    check_not_forgotten(locked)
    row = model(key=key, customer=locked)
    write(row, dict(values))
    return row


@tried_three_times
@transaction.atomic
def correct(row: Reached, saves: int | None, values: Mapping[str, Any]) -> Reached:
    """Correct a contact or an address. Raises ChangedMeanwhile."""
    locked = type(row)._default_manager.select_for_update().get(pk=row.pk)
    check_opened(locked, saves, differing(locked, values))
    write(locked, dict(values))
    return locked
