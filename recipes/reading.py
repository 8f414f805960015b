"""Read recipe versions and solutions from the database into plain facts, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from fractions import Fraction

from recipes.facts import (
    IngredientFacts,
    MaterialFacts,
    PartFacts,
    RecipeFacts,
    RunHistory,
    Shelf,
    SolutionFacts,
    StepFacts,
)
from recipes.models import Ingredient, RecipeVersion, SolutionVersion, Step, VersionEvent
from studio.exact import exactly
from studio.house.models import GunCalibration, House
from studio.kit.asking import among, fetched
from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import is_whole, whole_number
from studio.stockroom.costing import KnownCost, unit_costs
from studio.stockroom.models import Material

DEEPEST_NESTING = 12
#: for reading a recipe as it stands, whenever its guns were calibrated: rules do not ask what day it is
ANY_DAY = date.max


class GunNotCalibrated(DaybookError):
    pass


def material_facts(material: Material, cost: KnownCost | None) -> MaterialFacts:
    return MaterialFacts(
        key=material.code, name=material.name, stock_unit=material.stock_unit,  # type: ignore[arg-type]
        liquid=material.liquid, density_g_per_ml=exactly(material.density_g_per_ml),
        unit_cost=exactly(cost.unit_cost) if cost else None, unit_cost_source=cost.source if cost else "",
        unit_cost_date=cost.on if cost else None, silver_g_per_unit=Fraction(material.silver_g_per_unit),
        reacts_as=material.known_classes, must_be_diluted=material.must_be_diluted,
        unclassed=material.is_unclassed_in_a_mix, of_silvering=material.is_of_silvering,
        assay_share=exactly(material.assay_share), statements=frozenset(material.hazard_statements),
        only_water=material.is_only_water,
    )


def _ingredient(ingredient: Ingredient) -> IngredientFacts:
    return IngredientFacts(
        number=ingredient.number, material=ingredient.material.code if ingredient.material else None,
        solution=ingredient.nested.key if ingredient.nested else None,
        amount_per_litre=Fraction(ingredient.amount_per_litre),
        unit="g" if ingredient.unit == "g" else "mL", scales_with_strength=ingredient.scales_with_strength,
        make_up=ingredient.make_up, instruction=ingredient.instruction, end_point=ingredient.end_point,
    )


def solution_version_of(key: str) -> SolutionVersion | None:
    """Return the solution version that a frozen paper names by key, code and number; None where there is none."""
    code, _, number = key.rpartition("/")
    if not is_whole(number):
        return None
    return SolutionVersion.objects.select_related("solution").filter(
        solution__code=code, number=whole_number(number)).first()


def solution_facts(version: SolutionVersion) -> SolutionFacts:
    return SolutionFacts(
        key=version.key, name=version.solution.name, version_number=version.number,
        keeps_minutes=exactly(version.keeps_minutes), works_at_once=version.works_at_once,
        minimum_batch_ml=Fraction(version.minimum_batch_ml), ready_after_minutes=Fraction(version.ready_after_minutes),
        mixing_minutes=exactly(version.mixing_minutes), working_minutes=exactly(version.working_minutes),
        reject_if=version.reject_if, cautions=version.cautions, longer_keeping_reason=version.longer_keeping_reason,
        ingredients=tuple(_ingredient(ingredient) for ingredient in version.ingredients.all()),
    )


def shelf_for(solution_version_ids: Iterable[int], as_of: date) -> Shelf:
    """Return the solutions and all that is nested in them, with their materials and unit costs."""
    versions: dict[int, SolutionVersion] = {}
    wanted = set(solution_version_ids)
    for _ in range(DEEPEST_NESTING):
        if not wanted:
            break
        found = fetched(
            among(SolutionVersion.objects.select_related("solution"), "pk", wanted),
            "ingredients__material", "ingredients__nested__solution",
        )
        versions |= {version.pk: version for version in found}
        nested = {ingredient.nested_id for version in found for ingredient in version.ingredients.all()}
        wanted = {pk for pk in nested if pk is not None} - versions.keys()
    else:
        raise DaybookError("Solutions are nested too deeply to be followed.")
    ingredients = [ingredient for version in versions.values() for ingredient in version.ingredients.all()]
    materials = list({ingredient.material for ingredient in ingredients if ingredient.material is not None})
    costs = unit_costs(materials, as_of)
    return Shelf(
        materials={material.code: material_facts(material, costs.get(material.pk)) for material in materials},
        solutions={version.key: solution_facts(version) for version in versions.values()},
        ammoniacal_limit_minutes=House.ammoniacal_limit(),
    )


def coverage_of(step: Step, guns: dict[str, GunCalibration]) -> tuple[Fraction, str]:
    """Return mL/m² per coat, and what it was worked out from: given, or the newest calibration of its gun."""
    if not step.gun:
        return Fraction(step.coverage_ml_per_m2), ""
    gun = guns.get(step.gun)
    if gun is None:
        raise GunNotCalibrated(f"{step.gun} has no calibration yet: give the step a coverage, or calibrate it.")
    source = f"{gun.gun}, calibrated {gun.measured_on}"
    if gun.stroke_ml is not None and gun.strokes_per_m2 is not None:
        return Fraction(gun.stroke_ml) * Fraction(gun.strokes_per_m2), source
    flow, passes = Fraction(gun.flow_ml_per_minute or 0), Fraction(gun.passes or 0)
    return flow * passes / Fraction(gun.traverse_m2_per_minute or 1), source


def step_facts(step: Step, guns: dict[str, GunCalibration]) -> StepFacts:
    coverage, source = coverage_of(step, guns)
    return StepFacts(
        number=step.number, kind=step.kind, name=step.name or step.get_kind_display(), how=step.how,
        coats=Fraction(step.coats), coverage_ml_per_m2=coverage, coverage_source=source,
        overspray_mm=Fraction(step.overspray_mm), zone=step.zone,  # type: ignore[arg-type]
        rim_width_mm=Fraction(step.rim_width_mm), zone_share=Fraction(step.zone_share),
        extra_per_pane_ml=Fraction(step.extra_per_pane_ml),
        overspill_share=Fraction(step.overspill_share), loss_per_load_ml=Fraction(step.loss_per_load_ml),
        dwell_minutes=Fraction(step.dwell_minutes), dwell_attended=step.dwell_attended,
        dwell_counted=step.dwell_counted, motion=step.motion,  # type: ignore[arg-type]
        pane_lies=step.pane_lies, drying=step.drying, rinse_full=step.rinse_full,
        rinse_collected=step.rinse_collected, rinse_water=step.rinse_water,
        surface_before=step.surface_before, harshness=step.harshness,
        minutes_per_load=Fraction(step.minutes_per_load), minutes_per_pane=Fraction(step.minutes_per_pane),
        minutes_per_m2=Fraction(step.minutes_per_m2), hands=step.hands,  # type: ignore[arg-type]
        temperature_low_c=exactly(step.temperature_low_c), temperature_high_c=exactly(step.temperature_high_c),
        instructions=step.instructions, looks_good=step.looks_good, cautions=step.cautions,
        parts=tuple(
            PartFacts(
                solution=part.solution_version.key, strength=Fraction(part.strength), parts=Fraction(part.parts),
                mixed_for=part.mixed_for,  # type: ignore[arg-type]
            )
            for part in step.parts.all()
        ),
    )


def calibrations(as_of: date) -> dict[str, GunCalibration]:
    """Return the newest calibration of each gun on a day."""
    dated = GunCalibration.objects.filter(measured_on__lte=as_of).order_by("gun", "measured_on")
    return {calibration.gun: calibration for calibration in dated}


def recipe_facts(
    version_ids: Iterable[int], as_of: date, history: Mapping[int, RunHistory] | None = None
) -> tuple[dict[str, RecipeFacts], Shelf]:
    """Return recipe versions by key, and the shelf of everything they name.

    history: by finish id, which jobs count from their runs.
    """
    versions = fetched(
        among(RecipeVersion.objects.select_related("finish"), "pk", version_ids),
        "steps__parts__solution_version__solution", "events",
    )
    guns = calibrations(as_of)
    recipes = {}
    for version in versions:
        past = (history or {}).get(version.finish_id, RunHistory())
        recipes[version.key] = RecipeFacts(
            key=version.key, finish=version.finish.name, version_number=version.number,
            in_use=version.state == VersionEvent.Kind.IN_USE,
            steps=tuple(step_facts(step, guns) for step in version.steps.all()), good=past.good, started=past.started,
            largest_good_m2=past.largest_good_m2, most_good_in_a_run=past.most_good_in_a_run,
            own_yield=exactly(version.own_yield_share), film_nm=Fraction(version.film_nm),
            has_direction=version.finish.has_direction, bands=past.bands,
        )
    used = {
        part.solution_version_id for version in versions for step in version.steps.all() for part in step.parts.all()
    }
    return recipes, shelf_for(used, as_of)
