"""Write recipes: drafts, their steps and the order of them. What is issued or was tried is refused by the database."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F, Max

from recipes.models import Finish, Part, RecipeIssue, Step
from recipes.step_kinds import kind_of
from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile


class NotADraft(DaybookError):
    """What is issued, withdrawn or was tried stays as it was."""


class StepRefused(DaybookError):
    pass


MOST_STEPS = 60


@dataclass(frozen=True, kw_only=True)
class PartDraft:
    """A part as typed: the solution issue's id, strength and share as Decimals."""

    solution_issue_id: int
    strength: Decimal = Decimal(1)
    parts: Decimal = Decimal(1)
    mixed_for: str = Part.MixedFor.LOAD
    typed: dict[str, str] = field(default_factory=dict)


def is_open(issue: RecipeIssue) -> bool:
    """Say whether an issue's steps may still be changed: a draft that nothing was tried from."""
    return issue.state == "draft" and not issue.trials.exists()


def _opened(issue: RecipeIssue, version: int) -> RecipeIssue:
    """Lock an open draft as it was when somebody opened it, and count its version up.

    Raises NotADraft or ChangedMeanwhile.
    """
    if not is_open(issue):
        raise NotADraft(f"{issue} is issued or was tried: it stays as it was. Start a new draft from it.")
    moved = RecipeIssue.objects.filter(pk=issue.pk, version=version).update(version=F("version") + 1)
    if not moved:
        raise ChangedMeanwhile(
            "Somebody else changed this recipe meanwhile. It is shown as it now stands; do your change again."
        )
    return issue


@transaction.atomic
def start_draft(finish: Finish, *, came_from: RecipeIssue | None = None, why: str = "") -> RecipeIssue:
    """Start the next issue of a finish, empty or with the steps of an earlier one."""
    Finish.objects.select_for_update().get(pk=finish.pk)
    number = (finish.issues.aggregate(last=Max("number"))["last"] or 0) + 1
    issue = RecipeIssue.objects.create(
        finish=finish, number=number, came_from=came_from, why=why,
        **({"film_nm": came_from.film_nm, "own_yield_share": came_from.own_yield_share} if came_from else {}),
    )
    if came_from is not None:
        for step in came_from.steps.prefetch_related("parts"):
            copy_step(step, issue, step.number)
    return issue


def copy_step(step: Step, issue: RecipeIssue, number: int) -> Step:
    """Write a step again, in an issue and at a number, with its parts."""
    parts = list(step.parts.all())
    values = {f.attname: getattr(step, f.attname) for f in Step._meta.concrete_fields
              if f.name not in ("id", "recipe_issue", "number")}
    copy = Step.objects.create(recipe_issue=issue, number=number, **values)
    for part in parts:
        Part.objects.create(
            step=copy, number=part.number, solution_issue_id=part.solution_issue_id, strength=part.strength,
            parts=part.parts, mixed_for=part.mixed_for, typed=part.typed,
        )
    return copy


def _renumber(issue: RecipeIssue, order: Sequence[int]) -> None:
    """Number steps 1, 2, 3 … in the order of their ids; far numbers in between keep each number once."""
    far = 1_000_000
    issue.steps.update(number=F("number") + far)
    for number, pk in enumerate(order, start=1):
        Step.objects.filter(pk=pk).update(number=number)


def _order(issue: RecipeIssue) -> list[int]:
    return list(issue.steps.order_by("number").values_list("pk", flat=True))


@transaction.atomic
def add_step(issue: RecipeIssue, version: int, *, kind: str, after: int) -> Step:
    """Add a fresh step of a kind after a number (0: first)."""
    _opened(issue, version)
    order = _order(issue)
    if len(order) >= MOST_STEPS:
        raise StepRefused(f"A recipe has at most {MOST_STEPS} steps.")
    step = Step.objects.create(recipe_issue=issue, number=2_000_000, kind=kind, **kind_of(kind).fresh)
    _renumber(issue, [*order[:after], step.pk, *order[after:]])
    step.refresh_from_db()
    return step


@transaction.atomic
def duplicate_step(issue: RecipeIssue, version: int, step: Step) -> Step:
    """Write a step once more, right after itself."""
    _opened(issue, version)
    order = _order(issue)
    if len(order) >= MOST_STEPS:
        raise StepRefused(f"A recipe has at most {MOST_STEPS} steps.")
    copy = copy_step(step, issue, 2_000_000)
    at = order.index(step.pk) + 1
    _renumber(issue, [*order[:at], copy.pk, *order[at:]])
    copy.refresh_from_db()
    return copy


@transaction.atomic
def drop_step(issue: RecipeIssue, version: int, step: Step) -> None:
    _opened(issue, version)
    order = [pk for pk in _order(issue) if pk != step.pk]
    step.delete()
    _renumber(issue, order)


@transaction.atomic
def move_step(issue: RecipeIssue, version: int, step: Step, to: int) -> None:
    """Move a step so that it stands at a number, 1 the first; beyond either end it stops there."""
    _opened(issue, version)
    order = [pk for pk in _order(issue) if pk != step.pk]
    at = min(max(to, 1), len(order) + 1) - 1
    _renumber(issue, [*order[:at], step.pk, *order[at:]])


@transaction.atomic
def save_step(
    issue: RecipeIssue, version: int, step: Step, values: dict[str, Any], parts: Sequence[PartDraft]
) -> Step:
    """Save a step's values and its parts together.

    Raises StepRefused when the values break one of the step's own rules.
    """
    _opened(issue, version)
    for name, value in values.items():
        setattr(step, name, value)
    step.full_clean(exclude=["recipe_issue"], validate_unique=False)
    try:
        with transaction.atomic():
            step.save()
            step.parts.all().delete()
            for number, one in enumerate(parts, start=1):
                Part.objects.create(
                    step=step, number=number, solution_issue_id=one.solution_issue_id, strength=one.strength,
                    parts=one.parts, mixed_for=one.mixed_for, typed=one.typed,
                )
    except IntegrityError as refused:
        raise StepRefused(f"This step cannot be kept as it is: {refused}") from refused
    return step


@transaction.atomic
def save_issue_values(issue: RecipeIssue, version: int, **values: Any) -> None:
    """Save what an issue says as a whole: why it came to be, film, own yield."""
    _opened(issue, version)
    RecipeIssue.objects.filter(pk=issue.pk).update(**values)


@transaction.atomic
def drop_draft(issue: RecipeIssue, version: int) -> None:
    """Throw a draft away, with its steps. Raises NotADraft when something came from it or uses it."""
    _opened(issue, version)
    try:
        with transaction.atomic():
            issue.delete()
    except IntegrityError as used:  # ProtectedError is one
        raise NotADraft(f"{issue} cannot be thrown away: an order, a trial or another issue refers to it.") from used
