"""What differs between two recipe issues: steps added, removed and changed, values side by side. Pure."""

from __future__ import annotations

from dataclasses import dataclass, fields
from difflib import SequenceMatcher
from fractions import Fraction

from recipes.facts import PartFacts, RecipeFacts, Shelf, StepFacts
from studio.rounding import decimal_string

#: what a value is called, and its unit; what is left out here does not count as a difference
VALUES: dict[str, tuple[str, str]] = {
    "how": ("how applied", ""), "coats": ("coats", ""), "coverage_ml_per_m2": ("coverage", "mL/m²"),
    "coverage_source": ("coverage from", ""), "border_mm": ("border", "mm"),
    "extra_per_pane_ml": ("extra per pane", "mL"), "overspill_share": ("overspill", "of it"),
    "loss_per_load_ml": ("loss per load", "mL"), "dwell_minutes": ("dwell", "min"),
    "dwell_attended": ("attended", ""), "motion": ("motion", ""), "pane_lies": ("pane lies", ""),
    "drying": ("drying", ""), "rinse_full": ("full rinse", ""), "rinse_water": ("rinse water", ""),
    "surface_before": ("surface before", ""), "harshness": ("harshness", ""),
    "minutes_per_load": ("time per load", "min"), "minutes_per_pane": ("time per pane", "min"),
    "minutes_per_m2": ("time per m²", "min"), "hands": ("hands", ""), "temperature_low_c": ("from", "°C"),
    "temperature_high_c": ("to", "°C"), "instructions": ("instructions", ""), "looks_good": ("looks good", ""),
    "cautions": ("cautions", ""),
}


@dataclass(frozen=True, kw_only=True)
class ChangedValue:
    """One value that differs, as read: old and new, "none" where there is none."""

    name: str
    old: str
    new: str


@dataclass(frozen=True, kw_only=True)
class ChangedStep:
    """A step of either issue. what: added, removed, changed; numbers are None where it does not stand."""

    what: str
    name: str
    old_number: int | None
    new_number: int | None
    values: tuple[ChangedValue, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Difference:
    whole: tuple[ChangedValue, ...]
    steps: tuple[ChangedStep, ...]

    @property
    def nothing(self) -> bool:
        return not self.whole and not self.steps


def difference(old: RecipeFacts, new: RecipeFacts, shelf: Shelf) -> Difference:
    """Return what differs. Steps are matched by kind and name, in order; a renamed step by its kind and place."""
    steps: list[ChangedStep] = []
    matcher = SequenceMatcher(
        a=[(step.kind, step.name) for step in old.steps], b=[(step.kind, step.name) for step in new.steps],
        autojunk=False,
    )
    for tag, old_from, old_to, new_from, new_to in matcher.get_opcodes():
        before, after = list(old.steps[old_from:old_to]), list(new.steps[new_from:new_to])
        if tag == "replace" and [s.kind for s in before] == [s.kind for s in after]:
            tag = "equal"
        if tag == "equal":
            changed = (_compared(a, b, shelf) for a, b in zip(before, after, strict=True))
            steps += [step for step in changed if step is not None]
        else:
            steps += [_alone("removed", step) for step in before] + [_alone("added", step) for step in after]
    whole = [
        ChangedValue(name=name, old=_shown(a, unit), new=_shown(b, unit))
        for name, unit, a, b in (
            ("film", "nm", old.film_nm, new.film_nm), ("own yield", "", old.own_yield, new.own_yield),
        ) if a != b
    ]
    return Difference(whole=tuple(whole), steps=tuple(steps))


def _alone(what: str, step: StepFacts) -> ChangedStep:
    return ChangedStep(
        what=what, name=step.name or step.kind, old_number=step.number if what == "removed" else None,
        new_number=step.number if what == "added" else None,
    )


def _compared(old: StepFacts, new: StepFacts, shelf: Shelf) -> ChangedStep | None:
    values = [
        ChangedValue(name=VALUES[field.name][0], old=_shown(getattr(old, field.name), VALUES[field.name][1]),
                     new=_shown(getattr(new, field.name), VALUES[field.name][1]))
        for field in fields(StepFacts)
        if field.name in VALUES and getattr(old, field.name) != getattr(new, field.name)
    ]
    if old.name != new.name:
        values.insert(0, ChangedValue(name="name", old=old.name, new=new.name))
    if old.parts != new.parts:
        values.insert(0, ChangedValue(name="applies", old=_parts(old.parts, shelf), new=_parts(new.parts, shelf)))
    if not values:
        return None
    return ChangedStep(what="changed", name=new.name or new.kind, old_number=old.number, new_number=new.number,
                       values=tuple(values))


def _parts(parts: tuple[PartFacts, ...], shelf: Shelf) -> str:
    told = []
    for part in parts:
        solution = shelf.solutions[part.solution]
        strength = "" if part.strength == 1 else f" at {decimal_string(part.strength, 6)} × strength"
        told.append(f"{solution.name}, issue {solution.issue_number}{strength}, "
                    f"{decimal_string(part.parts, 6)} part, mixed for the {part.mixed_for}")
    return "; ".join(told) or "nothing"


def _shown(value: object, unit: str) -> str:
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    figure = decimal_string(value, 6) if isinstance(value, Fraction) else str(value)
    return f"{figure} {unit}".strip()
