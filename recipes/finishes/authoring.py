"""Write recipes: drafts, their steps and the order of them. The database refuses what is in use or was tried."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F, Max

from recipes.finding import remember
from recipes.models import Finish, FinishPicture, Part, RecipeVersion, Step
from recipes.photographs import MEDIA_TYPE, copies_of
from recipes.step_kinds import kind_of
from studio.house.kept_files import keep
from studio.kit.errors import DaybookError
from studio.kit.locks import AGAIN, check_opened, differing
from studio.kit.rounding import plain


class NotADraft(DaybookError):
    """What is in use, withdrawn or was tried stays as it was."""


class StepRefused(DaybookError):
    """A step that cannot be saved; nothing was written."""


class StepRemoved(StepRefused):
    """Somebody removed the step that was typed over."""

    def __init__(self) -> None:
        super().__init__("Somebody else removed this step meanwhile. Nothing was saved.")


MOST_STEPS = 60
#: a number behind all others, until a step gets its own
_FAR = 2_000_000


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


def _steps_in_words(version: RecipeVersion) -> str:
    steps = version.steps.order_by("number")
    return ", ".join(f"{step.number} {step.name or step.get_kind_display()}" for step in steps) or "no steps"


def lock_draft(
    version: RecipeVersion, saves: int, reads: Callable[[RecipeVersion], str] = _steps_in_words,
    again: str = "Do it again to change it as it is now.",
) -> None:
    """Lock an open draft as it was when somebody opened it, and count its saves up.

    reads: from the draft, locked, to what is typed over, as it is now, in words. Raises NotADraft or ChangedMeanwhile.
    """
    row = RecipeVersion.objects.select_related("finish").select_for_update(of=("self",)).get(pk=version.pk)
    if not is_open(row):
        raise NotADraft(f"{version} is in use or was tried: start a new draft from it.")
    check_opened(row, saves, reads(row), again)
    RecipeVersion.objects.filter(pk=row.pk).update(saves=row.saves)


@transaction.atomic
def save_finish(finish: Finish, saves: int | None = None, photographs: Mapping[str, bytes] | None = None) -> Finish:
    """Save a finish, new or changed, with the photographs sent, by side.

    saves: what the form was opened with. Raises ChangedMeanwhile, or NotAPhotograph: nothing is saved.
    """
    if finish.pk is not None:
        row = Finish.objects.select_for_update().get(pk=finish.pk)
        columns = [field.name for field in Finish._meta.concrete_fields if field.name != "saves"]
        check_opened(row, saves, differing(row, {name: getattr(finish, name) for name in columns}))
        finish.saves = row.saves
    finish.save()
    for side, content in (photographs or {}).items():
        copies, _ = copies_of(content)
        stored = keep(copies.screen_copy, name=f"{finish.code}-{side}.jpg", media_type=MEDIA_TYPE, owner_only=False)
        FinishPicture.objects.update_or_create(finish=finish, side=side, defaults={"file": stored, "caption": ""})
    remember(finish=finish)
    return finish


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
    values = {f.attname: getattr(step, f.attname) for f in Step._meta.concrete_fields
              if f.name not in ("id", "recipe_version", "number")}
    return add_copy(version, values, list(step.parts.all()), number)


def add_copy(version: RecipeVersion, values: Mapping[str, Any], parts: Sequence[Part], number: int = _FAR) -> Step:
    """Add a step of these values, with parts like these, at a number that is free, by itself far behind all others."""
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
    lock_draft(version, saves)
    order = _order(version)
    if len(order) >= MOST_STEPS:
        raise StepRefused(f"A recipe has at most {MOST_STEPS} steps.")
    step = Step.objects.create(recipe_version=version, number=_FAR, kind=kind, **kind_of(kind).fresh)
    _renumber(version, [*order[:after], step.pk, *order[after:]])
    step.refresh_from_db()
    return step


@transaction.atomic
def duplicate_step(version: RecipeVersion, saves: int, step: Step) -> Step:
    """Copy a step, right after itself."""
    lock_draft(version, saves)
    order = _order(version)
    if len(order) >= MOST_STEPS:
        raise StepRefused(f"A recipe has at most {MOST_STEPS} steps.")
    copy = copy_step(step, version, _FAR)
    at = order.index(step.pk) + 1
    _renumber(version, [*order[:at], copy.pk, *order[at:]])
    copy.refresh_from_db()
    return copy


@transaction.atomic
def move_step(version: RecipeVersion, saves: int, step: Step, to: int) -> None:
    """Move a step to a number, 1 the first; beyond either end it goes to that end."""
    lock_draft(version, saves)
    place_step(version, step, to)


def place_step(version: RecipeVersion, step: Step, to: int | None) -> None:
    """Give a step of a locked draft its number, beyond either end that end; None: the others close up without it."""
    order = [pk for pk in _order(version) if pk != step.pk]
    at = len(order) if to is None else min(max(to, 1), len(order) + 1) - 1
    _renumber(version, [*order[:at], step.pk, *order[at:]])


@transaction.atomic
def save_step(
    version: RecipeVersion, saves: int, step: Step, values: dict[str, Any], parts: Sequence[PartDraft]
) -> Step:
    """Save a step's values and its parts together.

    Raises StepRefused when the values break one of the step's own rules, StepRemoved when somebody removed it, or
    ChangedMeanwhile.
    """
    lock_draft(version, saves, lambda row: _step_in_words(row, step, values, parts), AGAIN)
    if not version.steps.filter(pk=step.pk).exists():
        raise StepRemoved
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


def _step_in_words(
    version: RecipeVersion, opened: Step, values: Mapping[str, Any], parts: Sequence[PartDraft]
) -> str:
    """Return what a step holds now where it differs from what was typed, and the steps around it."""
    step = version.steps.filter(pk=opened.pk).first()
    if step is None:
        return f"{_steps_in_words(version)}, without the step you opened"
    reads = f"{_steps_in_words(version)}; in step {step.number} {differing(step, values)}"
    rows = list(step.parts.select_related("solution_version__solution"))
    now = [(part.solution_version_id, part.strength, part.parts, part.mixed_for) for part in rows]
    if now == [(part.solution_version_id, part.strength, part.parts, part.mixed_for) for part in parts]:
        return reads
    held = " and ".join(f"{plain(part.parts)} of {part.solution_version} at strength {plain(part.strength)}, mixed for "
                        f"the {part.get_mixed_for_display()}" for part in rows)
    return f"{reads}; its parts: {held or 'none'}"


@transaction.atomic
def save_version_values(version: RecipeVersion, saves: int, **values: Any) -> None:
    """Save what a version says as a whole: why there is a new version, film, own yield."""
    lock_draft(version, saves, lambda row: differing(row, values), AGAIN)
    RecipeVersion.objects.filter(pk=version.pk).update(**values)


@transaction.atomic
def remove_draft(version: RecipeVersion, saves: int) -> None:
    """Remove a draft with its steps. Raises NotADraft when something came from it or uses it."""
    lock_draft(version, saves, again="Remove the draft again to remove it as it is now.")
    try:
        with transaction.atomic():
            version.delete()
    except IntegrityError as used:  # ProtectedError is one
        raise NotADraft(
            f"{version} cannot be removed: an order, a trial or another version refers to it."
        ) from used
