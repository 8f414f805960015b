"""Gathers from the rooms everything an estimate is worked out from, as it was known on a day.

`jobs.estimating.basis` says which field of which model holds each input.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db.models import Count, Max, Q, Sum

from jobs.choices import as_first_chosen
from jobs.draft import DraftLine, OrderDraft, draft_of
from jobs.estimating.basis import (
    MONDAY_TO_FRIDAY,
    Basis,
    BoughtInFacts,
    Discount,
    EdgeFacts,
    GlassFacts,
    House,
    KeptOffcut,
    LineFacts,
)
from jobs.estimating.refusals import EstimateError
from jobs.frozen import thaw
from jobs.line_fields import LINE_FIELDS, to_facts
from jobs.models import Order, PaneResult, Quote
from jobs.quotes.glass_rules import check_glass
from recipes.facts import RunHistory, SizeBand
from recipes.models import RecipeVersion
from recipes.reading import recipe_facts
from recipes.trials.own_trials import not_tried_here
from studio.exact import exactly
from studio.house.models import House as HouseIdentity
from studio.house.models import HouseRates
from studio.stockroom.costing import unit_costs
from studio.stockroom.models import Material
from studio.stockroom.offcuts.kept import free_offcuts

_EXACT = (
    "tax_share", "helper_per_hour", "owner_per_hour", "overhead_per_bench_hour", "margin_share", "minimum_charge",
    "price_step", "cover_share", "glass_loss_share", "bench_width_mm", "bench_height_mm", "bench_usable_share",
    "increment_ml", "largest_vessel_ml", "balance_readability_g", "trim_mm", "clearance_mm", "smallest_offcut_mm",
    "smallest_strip_mm", "offcut_trim_mm",
    "offcut_credit_share", "deposit_share", "setup_minutes", "mixing_minutes_per_batch", "cutting_minutes_per_pane",
    "packing_minutes_per_pane",
    "bench_day_minutes", "cure_hours", "two_person_kg", "crate_most_kg", "crate_kg",
)


#: Where one band of sizes ends and the next begins, in m²: what is tipped with one hand, with two, and with help.
SIZE_BANDS_M2 = (Decimal("0.25"), Decimal(1))


def house_facts(rates: HouseRates, working_days: tuple[int, ...] = MONDAY_TO_FRIDAY) -> House:
    exact: dict[str, Any] = {name: Fraction(getattr(rates, name)) for name in _EXACT}
    return House(
        currency=rates.currency, minor_digits=rates.minor_digits, tax_name=rates.tax_name,
        plan=rates.plan, hands=rates.hands, benches=rates.benches,  # type: ignore[arg-type]
        usual_working_days=rates.usual_working_days or 0, working_days=working_days, **exact,
    )


def run_history(finish_ids: set[int]) -> dict[int, RunHistory]:
    """Return what each finish's finished runs show, all recipe versions together, and by band of sizes. Two queries."""
    results = PaneResult.objects.filter(recipe_version__finish_id__in=finish_ids).order_by()
    by_finish = results.values("recipe_version__finish_id")
    most: dict[int, int] = {}
    for finish, _, good in by_finish.values_list("recipe_version__finish_id", "run").annotate(
        passed=Count("pk", filter=Q(good=True))
    ):
        most[finish] = max(most.get(finish, 0), good)
    counted = by_finish.annotate(
        passed=Count("pk", filter=Q(good=True)), started=Sum("attempts"), largest=Max("area_m2", filter=Q(good=True)),
        **{f"passed_{at}": Count("pk", filter=_within(low, high) & Q(good=True)) for at, (low, high) in _numbered()},
        **{f"started_{at}": Sum("attempts", filter=_within(low, high)) for at, (low, high) in _numbered()},
    )
    rows: list[dict[str, Any]] = list(counted)  # type: ignore[arg-type]  # its columns are named by band
    return {
        row["recipe_version__finish_id"]: RunHistory(
            good=row["passed"], started=row["started"], largest_good_m2=Fraction(row["largest"] or 0),
            most_good_in_a_run=most[row["recipe_version__finish_id"]], bands=tuple(
                SizeBand(
                    over_m2=Fraction(low), up_to_m2=None if high is None else Fraction(high),
                    good=row[f"passed_{at}"], started=row[f"started_{at}"] or 0,
                )
                for at, (low, high) in _numbered()
            ),
        )
        for row in rows
    }


def _working_days() -> tuple[int, ...]:
    house = HouseIdentity.objects.first()
    hours = house.working_hours if house else []
    return tuple(day for day, open_ in enumerate(hours) if open_) or MONDAY_TO_FRIDAY


def _numbered() -> list[tuple[int, tuple[Decimal, Decimal | None]]]:
    ends: list[Decimal | None] = [*SIZE_BANDS_M2, None]
    return list(enumerate(zip([Decimal(0), *SIZE_BANDS_M2], ends, strict=True)))


def _within(low: Decimal, high: Decimal | None) -> Q:
    return Q(area_m2__gt=low) & (Q() if high is None else Q(area_m2__lte=high))


def _line_facts(line: DraftLine, recipes: dict[int, str], glasses: dict[int, str]) -> LineFacts:
    return LineFacts(
        number=line.number, recipe=recipes[line.recipe_version_id], glass=glasses[line.glass_id],
        **{field.name: to_facts(field, getattr(line, field.name)) for field in LINE_FIELDS if field.is_a_fact},
    )


def _glasses(materials: list[Material], as_of: date, own_reservation: int | None) -> dict[str, GlassFacts]:
    costs = unit_costs(materials, as_of)
    kept: dict[int, list[KeptOffcut]] = {}
    for offcut in free_offcuts([glass.pk for glass in materials], own_reservation):
        kept.setdefault(offcut.material_id, []).append(KeptOffcut(
            number=offcut.number, width_mm=Fraction(offcut.width_mm), height_mm=Fraction(offcut.height_mm)
        ))
    glasses = {}
    for glass in materials:
        cost = costs.get(glass.pk)
        glasses[glass.code] = GlassFacts(
            key=glass.code, name=glass.name, thickness_mm=Fraction(glass.thickness_mm or 0),
            sheet_width_mm=exactly(glass.sheet_width_mm), sheet_height_mm=exactly(glass.sheet_height_mm),
            sheet_cost=exactly(cost.unit_cost) if cost else None, sheet_cost_source=cost.source if cost else "",
            sheet_cost_date=cost.on if cost else None, same_glass=glass.same_glass,
            offcuts=tuple(kept.get(glass.pk, ())),
        )
    return glasses


def basis_of(draft: OrderDraft, as_of: date, own_reservation: int | None = None) -> Basis:
    """Gather everything an estimate is worked out from, as it was known on a day: of an order with options, the first.

    own_reservation: the job's own, whose kept offcuts count as free.
    Raises EstimateError when the studio has no rates on that day or a line names what is not there.
    """
    draft = as_first_chosen(draft)
    try:
        rates = HouseRates.on(as_of)
    except HouseRates.DoesNotExist as missing:
        raise EstimateError("no rates", str(missing)) from missing
    check_glass(draft, rates)
    edges = {
        edge.name: EdgeFacts(
            name=edge.name, minutes_per_m=Fraction(edge.minutes_per_m), grinds_off_mm=Fraction(edge.grinds_off_mm)
        )
        for edge in rates.edge_types.all()
    }
    for line in draft.lines:
        if line.edge not in edges:
            raise EstimateError("no such edge", line.name, line.number, edge=line.edge)
    versions = list(
        RecipeVersion.objects.filter(pk__in={line.recipe_version_id for line in draft.lines}).select_related("finish")
    )
    asked_for = Q(pk__in={line.glass_id for line in draft.lines})
    materials = list(Material.objects.filter(asked_for))
    alike = {glass.same_glass for glass in materials if glass.same_glass}
    if alike:
        materials = list(Material.objects.filter(asked_for | Q(same_glass__in=alike, kind=Material.Kind.GLASS)))
    recipes, shelf = recipe_facts(
        [version.pk for version in versions], as_of, run_history({version.finish_id for version in versions})
    )
    not_tried = not_tried_here(versions)
    for version in versions:
        recipes[version.key] = replace(
            recipes[version.key], usual_days=version.finish.lead_time_days or 0,
            subject_to_sample=version.pk in not_tried,
        )
    recipe_keys = {version.pk: version.key for version in versions}
    glass_keys = {glass.pk: glass.code for glass in materials}
    return Basis(
        as_of=as_of, house=house_facts(rates, _working_days()), shelf=shelf, recipes=recipes,
        glasses=_glasses(materials, as_of, own_reservation), nesting="patterns", edges=edges,
        **_ordered(draft, recipe_keys, glass_keys),
    )


def _ordered(draft: OrderDraft, recipes: dict[int, str], glasses: dict[int, str]) -> dict[str, Any]:
    """Return what is ordered, as a basis holds it. recipes, glasses: their keys, by id."""
    draft = as_first_chosen(draft)
    return {
        "lines": tuple(_line_facts(line, recipes, glasses) for line in draft.lines),
        "bought_in": tuple(
            BoughtInFacts(
                name=item.name, cost=Fraction(item.cost), line=item.line_number, kind=item.kind,
                markup_share=exactly(item.markup_share), days=item.days, due_on=item.due_on,
                before=item.before,  # type: ignore[arg-type]
            )
            for item in draft.bought_in
        ),
        "discount": Discount(
            share=Fraction(draft.discount_share), amount=Fraction(draft.discount_amount), reason=draft.discount_reason
        ),
    }


def is_ordered_so(order: Order, quote: Quote) -> bool:
    """Say whether an order still asks for just what its quote's basis was gathered for, in what an estimate reads.

    order: with its lines, their recipe versions and glass, and its bought-in items; nothing is asked where they were
    fetched before.
    """
    basis, lines = thaw(quote.basis, Basis), list(order.lines.all())
    now = _ordered(draft_of(order), {line.recipe_version_id: line.recipe_version.key for line in lines},
                   {line.glass_id: line.glass.code for line in lines})
    return all(getattr(basis, name) == value for name, value in now.items())
