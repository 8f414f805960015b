"""Estimate and actual, per material and in money: for the owner, once runs are finished."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from jobs.estimating.basis import House
from jobs.estimating.silver import film_g_per_m2, silvered_m2
from jobs.models import Job, PaneResult, Run, RunEntry
from jobs.work.booking import frozen_plan
from jobs.work.entries import Entries
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
class Rework:
    """What the further tickets of a job took, apart from its first run: money at the cost of the lots used.

    planned: what the estimate held for rework. panes: started on them.
    """

    chemistry: Fraction
    glass: Fraction
    minutes: Fraction
    labour: Fraction
    panes: int
    good: int
    planned: Fraction

    @property
    def cost(self) -> Fraction:
        return self.chemistry + self.glass + self.labour


@dataclass(frozen=True, kw_only=True)
class Compared:
    """Estimate and actual of a whole job, its further tickets among it."""

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
    used, used_cost = used_of(job)
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
    minutes, house = minutes_of(job), estimate.basis.house
    silver = {code: Fraction(material.silver_g_per_unit) for code, material in materials.items()}
    areas = {size.line.number: size for size in estimate.sizes}
    recipes = {size.line.number: estimate.basis.recipes[size.line.recipe] for size in estimate.sizes}
    return Compared(
        materials=sorted(rows, key=lambda row: -row.used_cost),
        planned_cost=sum(planned_cost.values(), Fraction(0)), used_cost=sum(used_cost.values(), Fraction(0)),
        planned_minutes=plan.minutes, noted_minutes=sum(minutes.values(), Fraction(0)),
        planned_labour=sum((cost.labour for cost in estimate.costs), Fraction(0)),
        noted_labour=_labour(minutes, house),
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


def rework_of(job: Job) -> Rework | None:
    """Return what a job's further tickets took, or None before a run of one is finished."""
    runs = Run.objects.filter(ticket__job=job, finished_at__isnull=False).exclude(reservation=None)
    further = list(runs.values_list("pk", flat=True))
    if job.quote is None or not further:
        return None
    estimate = frozen_plan(job.quote).estimate
    used_cost = used_of(job, further)[1]
    glasses = set(Material.objects.filter(code__in=used_cost, kind=Material.Kind.GLASS).values_list("code", flat=True))
    minutes = minutes_of(job, further)
    panes = list(PaneResult.objects.filter(run__in=further))
    return Rework(
        chemistry=sum((cost for code, cost in used_cost.items() if code not in glasses), Fraction(0)),
        glass=sum((cost for code, cost in used_cost.items() if code in glasses), Fraction(0)),
        minutes=sum(minutes.values(), Fraction(0)), labour=_labour(minutes, estimate.basis.house),
        panes=sum(result.attempts for result in panes), good=sum(result.good for result in panes),
        planned=sum((cost.rework for cost in estimate.costs), Fraction(0)),
    )


def _labour(minutes: dict[str, Fraction], house: House) -> Fraction:
    """Return what minutes by whose hands cost."""
    return (minutes.get("helper", Fraction(0)) * house.helper_per_hour
            + minutes.get("owner", Fraction(0)) * house.owner_per_hour) / 60


def used_of(job: Job, runs: Collection[int] | None = None) -> tuple[dict[str, Fraction], dict[str, Fraction]]:
    """Return amounts used and their cost by material code, of these runs; None: of all the job's."""
    amounts: dict[str, Fraction] = defaultdict(Fraction)
    costs: dict[str, Fraction] = defaultdict(Fraction)
    movements = StockMovement.objects.filter(
        posting__run__ticket__job=job, **({} if runs is None else {"posting__run__in": runs}))
    for movement in movements.select_related("lot__material"):
        code = movement.lot.material.code
        amounts[code] -= Fraction(movement.quantity)
        costs[code] -= Fraction(movement.quantity) * Fraction(movement.unit_cost)
    return dict(amounts), dict(costs)


def minutes_of(job: Job, runs: Collection[int] | None = None) -> dict[str, Fraction]:
    """Return the minutes recorded on these runs, None: on all the job's; of each run what counts of its entries."""
    times = RunEntry.objects.filter(run__ticket__job=job, kind__in=[RunEntry.Kind.TIME, RunEntry.Kind.UNDONE])
    by_run: dict[int, list[RunEntry]] = defaultdict(list)
    for entry in times.order_by("id"):
        if runs is None or entry.run_id in runs:
            by_run[entry.run_id].append(entry)
    total: dict[str, Fraction] = defaultdict(Fraction)
    for entries in by_run.values():
        newest = Entries(entries).newest(RunEntry.Kind.TIME)
        content = newest.content if newest is not None else {}
        for who, minutes in ((who, content[who]) for who in ("helper", "owner") if who in content):
            total[who] += Fraction(Decimal(minutes))
    return dict(total)
