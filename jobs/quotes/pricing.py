"""From an order to its estimate, and from an estimate to what is short in stock."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from jobs.draft import OrderDraft
from jobs.estimating.estimate import Estimate, estimate_basis
from jobs.estimating.refusals import EstimateError
from jobs.quotes.basis import basis_of
from studio.kit.errors import DaybookError
from studio.stockroom.models import Material
from studio.stockroom.shelf import Shortage, shortages


def price_order(
    draft: OrderDraft, as_of: date, own_reservation: int | None = None, ahead: Estimate | None = None,
) -> Estimate:
    """Estimate an order as of a day. Raises a DaybookError with the sentence to show.

    ahead: what was worked out before anything was locked; taken where it rests on just what stands now.
    """
    if not draft.lines:
        raise EstimateError("no lines")
    basis = basis_of(draft, as_of, own_reservation)
    return ahead if ahead is not None and ahead.basis == basis else estimate_basis(basis)


def price_ahead(draft: OrderDraft, as_of: date, own_reservation: int | None = None) -> Estimate | None:
    """Estimate an order before anything is locked; None where it is refused, which is said in its turn."""
    try:
        return price_order(draft, as_of, own_reservation)
    except DaybookError:
        return None


def shortages_of(needed: Mapping[str, Decimal], day: date, own_reservation: int | None = None) -> list[Shortage]:
    """Return what is short of what a job needs by material code; its own reservation counts as free."""
    ids = dict(Material.objects.filter(code__in=needed).values_list("code", "pk"))
    return shortages({ids[code]: amount for code, amount in needed.items() if code in ids}, day, own_reservation)
