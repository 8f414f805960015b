"""What differs between two recipe versions: steps added, removed and changed, values side by side. Pure."""

from __future__ import annotations

from dataclasses import dataclass, fields
from difflib import SequenceMatcher

from recipes.facts import PartFacts, RecipeFacts, Shelf, StepFacts
from recipes.value_words import VALUES, strength_words, value_words
from studio.kit.rounding import decimal_string

#: values of a step that are not compared one by one
_NOT_COMPARED = {"number", "kind", "name", "parts"}


@dataclass(frozen=True, kw_only=True)
class ChangedValue:
    """One value that differs, as read: old and new, "none" where there is none."""

    name: str
    old: str
    new: str


@dataclass(frozen=True, kw_only=True)
class ChangedStep:
    """A step of either version. what: added, removed, moved or changed; a number is None where there is no step."""

    what: str
    name: str
    old_number: int | None
    new_number: int | None
    values: tuple[ChangedValue, ...] = ()

    @property
    def number(self) -> int | None:
        """Return its number in the new version, else in the old one."""
        return self.new_number if self.new_number is not None else self.old_number

    @property
    def stays(self) -> bool:
        """Say whether it is in both versions at the same place, with other values."""
        return self.what == "changed"

    @property
    def has_moved(self) -> bool:
        return self.what == "moved"

    @property
    def is_in_both(self) -> bool:
        return self.stays or self.has_moved

    @property
    def is_new(self) -> bool:
        return self.what == "added"


@dataclass(frozen=True, kw_only=True)
class Difference:
    """What differs between two versions: values of the recipe as a whole, and steps."""

    whole: tuple[ChangedValue, ...]
    steps: tuple[ChangedStep, ...]

    @property
    def nothing(self) -> bool:
        return not self.whole and not self.steps


def difference(old: RecipeFacts, new: RecipeFacts, shelf: Shelf, preference: str = "metric") -> Difference:
    """Return what differs. Steps are matched by kind and name, in order; a renamed step by its kind and place.

    A step that is in both, but at another place among the others, has moved.
    """
    steps: list[ChangedStep] = []
    for a, b in _matched(old.steps, new.steps):
        if a is not None and b is not None:
            changed = _compared(a, b, shelf, preference)
            steps += [changed] if changed is not None else []
        else:
            steps += [_alone("removed", a)] if a is not None else []
            steps += [_alone("added", b)] if b is not None else []
    whole = [
        ChangedValue(name=name, old=value_words(what, a, shelf), new=value_words(what, b, shelf))
        for name, what, a, b in (
            ("film", "film_nm", old.film_nm, new.film_nm),
            ("own yield", "overspill_share", old.own_yield, new.own_yield),
        ) if a != b
    ]
    return Difference(whole=tuple(whole), steps=tuple(_moves_joined(steps, old, new, shelf, preference)))


Pair = tuple[StepFacts | None, StepFacts | None]


def _matched(old: tuple[StepFacts, ...], new: tuple[StepFacts, ...]) -> list[Pair]:
    pairs: list[Pair] = []
    matcher = SequenceMatcher(
        a=[(step.kind, step.name) for step in old], b=[(step.kind, step.name) for step in new], autojunk=False,
    )
    for tag, old_from, old_to, new_from, new_to in matcher.get_opcodes():
        before, after = list(old[old_from:old_to]), list(new[new_from:new_to])
        if tag == "equal" or (tag == "replace" and [s.kind for s in before] == [s.kind for s in after]):
            pairs += zip(before, after, strict=True)
        else:
            pairs += [(step, None) for step in before] + [(None, step) for step in after]
    return pairs


def _moves_joined(
    steps: list[ChangedStep], old: RecipeFacts, new: RecipeFacts, shelf: Shelf, preference: str
) -> list[ChangedStep]:
    """Join what was removed at one place and added at another, alike in kind and name, into one moved step."""
    before = {step.number: step for step in old.steps}
    after = {step.number: step for step in new.steps}
    removed = [step for step in steps if step.what == "removed"]
    joined: list[ChangedStep] = []
    moved_from: set[int] = set()
    for step in steps:
        if step.what != "added":
            joined.append(step)
            continue
        there = after[step.new_number or 0]
        match = next((
            other for other in removed if other.old_number not in moved_from
            and (before[other.old_number or 0].kind, before[other.old_number or 0].name) == (there.kind, there.name)
        ), None)
        if match is None:
            joined.append(step)
            continue
        moved_from.add(match.old_number or 0)
        changed = _compared(before[match.old_number or 0], there, shelf, preference)
        joined.append(ChangedStep(what="moved", name=step.name, old_number=match.old_number, new_number=step.new_number,
                                  values=changed.values if changed else ()))
    return [step for step in joined if not (step.what == "removed" and step.old_number in moved_from)]


def _alone(what: str, step: StepFacts) -> ChangedStep:
    return ChangedStep(
        what=what, name=step.name or step.kind, old_number=step.number if what == "removed" else None,
        new_number=step.number if what == "added" else None,
    )


def _compared(old: StepFacts, new: StepFacts, shelf: Shelf, preference: str) -> ChangedStep | None:
    values = [
        ChangedValue(name=VALUES[field.name][0],
                     old=value_words(field.name, getattr(old, field.name), shelf, preference),
                     new=value_words(field.name, getattr(new, field.name), shelf, preference))
        for field in fields(StepFacts)
        if field.name not in _NOT_COMPARED and getattr(old, field.name) != getattr(new, field.name)
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
    described = []
    for part in parts:
        solution = shelf.solutions[part.solution]
        strength = "" if part.strength == 1 else f" at {strength_words(part.strength)}"
        share = f"{decimal_string(part.parts, 6)} part{'' if part.parts == 1 else 's'}, " if len(parts) > 1 else ""
        described.append(
            f"{solution.name}, version {solution.version_number}{strength}, {share}mixed for "
            + ("as many loads as it works for" if part.mixed_for == "loads" else f"the {part.mixed_for}")
        )
    return "; ".join(described) or "nothing"
