"""Changes of a trial as values on the steps of its version: applied, and found by comparing. Pure.

A change names a step by its number in the version (0: the recipe as a whole), a part of it (0: the step
itself), what changes, and the new value as text: amounts as plain decimals in the unit of their name,
“yes” and “no”, a solution by its key. A step that is left out is a change too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from typing import Any, get_args, get_type_hints

from recipes.facts import LEFT_OUT, NO, YES, PartFacts, RecipeFacts, StepFacts
from studio.kit.errors import DaybookError
from studio.kit.rounding import decimal_string
from studio.kit.typed_numbers import read_exact, read_whole

#: what a trial may change of a step; its kind, number and parts' number stay
_FIXED = {"number", "kind", "parts", "coverage_source"}
_KINDS = get_type_hints(StepFacts)
STEP_VALUES: dict[str, Any] = {
    attribute.name: _KINDS[attribute.name] for attribute in fields(StepFacts) if attribute.name not in _FIXED
}
PART_VALUES = ("solution", "strength", "parts", "mixed_for")
WHOLE_VALUES = ("film_nm",)


class NoSuchChange(DaybookError):
    """A change that names a step, part or value that the version does not have."""


@dataclass(frozen=True, kw_only=True, order=True)
class Change:
    """One changed value. step 0 is the recipe as a whole, part 0 the step itself."""

    step: int
    part: int = 0
    what: str
    value: str


def as_text(value: object) -> str:
    """Return a value as a change keeps it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return YES if value else NO
    return decimal_string(value) if isinstance(value, Fraction) else str(value)


def _as_value(text: str, like: object, kind: object) -> object:
    """Return a kept text as a value of the same kind as one it replaces."""
    if isinstance(like, bool):
        return text == YES
    if Fraction in (kind, *get_args(kind)):
        return read_exact(text) if text else None
    return read_whole(text) if isinstance(like, int) else text


def apply(recipe: RecipeFacts, changes: Iterable[Change]) -> RecipeFacts:
    """Return the recipe with changes applied; steps keep their numbers. Raises NoSuchChange."""
    steps = {step.number: step for step in recipe.steps}
    for change in sorted(changes):
        if change.step == 0:
            if change.what not in WHOLE_VALUES:
                raise NoSuchChange(f"A recipe as a whole has no “{change.what}” to change.")
            recipe = replace(recipe, film_nm=read_exact(change.value))
        elif change.step not in steps:
            if not any(step.number == change.step for step in recipe.steps):
                raise NoSuchChange(f"There is no step {change.step} to change.")
        elif change.what == LEFT_OUT:
            del steps[change.step]
        else:
            steps[change.step] = _changed(steps[change.step], change)
    return replace(recipe, steps=tuple(steps[number] for number in sorted(steps)))


def _changed(step: StepFacts, change: Change) -> StepFacts:
    if change.part == 0:
        if change.what not in STEP_VALUES:
            raise NoSuchChange(f"A step has no “{change.what}” to change.")
        more: dict[str, Any] = {"coverage_source": ""} if change.what == "coverage_ml_per_m2" else {}
        value: Any = _as_value(change.value, getattr(step, change.what), STEP_VALUES[change.what])
        return replace(step, **{change.what: value}, **more)
    if change.part > len(step.parts) or change.what not in PART_VALUES:
        raise NoSuchChange(f"Step {step.number} has no part {change.part} with a “{change.what}” to change.")
    parts = list(step.parts)
    old = parts[change.part - 1]
    new: Any = _as_value(change.value, getattr(old, change.what), get_type_hints(PartFacts)[change.what])
    parts[change.part - 1] = replace(old, **{change.what: new})
    return replace(step, parts=tuple(parts))


def changes_between(base: RecipeFacts, other: RecipeFacts) -> tuple[Change, ...]:
    """Return what changes a recipe into another whose steps carry the same numbers, or are left out.

    Raises NoSuchChange where the other holds a step that the base does not.
    """
    found: list[Change] = []
    if base.film_nm != other.film_nm:
        found.append(Change(step=0, what="film_nm", value=as_text(other.film_nm)))
    theirs = {step.number: step for step in other.steps}
    unknown = theirs.keys() - {step.number for step in base.steps}
    if unknown:
        raise NoSuchChange(f"There is no step {min(unknown)} to change.")
    for step in base.steps:
        if step.number not in theirs:
            found.append(Change(step=step.number, what=LEFT_OUT, value=YES))
        else:
            found += _of_step(step, theirs[step.number])
    return tuple(sorted(found))


def _of_step(old: StepFacts, new: StepFacts) -> list[Change]:
    found = [
        Change(step=old.number, what=name, value=as_text(getattr(new, name)))
        for name in STEP_VALUES if getattr(old, name) != getattr(new, name)
    ]
    if len(old.parts) != len(new.parts):
        raise NoSuchChange(f"Step {old.number} applies {len(old.parts)} solutions: a trial changes them, "
                           "it does not add or remove one. Start a draft for that.")
    for number, (before, after) in enumerate(zip(old.parts, new.parts, strict=True), start=1):
        found += [
            Change(step=old.number, part=number, what=name, value=as_text(getattr(after, name)))
            for name in PART_VALUES if getattr(before, name) != getattr(after, name)
        ]
    return found


def renumbered(recipe: RecipeFacts) -> RecipeFacts:
    """Return a recipe with its steps numbered 1, 2, 3 …: as a draft made from it stands."""
    return replace(recipe, steps=tuple(
        replace(step, number=number) for number, step in enumerate(recipe.steps, start=1)
    ))


def solutions_named(changes: Sequence[Change]) -> set[str]:
    """Return the keys of solutions that changes use instead of others."""
    return {change.value for change in changes if change.what == "solution"}
