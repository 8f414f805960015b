"""Write solutions: their open issues, what goes into them, and which drafts take a new issue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F, Max, Q, QuerySet

from recipes.finding import remember
from recipes.models import Ingredient, Part, RecipeIssue, Solution, SolutionIssue
from recipes.solutions.putting_in_use import SolutionRefused, check_solution_issue
from studio.kit.locks import ChangedMeanwhile


@dataclass(frozen=True, kw_only=True)
class IngredientDraft:
    """One ingredient as typed: a material's or a solution issue's id, and the amount per litre in g or mL."""

    material_id: int | None = None
    nested_id: int | None = None
    amount_per_litre: Decimal = Decimal(0)
    unit: str = "mL"
    typed: str = ""
    active: bool = False
    make_up: bool = False
    instruction: str = ""
    end_point: str = ""


def _write(issue: SolutionIssue, values: dict[str, Any], ingredients: Sequence[IngredientDraft]) -> SolutionIssue:
    for name, value in values.items():
        setattr(issue, name, value)
    issue.full_clean(exclude=["solution"], validate_unique=False)
    issue.save()
    issue.ingredients.all().delete()
    try:
        with transaction.atomic():
            for number, one in enumerate(ingredients, start=1):
                Ingredient.objects.create(
                    solution_issue=issue, number=number, material_id=one.material_id, nested_id=one.nested_id,
                    amount_per_litre=one.amount_per_litre, unit=one.unit, typed=one.typed, active=one.active,
                    make_up=one.make_up, instruction=one.instruction, end_point=one.end_point,
                )
    except IntegrityError as refused:
        raise SolutionRefused(f"These ingredients cannot be kept as they are: {refused}") from refused
    if not ingredients:
        raise SolutionRefused("A solution holds something: give it an ingredient.")
    check_solution_issue(issue)
    remember(solution_issue=issue)
    return issue


@transaction.atomic
def start_solution(name: str, values: dict[str, Any], ingredients: Sequence[IngredientDraft]) -> SolutionIssue:
    """Enter a new solution with its first issue, open. Raises SolutionRefused or NeverStored: nothing is kept."""
    solution = Solution(name=name)
    solution.save()
    issue = SolutionIssue(solution=solution, number=1)
    return _write(issue, values, ingredients)


@transaction.atomic
def save_solution(
    issue: SolutionIssue, version: int, values: dict[str, Any], ingredients: Sequence[IngredientDraft]
) -> SolutionIssue:
    """Save an open issue as a whole. Raises SolutionRefused, NeverStored or ChangedMeanwhile: nothing is kept."""
    if issue.frozen_at is not None:
        raise SolutionRefused(f"{issue} is frozen: start a new issue of it.")
    moved = SolutionIssue.objects.filter(pk=issue.pk, version=version).update(version=F("version") + 1)
    if not moved:
        raise ChangedMeanwhile("Somebody else saved this solution meanwhile. Open it again, compare, and save there.")
    issue.version = version + 1
    return _write(issue, values, ingredients)


@transaction.atomic
def next_issue(earlier: SolutionIssue, why: str) -> SolutionIssue:
    """Start the next issue of a solution, like an earlier one; an open one that is there already is returned."""
    Solution.objects.select_for_update().get(pk=earlier.solution_id)
    open_one = earlier.solution.issues.filter(frozen_at=None, number__gt=earlier.number).last()
    if open_one is not None:
        return open_one
    last = earlier.solution.issues.aggregate(last=Max("number"))["last"]
    values = {f.attname: getattr(earlier, f.attname) for f in SolutionIssue._meta.concrete_fields
              if f.name not in ("id", "number", "frozen_at", "why", "version")}
    issue = SolutionIssue.objects.create(**values, number=last + 1, why=why)
    for one in earlier.ingredients.all():
        kept = {f.attname: getattr(one, f.attname) for f in Ingredient._meta.concrete_fields
                if f.name not in ("id", "solution_issue")}
        Ingredient.objects.create(solution_issue=issue, **kept)
    remember(solution_issue=issue)
    return issue


@transaction.atomic
def drop_solution_issue(issue: SolutionIssue) -> None:
    """Throw an open issue away; its solution too, when it was the only one."""
    if issue.frozen_at is not None:
        raise SolutionRefused(f"{issue} is frozen: it stays.")
    try:
        with transaction.atomic():
            issue.delete()
            if not issue.solution.issues.exists():
                issue.solution.delete()
    except IntegrityError as used:
        raise SolutionRefused(f"{issue} is used by a recipe or by another solution: it stays.") from used


def drafts_behind(issue: SolutionIssue) -> QuerySet[RecipeIssue]:
    """Return the drafts that still use an earlier issue of this solution: they may want the new one."""
    earlier = Part.objects.filter(solution_issue__solution=issue.solution_id, solution_issue__number__lt=issue.number)
    return RecipeIssue.objects.filter(
        Q(events=None), Q(trials=None), pk__in=earlier.values("step__recipe_issue")
    ).select_related("finish")


def solutions_behind(issue: SolutionIssue) -> QuerySet[SolutionIssue]:
    """Return the open solutions that still hold an earlier issue of this one."""
    earlier = Ingredient.objects.filter(nested__solution=issue.solution_id, nested__number__lt=issue.number)
    return SolutionIssue.objects.filter(frozen_at=None, pk__in=earlier.values("solution_issue")).select_related(
        "solution"
    )


@transaction.atomic
def take_new_issue(draft: RecipeIssue, issue: SolutionIssue) -> None:
    """Let a draft use this issue of a solution wherever it used an earlier one."""
    Part.objects.filter(
        step__recipe_issue=draft, solution_issue__solution=issue.solution_id, solution_issue__number__lt=issue.number
    ).update(solution_issue=issue)
    RecipeIssue.objects.filter(pk=draft.pk).update(version=F("version") + 1)
    remember(recipe_issue=draft)
