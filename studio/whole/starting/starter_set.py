"""Add the starter set by the services that the pages use, and put it in use by the same rules as any recipe."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction

from recipes.finishes.authoring import PartDraft, add_step, save_finish, save_step, save_version_values, start_draft
from recipes.finishes.bench_rules import Finding, refuse_stops
from recipes.finishes.putting_in_use import Unpriced, put_in_use
from recipes.models import Finish, RecipeVersion, Solution, SolutionVersion
from recipes.reading import ANY_DAY, recipe_facts
from recipes.solutions.authoring import IngredientDraft, start_solution
from recipes.solutions.rules import unpriced_within
from studio.house.models import Person
from studio.kit.errors import DaybookError
from studio.stockroom.hazards.trade import TradeMaterial
from studio.stockroom.listed import standing_for
from studio.stockroom.models import Material
from studio.stockroom.starting.starting_shelf import offered
from studio.whole.starting.library import (
    BACKING_KEY,
    BACKING_SOLUTION,
    FINISHES,
    NEEDED,
    SOLUTIONS,
    StarterFinish,
    StarterSolution,
    StarterStep,
    backing_step,
)


class MaterialsMissing(DaybookError):
    """The set needs materials that the stockroom does not have."""

    def __init__(self, names: Iterable[str]) -> None:
        super().__init__(f"The starter set also needs {', '.join(names)}: enter them under Materials first.")


class NotRead(DaybookError):
    """The cautions were not ticked as read."""


@dataclass(frozen=True, kw_only=True)
class Waiting:
    """A draft of the set that is not in use yet: what it warns of, and what has no price."""

    version: RecipeVersion
    cautions: list[Finding]
    unpriced: tuple[str, ...]


def listed_by_key() -> dict[str, TradeMaterial]:
    return {material.key: material for material in offered()}


def found_materials() -> tuple[dict[str, Material], list[str]]:
    """Return the stockroom's materials by what the set calls them, and the names of those that are missing."""
    listed, standing = listed_by_key(), list(Material.objects.all())
    found: dict[str, Material] = {}
    missing = []
    for keys in NEEDED:
        row = next((row for key in keys if (row := standing_for(listed[key], standing))), None)
        if row is None:
            missing.append(listed[keys[0]].name)
        else:
            found[keys[0]] = row
    paint = standing_for(listed[BACKING_KEY], standing)
    if paint is not None and not paint.is_unclassed:
        found[BACKING_KEY] = paint
    return found, missing


def drafts_waiting() -> list[Waiting]:
    """Return the set's drafts that are not in use yet, by name."""
    rows = RecipeVersion.objects.filter(finish__name__in=[finish.name for finish in FINISHES], number=1)
    drafts = [row for row in rows.select_related("finish").prefetch_related("events") if row.is_draft]
    recipes, shelf = recipe_facts([row.pk for row in drafts], ANY_DAY)
    return [
        Waiting(version=row, cautions=refuse_stops(recipes[row.key], shelf), unpriced=tuple(dict.fromkeys(
            name for step in recipes[row.key].steps for part in step.parts
            for name in unpriced_within(part.solution, shelf)
        )))
        for row in drafts
    ]


def is_added() -> bool:
    """Say whether any finish of the set is in the library."""
    return Finish.objects.filter(name__in=[finish.name for finish in FINISHES]).exists()


@transaction.atomic
def add_starter_set() -> list[RecipeVersion]:
    """Write the set's solutions and finishes as drafts; what has its name already is left as it is.

    Raises MaterialsMissing: nothing is written.
    """
    materials, missing = found_materials()
    if missing:
        raise MaterialsMissing(missing)
    named = {finish.name for finish in Finish.objects.all()}
    wanted = [finish for finish in FINISHES if finish.name not in named]
    has_paint = BACKING_KEY in materials
    solutions: dict[str, SolutionVersion] = {}
    for solution in (*SOLUTIONS, *((BACKING_SOLUTION,) if has_paint else ())):
        solutions[solution.name] = _solution(solution, materials, solutions)
    return [_draft(finish, solutions, backing_step(has_paint)) for finish in wanted]


def _solution(
    wanted: StarterSolution, materials: dict[str, Material], solutions: dict[str, SolutionVersion]
) -> SolutionVersion:
    standing = Solution.objects.filter(name=wanted.name).first()
    if standing is not None:
        return standing.versions.order_by("-number")[0]
    return start_solution(wanted.name, {**wanted.values, "why": wanted.why}, [
        IngredientDraft(
            material_id=materials[dose.of].pk if dose.of in materials else None,
            nested_id=None if dose.of in materials else solutions[dose.of].pk,
            amount_per_litre=dose.amount, unit=dose.unit, scales_with_strength=dose.scales, make_up=dose.makes_up,
            instruction=dose.instruction, end_point=dose.end_point,
        )
        for dose in wanted.doses
    ])


def _draft(wanted: StarterFinish, solutions: dict[str, SolutionVersion], last: StarterStep) -> RecipeVersion:
    finish = save_finish(Finish(
        name=wanted.name, family=wanted.family, description=wanted.description,
        typical_variation=wanted.typical_variation, suits_glass="clear float",
    ))
    version = start_draft(finish)
    save_version_values(version, version.saves, why=wanted.why)
    for at, step in enumerate((*wanted.steps, last)):
        version.refresh_from_db()
        row = add_step(version, version.saves, kind=step.kind, after=at)
        version.refresh_from_db()
        save_step(version, version.saves, row, step.values, [
            PartDraft(solution_version_id=solutions[name].pk, mixed_for=mixed_for) for name, mixed_for in step.parts
        ])
    return version


@transaction.atomic
def put_set_in_use(by: Person, *, cautions_read: bool) -> Sequence[RecipeVersion]:
    """Put the set's drafts in use by all the rules. Raises NotRead, or what putting in use refuses: none is in use."""
    waiting = drafts_waiting()
    if not cautions_read:
        raise NotRead("Read the cautions, and tick that you have.", "cautions_read")
    unpriced = dict.fromkeys(name for draft in waiting for name in draft.unpriced)
    if unpriced:
        raise Unpriced(unpriced)
    for draft in waiting:
        put_in_use(
            version=draft.version, by=by, acknowledged={caution.rule for caution in draft.cautions},
            note="From the starter set: to be tried on samples first.",
        )
    return [draft.version for draft in waiting]
