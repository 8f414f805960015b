"""Open trials that the truth about a material touches: their clocks start, and what a stop stands against is named."""

from __future__ import annotations

from datetime import datetime
from uuid import NAMESPACE_URL, uuid5

from recipes.clocks import keeper, start_clock, till_now
from recipes.finishes.bench_rules import clock_starts
from recipes.models import Trial
from recipes.solutions.putting_in_use import solution_keys_with, solutions_with
from recipes.trials.against_stops import trials_in_doubt
from recipes.trials.reading import facts_of, trials_with_all
from studio.house.models import Person
from studio.kit.asking import fetched
from studio.stockroom.hazards.classes import SILVER, with_implied
from studio.stockroom.made_here import classes_of_lots
from studio.stockroom.models import Material


def start_clocks_of_trials(material: Material, by: Person | None) -> None:
    """Start the clocks of open trials that took silver, from when it was taken: nobody was asked when it was mixed.

    Whoever mixed it later, or not at all, says so by making it safe.
    """
    who = keeper(by)
    if who is None or not solutions_with(material):
        return
    trials = fetched(
        trials_with_all().filter(closed_at=None, uses__isnull=False).distinct(),
        "clocks", "uses__posting__movements__lot__material", "uses__posting__movements__reversed_by",
    )
    facts = facts_of(trials)
    for trial in trials:
        known = {(clock.subject, clock.what) for clock in trial.clocks.all()}
        new = [start for start in clock_starts(facts.tried[trial.pk], facts.shelf)
               if (start.key, start.what[:160]) not in known]
        since = _silver_taken_at(trial) if new else None
        if since is None:
            continue
        for start in new:
            key = uuid5(NAMESPACE_URL, f"silvering-daybook:clock-of-trial:{trial.form_key}:{start.key}:{start.what}")
            start_clock(key=key, by=who, subject=start.key, what=start.what, began=start.began,
                        done_at=till_now(since), trial=trial)


def trials_touched_by(material: Material) -> list[str]:
    """Return in sentences which open trials hold a material, at any depth, and have a stop against them now."""
    keys = solution_keys_with(material)
    if not keys:
        return []
    trials = fetched(Trial.objects.filter(closed_at=None).select_related("recipe_version__finish"), "changes")
    facts = facts_of(trials)
    holding = [trial for trial in trials if keys & {
        part.solution for step in facts.tried[trial.pk].steps for part in step.parts}]
    return [f"{trial} is open and in doubt: nothing more is mixed for it. {why}"
            for trial, why in trials_in_doubt(holding)]


def _silver_taken_at(trial: Trial) -> datetime | None:
    """Return when a trial first took silver that it did not give back; None where it took none."""
    moved = [(use.posting.at, movement.lot) for use in trial.uses.all() for movement in use.posting.movements.all()
             if getattr(movement, "reversed_by", None) is None]
    classes = classes_of_lots([lot for _, lot in moved])
    return min((at for at, lot in moved if with_implied(classes[lot.pk]) & SILVER), default=None)
