"""Stops hold for trials too: the owner may try against one, with a reason that stands with the trial.

Never with ammoniacal silver; a helper never. What became a stop since, by the truth about a material, holds as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from recipes.finishes.bench_rules import Finding, holds_ammoniacal_silver, walk
from recipes.finishes.putting_in_use import check_by_the_house
from recipes.models import Trial, TriedAgainst
from recipes.trials.changing import NoSuchChange
from recipes.trials.reading import TrialFacts, facts_of
from studio.house.models import Person
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.roles import May


class StopStands(DaybookError):
    """A trial against which a stop stands that nobody may try, or whose reason nobody wrote."""


def stops_of(trial: Trial) -> tuple[list[Finding], bool]:
    """Return the stops that stand against a trial's steps and are not tried against; and whether nobody may try them.
    """
    return _stops_of(trial, facts_of([trial]))


def _stops_of(trial: Trial, facts: TrialFacts) -> tuple[list[Finding], bool]:
    tried = facts.tried[trial.pk]
    stops = [finding for finding in walk(tried, facts.shelf) if finding.stops]
    never = bool(stops) and holds_ammoniacal_silver(tried, facts.shelf)
    known = set() if never else {(row.step, row.rule, row.sentence) for row in trial.tried_against.all()}
    return [stop for stop in stops if (stop.step, stop.rule, stop.sentence) not in known], never


def trials_in_doubt(trials: Iterable[Trial]) -> list[tuple[Trial, str]]:
    """Return the trials against which a stop stands that is not tried against, each with why.

    The number of queries is fixed. trials: with their finishes fetched.
    """
    rows = fetched(trials, "changes", "tried_against")
    facts = facts_of(rows)
    found = [(trial, _stops_of(trial, facts)[0]) for trial in rows]
    return [(trial, _in_words(stops)) for trial, stops in found if stops]


def open_trials_in_doubt() -> list[tuple[Trial, str]]:
    """Return the open trials against which a stop stands; none where one cannot be read, which the audit says."""
    try:
        return trials_in_doubt(Trial.objects.filter(closed_at=None).select_related("recipe_version__finish"))
    except NoSuchChange:
        return []


def _in_words(stops: list[Finding]) -> str:
    return " ".join(f"Step {stop.step}: {stop.sentence}" for stop in stops)


def try_against(trial: Trial, by: Person, because: str, at: datetime) -> None:
    """Keep the owner's reason with each stop that stands against a trial.

    Raises StopStands where there is none, and NoProcedure for ammoniacal silver that nobody has written how to make
    safe.
    """
    facts = facts_of([trial])
    check_by_the_house(facts.tried[trial.pk], facts.shelf)
    stops, never = stops_of(trial)
    if not stops:
        return
    if never:
        raise StopStands(f"{_in_words(stops)} With ammoniacal silver nobody tries against that.")
    if not by.may(May.OVERRULE):
        raise StopStands(f"{_in_words(stops)} Only the owner can try against that, and writes why.")
    if not because.strip():
        raise StopStands(f"{_in_words(stops)} Write why it is tried all the same.", "against_because")
    TriedAgainst.objects.bulk_create([
        TriedAgainst(trial=trial, step=stop.step, rule=stop.rule, sentence=stop.sentence, because=because.strip()[:300],
                     by=by, at=at)
        for stop in stops
    ])


def refuse_stops_that_stand(trial: Trial) -> None:
    """Refuse to go on with a trial while a stop stands that is not tried against. Raises StopStands."""
    stops, never = stops_of(trial)
    if stops:
        raise StopStands(f"{_in_words(stops)} " + (
            "With ammoniacal silver nobody tries against that: change it, or close the trial as not worth it." if never
            else "The owner can write why it is tried all the same, under “Change the values”; or close the trial as "
            "not worth it."))
