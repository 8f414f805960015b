"""Write recipes: drafts, their steps and the order of them. The database refuses what is in use or was tried."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F, Max

from recipes.models import Finish, Part, RecipeVersion, Step
from recipes.step_kinds import kind_of
from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile


class NotADraft(DaybookError):
    """What is in use, withdrawn or was tried stays as it was."""


class StepRefused(DaybookError):
    """A step that cannot be saved; nothing was written."""


MOST_STEPS = 60


@dataclass(frozen=True, kw_only=True)
class PartDraft:
    """A part as typed: the solution version's id, strength and share as Decimals."""

    solution_version_id: int
    strength: Decimal = Decimal(1)
    parts: Decimal = Decimal(1)
    mixed_for: str = Part.MixedFor.LOAD
    typed: dict[str, str] = field(default_factory=dict)


def is_open(version: RecipeVersion) -> bool:
    """Say whether a version's steps may still be changed: a draft that nothing was tried from."""
    return version.state == "draft" and not version.trials.exists()


def _opened(version: RecipeVersion, saves: int) -> RecipeVersion:
    """Lock an open draft as it was when somebody opened it, and count its saves up.

    Raises NotADraft or ChangedMeanwhile.
    """
    if not is_open(version):
        raise NotADraft(f"{version} is in use or was tried: start a new draft from it.")
    counted = RecipeVersion.objects.filter(pk=version.pk, saves=saves).update(saves=F("saves") + 1)
    if not counted:
        raise ChangedMeanwhile(
            "Somebody else changed this recipe meanwhile. It is shown as it is now: make your change again."
        )
    return version


@transaction.atomic
def start_draft(finish: Finish, *, came_from: RecipeVersion | None = None, why: str = "") -> RecipeVersion:
    """Start the next version of a finish, empty or with the steps of an earlier one."""
    Finish.objects.select_for_update().get(pk=finish.pk)
    number = (finish.versions.aggregate(last=Max("number"))["last"] or 0) + 1
    version = RecipeVersion.objects.create(
        finish=finish, number=number, came_from=came_from, why=why,
        **({"film_nm": came_from.film_nm, "own_yield_share": came_from.own_yield_share} if came_from else {}),
    )
    if came_from is not None:
        for step in came_from.steps.prefetch_related("parts"):
            copy_step(step, version, step.number)
    return version


def copy_step(step: Step, version: RecipeVersion, number: int) -> Step:
    """Copy a step with its parts, into a version and at a number."""
    parts = list(step.parts.all())
    values = {f.attname: getattr(step, f.attname) for f in Step._meta.concrete_fields
              if f.name not in ("id", "recipe_version", "number")}
    copy = Step.objects.create(recipe_version=version, number=number, **values)
    for part in parts:
        Part.objects.create(
            step=copy, number=part.number, solution_version_id=part.solution_version_id, strength=part.strength,
            parts=part.parts, mixed_for=part.mixed_for, typed=part.typed,
        )
    return copy


def _renumber(version: RecipeVersion, order: Sequence[int]) -> None:
    """Number steps 1, 2, 3 … in the order of their ids; far numbers in between keep each number once."""
    far = 1_000_000
    version.steps.update(number=F("number") + far)
    for number, pk in enumerate(order, start=1):
        Step.objects.filter(pk=pk).update(number=number)


def _order(version: RecipeVersion) -> list[int]:
    return list(version.steps.order_by("number").values_list("pk", flat=True))


@transaction.atomic
def add_step(version: RecipeVersion, saves: int, *, kind: str, after: int) -> Step:
    """Add a new step of a kind after a number (0: first)."""
    _opened(version, saves)
    order = _order(version)
    if len(order) >= MOST_STEPS:
        raise StepRefused(f"A recipe has at most {MOST_STEPS} steps.")
    step = Step.objects.create(recipe_version=version, number=2_000_000, kind=kind, **kind_of(kind).fresh)
    _renumber(version, [*order[:after], step.pk, *order[after:]])
    step.refresh_from_db()
    return step


@transaction.atomic
def duplicate_step(version: RecipeVersion, saves: int, step: Step) -> Step:
    """Copy a step, right after itself."""
    _opened(version, saves)
    order = _order(version)
    if len(order) >= MOST_STEPS:
        raise StepRefused(f"A recipe has at most {MOST_STEPS} steps.")
    copy = copy_step(step, version, 2_000_000)
    at = order.index(step.pk) + 1
    _renumber(version, [*order[:at], copy.pk, *order[at:]])
    copy.refresh_from_db()
    return copy


@transaction.atomic
def remove_step(version: RecipeVersion, saves: int, step: Step) -> None:
    """Remove a step; those after it move up."""
    _opened(version, saves)
    order = [pk for pk in _order(version) if pk != step.pk]
    step.delete()
    _renumber(version, order)


@transaction.atomic
def move_step(version: RecipeVersion, saves: int, step: Step, to: int) -> None:
    """Move a step to a number, 1 the first; beyond either end it goes to that end."""
    _opened(version, saves)
    order = [pk for pk in _order(version) if pk != step.pk]
    at = min(max(to, 1), len(order) + 1) - 1
    _renumber(version, [*order[:at], step.pk, *order[at:]])


@transaction.atomic
def save_step(
    version: RecipeVersion, saves: int, step: Step, values: dict[str, Any], parts: Sequence[PartDraft]
) -> Step:
    """Save a step's values and its parts together.

    Raises StepRefused when the values break one of the step's own rules.
    """
    _opened(version, saves)
    for name, value in values.items():
        setattr(step, name, value)
    step.full_clean(exclude=["recipe_version"], validate_unique=False)
    try:
        with transaction.atomic():
            step.save()
            step.parts.all().delete()
            for number, part in enumerate(parts, start=1):
                Part.objects.create(
                    step=step, number=number, solution_version_id=part.solution_version_id, strength=part.strength,
                    parts=part.parts, mixed_for=part.mixed_for, typed=part.typed,
                )
    except IntegrityError as refused:
        raise StepRefused(f"This step cannot be saved as it is: {refused}") from refused
    return step


@transaction.atomic
def save_version_values(version: RecipeVersion, saves: int, **values: Any) -> None:
    """Save what a version says as a whole: why there is a new version, film, own yield."""
    _opened(version, saves)
    RecipeVersion.objects.filter(pk=version.pk).update(**values)


@transaction.atomic
def remove_draft(version: RecipeVersion, saves: int) -> None:
    """Remove a draft with its steps. Raises NotADraft when something came from it or uses it."""
    _opened(version, saves)
    try:
        with transaction.atomic():
            version.delete()
    except IntegrityError as used:  # ProtectedError is one
        raise NotADraft(
            f"{version} cannot be removed: an order, a trial or another version refers to it."
        ) from used
