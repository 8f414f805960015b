"""One change of a trial in words: “Sensitise: strength as written → double strength”. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from recipes.facts import RecipeFacts, Shelf
from recipes.trials.changing import Change
from recipes.value_words import VALUES, value_words


def change_in_words(
    change: Change, recipe: RecipeFacts, tried: RecipeFacts, shelf: Shelf, preference: str = "metric"
) -> str:
    """Return one change in words: “Sensitise: strength as written → double strength”."""
    if change.step == 0:
        return (f"film {value_words('film_nm', recipe.film_nm, shelf)} → "
                f"{value_words('film_nm', tried.film_nm, shelf)}")
    old = next((step for step in recipe.steps if step.number == change.step), None)
    new = next((step for step in tried.steps if step.number == change.step), None)
    if old is None:
        return f"step {change.step}: {change.what} {change.value}"
    if new is None:
        return f"{old.name}: left out"
    name = VALUES.get(change.what, (change.what, ""))[0]
    owners: Sequence[object] = (old, new) if change.part == 0 else (
        old.parts[change.part - 1], new.parts[change.part - 1]
    )
    before, after = (value_words(change.what, getattr(owner, change.what), shelf, preference) for owner in owners)
    of = ""
    if change.part and len(old.parts) > 1 and change.what != "solution":
        of = f" of {shelf.solutions[old.parts[change.part - 1].solution].name}"
    return f"{old.name}: {name}{of} {before} → {after}"
