"""What was removed from a draft stays beside it, with who and when, and is put back as it was."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from recipes.finishes.authoring import MOST_STEPS, StepRefused, add_copy, lock_draft, place_step
from recipes.models import Part, RecipeVersion, RemovedStep, SolutionVersion, Step
from studio.house.clock import now
from studio.house.models import Person
from studio.kit.kept_rows import as_kept, read_kept


@transaction.atomic
def remove_step(version: RecipeVersion, saves: int, step: Step, by: Person) -> RemovedStep:
    """Remove a step; those after it move up. Raises NotADraft or ChangedMeanwhile."""
    lock_draft(version, saves, again="Remove it again to remove it as it is now.")
    removed = RemovedStep.objects.create(
        recipe_version=version, number=step.number, name=step.name or step.get_kind_display(), by=by, at=now(),
        content=_content(step),
    )
    place_step(version, step, None)
    step.delete()
    return removed


@transaction.atomic
def put_back(version: RecipeVersion, saves: int, removed: RemovedStep, by: Person) -> Step:
    """Put a removed step back at its number, or at the end where there are fewer steps now. Once; then as it is.

    Raises NotADraft, ChangedMeanwhile, or StepRefused where a solution of it is no more.
    """
    lock_draft(version, saves)
    removed = RemovedStep.objects.select_for_update().get(pk=removed.pk)
    if removed.put_back_at is not None:
        raise StepRefused(f"{removed} was put back already.")
    if version.steps.count() >= MOST_STEPS:
        raise StepRefused(f"A recipe has at most {MOST_STEPS} steps.")
    try:
        with transaction.atomic():
            step = add_copy(version, *_read(removed.content))
    except (IntegrityError, ValidationError) as refused:
        raise StepRefused(f"This step cannot be put back as it was: {refused}") from refused
    place_step(version, step, removed.number)
    removed.put_back_at, removed.put_back_by = now(), by
    removed.save(update_fields=["put_back_at", "put_back_by"])
    step.refresh_from_db()
    return step


def still_removed(version: RecipeVersion) -> list[RemovedStep]:
    """Return what was removed of a version and not put back, newest first. One query."""
    return list(version.removed_steps.filter(put_back_at=None).select_related("by").order_by("-at", "-pk"))


def _content(step: Step) -> dict[str, Any]:
    """Return a step's values by column, as text where they are exact, and its parts, their solutions by name."""
    return {
        **as_kept(step, "recipe_version", "number"),
        "parts": [
            {"number": part.number, "solution": part.solution_version.solution.code,
             "version": part.solution_version.number, "strength": str(part.strength), "parts": str(part.parts),
             "mixed_for": part.mixed_for, "typed": part.typed}
            for part in step.parts.select_related("solution_version__solution")
        ],
    }


def _read(content: dict[str, Any]) -> tuple[dict[str, Any], list[Part]]:
    """Return a removed step's values and its parts, not yet of any step. A value that it did not have is the usual."""
    own = {name: value for name, value in content.items() if name != "parts"}
    return read_kept(Step, own), [_part(row) for row in content["parts"]]


def _part(row: dict[str, Any]) -> Part:
    version = SolutionVersion.objects.filter(solution__code=row["solution"], number=row["version"]).first()
    if version is None:
        raise StepRefused("A solution that this step applied was removed since: write the step anew.")
    return Part(number=row["number"], solution_version=version, strength=Decimal(row["strength"]),
                parts=Decimal(row["parts"]), mixed_for=row["mixed_for"], typed=row["typed"])
