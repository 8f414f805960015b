"""What may be tried: stops hold for trials too. The owner may try against one, saying why; never ammoniacal silver."""

from __future__ import annotations

from recipes.finishes.bench_rules import first_stop, holds_ammoniacal_silver
from recipes.finishes.putting_in_use import check_by_the_house
from recipes.models import Trial
from recipes.trials.reading import facts_of
from studio.house.models import Person
from studio.kit.errors import DaybookError


class NotTried(DaybookError):
    """A trial that a stop of the bench rules stands against."""


def check_may_be_tried(trial: Trial, by: Person) -> None:
    """Refuse a trial, as it is written now, that a stop stands against. Its question is the owner's reason.

    Raises NotTried or NoProcedure.
    """
    facts = facts_of([trial])
    recipe = facts.tried[trial.pk]
    stop, ammoniacal = first_stop(recipe, facts.shelf), holds_ammoniacal_silver(recipe, facts.shelf)
    if ammoniacal:
        check_by_the_house(recipe, facts.shelf)
    if stop is None:
        return
    against = f"A stop stands against this: step {stop.step}, {stop.sentence}"
    if ammoniacal:
        raise NotTried(f"{against} With ammoniacal silver nothing is tried against a stop.")
    if not by.is_owner:
        raise NotTried(f"{against} Only the owner may try it all the same.")
    if not trial.question.strip():
        raise NotTried(f"{against} To try it all the same, write as the question why.", "question")
