"""What is told and not put right by refusing: the truth was entered after the fact, or is not known yet.

A studio in doubt is no broken studio: its lots are held, its versions make nothing new, and its book is saved and read
back. What is unclassed and in use, and what stands where it should not, is told here as well.
"""

from __future__ import annotations

from collections.abc import Iterator

from jobs.models import Run
from jobs.work.in_doubt import runs_in_doubt
from recipes.facts import Shelf
from recipes.finishes.in_doubt import against_those_in_use
from recipes.models import MadeLot, RecipeVersion, SolutionVersion, VersionDoubt
from recipes.reading import shelf_for
from recipes.solutions.putting_in_use import stops_by_truth
from recipes.solutions.rules import unclassed_within
from recipes.trials.against_stops import open_trials_in_doubt
from studio.house.clock import house_zone, today
from studio.kit.asking import fetched
from studio.stockroom.materials import storage_findings, stored_materials
from studio.stockroom.places import containers_standing


def known_doubts() -> list[str]:
    """Return a sentence for each known doubt. The number of queries is fixed."""
    checks = (_solutions, _recipes, _tickets, _trials, _unclassed, _places)
    return list(dict.fromkeys(sentence for check in checks for sentence in check()))


def _solutions() -> Iterator[str]:
    versions = list(SolutionVersion.objects.filter(doubt__isnull=False).select_related("solution"))
    shelf = shelf_for([version.pk for version in versions], today())
    for version in versions:
        if stops := stops_by_truth(version, shelf):
            yield f"{version} is in doubt: {' '.join(stops)}"


def _recipes() -> Iterator[str]:
    """What stands against a version in use: a doubt, or a caution that came later. What is unclassed is told below."""
    later = {mark.recipe_version_id: mark for mark in VersionDoubt.objects.filter(stops=False)}
    for version, found in against_those_in_use():
        if not found.is_sound and not found.only_unclassed:
            yield found.doubt
        elif version.pk in later:
            mark = later[version.pk]
            yield (f"{version} has cautions since {mark.since.astimezone(house_zone()):%d %b %Y} that nobody "
                   f"acknowledged: {mark.why}")


def _tickets() -> Iterator[str]:
    for run, _ in runs_in_doubt(Run.objects.open().select_related("ticket__job")):
        yield (f"{run.ticket} of job {run.ticket.job.number} is open and in doubt: record it, make it safe and finish "
               "it.")


def _trials() -> Iterator[str]:
    for trial, why in open_trials_in_doubt():
        yield f"{trial} is open and in doubt: nothing more is mixed for it. {why}"


def _unclassed() -> Iterator[str]:
    """What nobody has classed in a solution that keeps or stands mixed ahead, or in a version in use."""
    kept = list(SolutionVersion.objects.filter(keeps_minutes__isnull=False).select_related("solution"))
    on_hand = MadeLot.objects.filter(lot__level__on_hand__gt=0)
    made = list(on_hand.select_related("lot__material", "solution_version__solution"))
    in_use = RecipeVersion.objects.in_use().select_related("finish").distinct()
    parts = [(version, part) for version in fetched(in_use, "steps__parts__solution_version__solution")
             for step in version.steps.all() for part in step.parts.all()]
    shelf = shelf_for({
        *(version.pk for version in kept), *(row.solution_version_id for row in made),
        *(part.solution_version_id for _, part in parts),
    }, today())
    for version in kept:
        yield from _said(f"{version} keeps", version.key, shelf)
    for row in made:
        yield from _said(f"{row.lot} is mixed ahead", row.solution_version.key, shelf)
    for recipe, part in parts:
        yield from _said(f"{recipe} is in use", part.solution_version.key, shelf)


def _said(what: str, key: str, shelf: Shelf) -> Iterator[str]:
    for name in unclassed_within(key, shelf):
        yield (f"{what}, and nobody has said what {name} in it reacts as, or that its data sheet was read and none "
               "apply.")


def _places() -> Iterator[str]:
    """What must not share its place, or stands in one that does not suit it: where things stand is never refused."""
    for finding in storage_findings([*stored_materials(), *containers_standing()]):
        yield finding.sentence
