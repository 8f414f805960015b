"""Write solutions: open versions, what goes into them, and which drafts use an earlier version."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F, Max, QuerySet

from recipes.finding import remember
from recipes.models import (
    Ingredient,
    Part,
    RecipeVersion,
    Solution,
    SolutionVersion,
    Trial,
    VersionDoubt,
    VersionEvent,
)
from recipes.solutions.putting_in_use import SolutionRefused, check_solution_version, check_working_time
from studio.kit.asking import among
from studio.kit.locks import check_opened, differing
from studio.kit.rounding import plain


@dataclass(frozen=True, kw_only=True)
class IngredientDraft:
    """One ingredient as typed: a material's or a solution version's id, and the amount per litre in g or mL."""

    material_id: int | None = None
    nested_id: int | None = None
    amount_per_litre: Decimal = Decimal(0)
    unit: str = "mL"
    typed: str = ""
    #: what makes it up to volume never does
    scales_with_strength: bool = True
    make_up: bool = False
    instruction: str = ""
    end_point: str = ""


def _write(version: SolutionVersion, values: dict[str, Any], ingredients: Sequence[IngredientDraft]) -> SolutionVersion:
    for name, value in values.items():
        setattr(version, name, value)
    version.full_clean(exclude=["solution"], validate_unique=False)
    version.save()
    version.ingredients.all().delete()
    try:
        with transaction.atomic():
            for number, ingredient in enumerate(ingredients, start=1):
                Ingredient.objects.create(
                    solution_version=version,
                    number=number,
                    material_id=ingredient.material_id,
                    nested_id=ingredient.nested_id,
                    amount_per_litre=ingredient.amount_per_litre,
                    unit=ingredient.unit,
                    typed=ingredient.typed,
                    scales_with_strength=ingredient.scales_with_strength and not ingredient.make_up,
                    make_up=ingredient.make_up,
                    instruction=ingredient.instruction,
                    end_point=ingredient.end_point,
                )
    except IntegrityError as refused:
        raise SolutionRefused(f"These ingredients cannot be saved as they are: {refused}") from refused
    if not ingredients:
        raise SolutionRefused("A solution needs an ingredient: add one.")
    check_solution_version(version)
    check_working_time(version)
    VersionDoubt.objects.filter(solution_version=version).delete()  # sound as it is written now
    remember(solution_version=version)
    return version


@transaction.atomic
def start_solution(name: str, values: dict[str, Any], ingredients: Sequence[IngredientDraft]) -> SolutionVersion:
    """Enter a new solution with its first version, open. Raises SolutionRefused or NeverStored: nothing is saved."""
    solution = Solution(name=name)
    solution.save()
    version = SolutionVersion(solution=solution, number=1)
    return _write(version, values, ingredients)


@transaction.atomic
def save_solution(
    version: SolutionVersion, saves: int, values: dict[str, Any], ingredients: Sequence[IngredientDraft]
) -> SolutionVersion:
    """Save an open version as a whole. Raises SolutionRefused, NeverStored or ChangedMeanwhile: nothing is saved."""
    row = SolutionVersion.objects.select_related("solution").select_for_update(of=("self",)).get(pk=version.pk)
    if row.frozen_at is not None:
        raise SolutionRefused(f"{version} is frozen: start a new version of it.")
    check_opened(row, saves, f"{differing(row, values)}; it is made of {_ingredients_in_words(row)}")
    version.saves = row.saves
    return _write(version, values, ingredients)


def _ingredients_in_words(version: SolutionVersion) -> str:
    rows = version.ingredients.select_related("material", "nested__solution")
    return ", ".join(
        f"{row.number} {row.material or row.nested}, "
        + ("made up to volume" if row.make_up else f"{plain(row.amount_per_litre)} {row.unit}/L")
        + (", scales with strength" if row.scales_with_strength else "")
        + (f", {row.instruction}" if row.instruction else "") + (f", {row.end_point}" if row.end_point else "")
        for row in rows
    )


@transaction.atomic
def next_version(earlier: SolutionVersion, why: str) -> SolutionVersion:
    """Start the next version of a solution as a copy of an earlier one; return the open one where there is one."""
    Solution.objects.select_for_update().get(pk=earlier.solution_id)
    still_open = earlier.solution.versions.filter(frozen_at=None, number__gt=earlier.number).last()
    if still_open is not None:
        return still_open
    last = earlier.solution.versions.aggregate(last=Max("number"))["last"]
    values = {f.attname: getattr(earlier, f.attname) for f in SolutionVersion._meta.concrete_fields
              if f.name not in ("id", "number", "frozen_at", "why", "saves")}
    version = SolutionVersion.objects.create(**values, number=last + 1, why=why)
    for ingredient in earlier.ingredients.all():
        kept = {f.attname: getattr(ingredient, f.attname) for f in Ingredient._meta.concrete_fields
                if f.name not in ("id", "solution_version")}
        Ingredient.objects.create(solution_version=version, **kept)
    remember(solution_version=version)
    return version


@transaction.atomic
def remove_solution_version(version: SolutionVersion) -> None:
    """Remove an open version; its solution too, when it was the only one. Raises SolutionRefused."""
    if version.frozen_at is not None:
        raise SolutionRefused(f"{version} is frozen: it cannot be removed.")
    try:
        with transaction.atomic():
            version.delete()
            if not version.solution.versions.exists():
                version.solution.delete()
    except IntegrityError as used:
        raise SolutionRefused(f"{version} is used by a recipe or another solution: it cannot be removed.") from used


def drafts_behind(version: SolutionVersion) -> list[RecipeVersion]:
    """Return the drafts that still use an earlier version of this solution: they may need the new one.

    Asked for in chunks of what was found before: as one question, joining parts, events and trials, it takes minutes
    where there are a thousand of each.
    """
    earlier = Part.objects.filter(
        solution_version__solution=version.solution_id, solution_version__number__lt=version.number
    )
    using = set(earlier.order_by().values_list("step__recipe_version", flat=True).distinct())
    closed = {row.recipe_version_id for row in among(VersionEvent.objects.all(), "recipe_version", using)}
    closed |= {row.recipe_version_id for row in among(Trial.objects.all(), "recipe_version", using - closed)}
    return list(among(RecipeVersion.objects.select_related("finish"), "pk", using - closed))


def solutions_behind(version: SolutionVersion) -> QuerySet[SolutionVersion]:
    """Return the open solutions that still hold an earlier version of this one."""
    earlier = Ingredient.objects.filter(nested__solution=version.solution_id, nested__number__lt=version.number)
    return SolutionVersion.objects.filter(frozen_at=None, pk__in=earlier.values("solution_version")).select_related(
        "solution"
    )


@transaction.atomic
def take_new_version(draft: RecipeVersion, version: SolutionVersion) -> None:
    """Let a draft use this version of a solution wherever it used an earlier one."""
    Part.objects.filter(
        step__recipe_version=draft,
        solution_version__solution=version.solution_id,
        solution_version__number__lt=version.number,
    ).update(solution_version=version)
    RecipeVersion.objects.filter(pk=draft.pk).update(saves=F("saves") + 1)
    remember(recipe_version=draft)
