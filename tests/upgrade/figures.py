"""Print what a database says of every quote, lot and job, as JSON: run by itself, on the data folder it is given.

The golden figures beside this file were printed by the program that wrote the kept database.
"""

from __future__ import annotations

import dataclasses
import json
import os
from fractions import Fraction
from typing import Any

import django


def figures() -> dict[str, Any]:
    """Return money and stock of every quote, what is on hand of every lot, and every job's state and comparison."""
    from jobs.looking_back.comparison import compare
    from jobs.models import Job, Quote
    from jobs.work.booking import frozen_plan
    from studio.stockroom.models import Lot

    def plain(value: Any) -> Any:
        if isinstance(value, list):
            return sorted(([plain(item) for item in value]), key=str)
        if dataclasses.is_dataclass(value) and not isinstance(value, type):
            return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return str(value) if isinstance(value, Fraction) else value

    def of_quote(quote: Quote) -> dict[str, Any]:
        plan = frozen_plan(quote)
        return {
            "state": quote.state, "net": f"{quote.net:f}", "tax": f"{quote.tax:f}", "total": f"{quote.total:f}",
            "deposit": f"{quote.deposit:f}", "offcuts": list(plan.offcuts),
            "stock": {code: f"{amount:f}" for code, amount in sorted(plan.stock.items())},
        }

    return {
        "quotes": {f"{saved.number}-{saved.revision}": of_quote(saved) for saved in Quote.objects.order_by("number", "revision")},
        "lots": {f"{lot.material.code} {lot.lot_number}": f"{lot.level.on_hand:f}"
                 for lot in Lot.objects.select_related("material", "level").order_by("pk")},
        "jobs": {job.number: {"state": job.state, "compared": plain(compare(job))}
                 for job in Job.objects.order_by("number")},
    }


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    django.setup()
    print(json.dumps(figures(), indent=1, sort_keys=True))
