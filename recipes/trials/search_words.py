"""The words that a trial is found by: its question, what it changed, its verdict and notes, its recipe's values."""

from __future__ import annotations

from recipes.models import Trial
from recipes.trials.reading import facts_of
from recipes.value_words import recipe_words


def words_of_trials(trials: list[Trial]) -> list[str]:
    """Return the words of each trial: its own on the first line."""
    facts, words = facts_of(trials), []
    for trial in trials:
        changes = " ".join(facts.changes_in_words(trial))
        notes = " ".join(note.text for note in trial.notes.all())
        own = (f"{trial} {trial.recipe_version.finish.name} {trial.question} {changes} {trial.get_verdict_display()} "
               f"{trial.kept_where}")
        values = f"{trial.water} {trial.glass or ''} {recipe_words(facts.tried[trial.pk], facts.shelf)}"
        words.append(f"{own} {notes}".replace("\n", " ") + f"\n{values}")
    return words
