"""Estimate and actual, per material and in money: for the owner, once runs are finished."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from jobs.estimating.silver import film_g_per_m2, silvered_m2
from jobs.models import Job, PaneResult, RunEntry
from jobs.work.booking import frozen_plan
from studio.stockroom.models import Material, StockMovement


@dataclass(frozen=True, kw_only=True)
class MaterialCompared:
    """One material: planned and used in its stock unit, and both in money."""

    name: str
    code: str
    unit: str
    planned: Fraction
    used: Fraction
    planned_cost: Fraction
    used_cost: Fraction

    @property
    def difference(self) -> Fraction:
        return self.used - self.planned

    @property
    def cost_difference(self) -> Fraction:
        return self.used_cost - self.planned_cost


@dataclass(frozen=True, kw_only=True)
class Compared:
    materials: list[MaterialCompared]
    planned_cost: Fraction
    used_cost: Fraction
    planned_minutes: Fraction
    noted_minutes: Fraction
    planned_labour: Fraction
    noted_labour: Fraction
    good: int
    started: int
    panes_planned: int
    silver_planned_g: Fraction
    silver_used_g: Fraction
    silver_on_glass_g: Fraction

    @property
    def difference(self) -> Fraction:
        return self.used_cost - self.planned_cost

    @property
    def silver_to_waste_g(self) -> Fraction:
        return max(self.silver_used_g - self.silver_on_glass_g, Fraction(0))


def compare(job: Job) -> Compared | None:
    """Return a job's estimate beside what its finished runs used, or None before any is finished."""
    if job.quote is None or not job.tickets.filter(run__finished_at__isnull=False).exists():
        return None
    plan = frozen_plan(job.quote)
    estimate = plan.estimate
    planned = {code: need.amount for code, need in plan.planned.items()}
    planned_cost = {code: need.cost for code, need in plan.planned.items()}
    used, used_cost = _used(job)
    materials = {material.code: material for material in Material.objects.filter(code__in={*planned, *used})}
    rows = [
        MaterialCompared(
            name=material.name, code=code, unit=material.stock_unit, planned=planned.get(code, Fraction(0)),
            used=used.get(code, Fraction(0)), planned_cost=planned_cost.get(code, Fraction(0)),
            used_cost=used_cost.get(code, Fraction(0)),
        )
        for code, material in materials.items()
    ]
    panes = list(PaneResult.objects.filter(run__ticket__job=job))
    minutes = _minutes(job)
    helper, owner = minutes.get("helper", Fraction(0)), minutes.get("owner", Fraction(0))
    house = estimate.basis.house
    silver = {code: Fraction(material.silver_g_per_unit) for code, material in materials.items()}
    areas = {size.line.number: size for size in estimate.sizes}
    recipes = {size.line.number: estimate.basis.recipes[size.line.recipe] for size in estimate.sizes}
    return Compared(
        materials=sorted(rows, key=lambda row: -row.used_cost),
        planned_cost=sum(planned_cost.values(), Fraction(0)), used_cost=sum(used_cost.values(), Fraction(0)),
        planned_minutes=plan.minutes, noted_minutes=helper + owner,
        planned_labour=sum((cost.labour for cost in estimate.costs), Fraction(0)),
        noted_labour=(helper * house.helper_per_hour + owner * house.owner_per_hour) / 60,
        good=sum(result.good for result in panes), started=sum(result.attempts for result in panes),
        panes_planned=sum(plan.panes_to_start for plan in estimate.panes.values()),
        silver_planned_g=estimate.silver.into_job_g,
        silver_used_g=sum((amount * silver[code] for code, amount in used.items()), Fraction(0)),
        silver_on_glass_g=sum(
            (film_g_per_m2(recipes[pane.line_number].film_nm)
             * silvered_m2(recipes[pane.line_number], areas[pane.line_number]) for pane in panes if pane.good),
            Fraction(0),
        ),
    )


def _used(job: Job) -> tuple[dict[str, Fraction], dict[str, Fraction]]:
    amounts: dict[str, Fraction] = defaultdict(Fraction)
    costs: dict[str, Fraction] = defaultdict(Fraction)
    movements = StockMovement.objects.filter(posting__run__ticket__job=job).select_related("lot__material")
    for movement in movements:
        code = movement.lot.material.code
        amounts[code] -= Fraction(movement.quantity)
        costs[code] -= Fraction(movement.quantity) * Fraction(movement.unit_cost)
    return dict(amounts), dict(costs)


def _minutes(job: Job) -> dict[str, Fraction]:
    """Return the minutes recorded on the job's runs, the newest entry of each run counting."""
    newest = {
        entry.run_id: entry.content
        for entry in RunEntry.objects.filter(run__ticket__job=job, kind=RunEntry.Kind.TIME).order_by("id")
    }
    total: dict[str, Fraction] = defaultdict(Fraction)
    for content in newest.values():
        for who, minutes in content.items():
            total[who] += Fraction(Decimal(minutes))
    return dict(total)
