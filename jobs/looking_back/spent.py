"""What a job has spent so far of what was worked out: chemistry, glass, hours, silver; of finished and open runs."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction

from jobs.looking_back.comparison import minutes_of, used_of
from jobs.models import Job, Run
from jobs.work.bench import bench_state, used_amounts
from jobs.work.booking import frozen_plan
from studio.stockroom.models import Material

MONEY, HOURS, GRAMS = "money", "hours", "g"


@dataclass(frozen=True, kw_only=True)
class Spent:
    """One kind of thing: spent of planned, in its unit (money in the quote's currency, minutes, grams)."""

    name: str
    unit: str
    spent: Fraction
    planned: Fraction

    @property
    def share(self) -> int:
        """Return the share spent in percent, at most 100: what a bar shows."""
        return min(100, round(self.spent / self.planned * 100)) if self.planned > 0 else (100 if self.spent else 0)

    @property
    def is_over(self) -> bool:
        """Say whether clearly more was spent than was worked out: what a balance or a rounding makes is not more."""
        return self.spent > self.planned * Fraction(105, 100)


def spent_so_far(job: Job) -> list[Spent]:
    """Return what was spent of each kind, once a ticket is printed; of an open run what is recorded by now.

    What is not deducted yet is valued as it was planned: lots are known when the run finishes.
    """
    if job.quote is None or not job.tickets.all():
        return []
    plan = frozen_plan(job.quote)
    planned = {code: (need.amount, need.cost) for code, need in plan.planned.items()}
    amounts, costs = used_of(job)
    amounts, costs = defaultdict(Fraction, amounts), defaultdict(Fraction, costs)
    for run in Run.objects.open().filter(ticket__job=job).select_related("ticket__job__quote"):
        for code, amount in used_amounts(bench_state(run), recorded_only=True).items():
            need, cost = planned.get(code, (Fraction(0), Fraction(0)))
            amounts[code] += Fraction(amount)
            costs[code] += Fraction(amount) * cost / need if need else Fraction(0)
    materials = {row.code: row for row in Material.objects.filter(code__in={*planned, *amounts})}
    glass = {code for code, row in materials.items() if row.kind == Material.Kind.GLASS}
    none = Fraction(0)

    def money(name: str, codes: set[str]) -> Spent:
        return Spent(name=name, unit=MONEY, spent=sum((costs[code] for code in codes if code in costs), none),
                     planned=sum((planned[code][1] for code in codes if code in planned), none))

    silver = {code: Fraction(row.silver_g_per_unit) for code, row in materials.items()}
    return [
        money("Chemistry", set(materials) - glass), money("Glass", glass),
        Spent(name="Hands", unit=HOURS, spent=sum(minutes_of(job).values(), none), planned=plan.minutes),
        Spent(name="Silver", unit=GRAMS, planned=plan.estimate.silver.into_job_g,
              spent=sum((amount * silver.get(code, none) for code, amount in amounts.items()), none)),
    ]
