"""What of the money does not tie: requests, what was taken back of them, and what was paid."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from jobs.models import JobAct, MoneyRequest
from jobs.money.requests import rows_of
from jobs.money.sums import net_of, tax_of
from studio.house.models import HouseRates
from studio.kit.currencies import decimals
from studio.kit.rounding import places
from studio.whole.looked_at import LookedAt


def _requests(since: LookedAt) -> Iterator[str]:
    """Requests are one series without a gap, add up at every rate, and none is taken back beyond what it asked."""
    requests = list(MoneyRequest.objects.select_related("credits"))
    back: dict[int, Decimal] = {}
    for before, row in pairwise(requests):
        if row.number != before.number + 1:
            yield f"{row} follows {before}: a number is missing between them."
    for row in requests:
        rates = rows_of(row)
        if (net_of(rates), tax_of(rates), row.net + row.tax) != (row.net, row.tax, row.total):
            yield f"{row} does not add up."
        if any(Fraction(amount) % places(decimals(row.currency)) for amount in (row.net, row.tax)):
            yield f"{row} is finer than the smallest coin."
        if row.credits is not None:
            back[row.credits.number] = back.get(row.credits.number, Decimal(0)) - row.total
    for row in requests:
        if not row.is_credit and back.get(row.number, Decimal(0)) > row.total:
            yield f"More of {row} was taken back than it asked for."


def _payments(since: LookedAt) -> Iterator[str]:
    """Nothing that stands as come in or gone back is finer than the smallest coin."""
    currency = HouseRates.objects.values_list("currency", flat=True).first()
    acts = JobAct.objects.filter(amount__isnull=False, undone_by=None).select_related("job")
    for act in acts if currency is not None else ():
        if Fraction(act.amount or 0) % places(decimals(currency or "")):
            yield f"{act} is finer than the smallest coin."


CHECKS = (_requests, _payments)
