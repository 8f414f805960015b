"""From an order to its estimate, and from an estimate to what is short in stock."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from jobs.draft import OrderDraft
from jobs.estimating.estimate import Estimate, estimate_basis
from jobs.estimating.refusals import EstimateError
from jobs.quotes.basis import basis_of
from studio.stockroom.models import Material
from studio.stockroom.shelf import Shortage, shortages


def price_order(draft: OrderDraft, as_of: date, own_reservation: int | None = None) -> Estimate:
    """Estimate an order as of a day. Raises a DaybookError with the sentence to show."""
    if not draft.lines:
        raise EstimateError("no lines")
    return estimate_basis(basis_of(draft, as_of, own_reservation))


def shortages_of(needed: Mapping[str, Decimal], day: date, own_reservation: int | None = None) -> list[Shortage]:
    """Return what is short of what a job needs by material code; its own reservation counts as free."""
    ids = dict(Material.objects.filter(code__in=needed).values_list("code", "pk"))
    return shortages({ids[code]: amount for code, amount in needed.items() if code in ids}, day, own_reservation)
