"""Open tickets whose recipe versions are in doubt: they are recorded and finished, and say so."""

from __future__ import annotations

from collections.abc import Iterable

from jobs.models import Run
from recipes.finishes.in_doubt import doubts_of
from recipes.models import RecipeVersion
from recipes.solutions.putting_in_use import solutions_with
from studio.stockroom.models import Material


def keys_of(run: Run) -> list[str]:
    """Return the keys of the recipe versions on a run's ticket."""
    return [str(recipe["key"]) for recipe in run.ticket.plan["recipes"]]


def runs_in_doubt(runs: Iterable[Run]) -> list[tuple[Run, list[str]]]:
    """Return the runs with a recipe in doubt, each with why. runs: with their tickets and jobs fetched."""
    by_run = [(run, keys_of(run)) for run in runs]
    doubts = doubts_of(key for _, keys in by_run for key in keys)
    found = [(run, [doubts[key] for key in keys if key in doubts]) for run, keys in by_run]
    return [(run, said) for run, said in found if said]


def tickets_touched_by(material: Material) -> list[str]:
    """Return in sentences which open tickets hold a material, at any depth, in a recipe that is in doubt now."""
    holding = RecipeVersion.objects.filter(steps__parts__solution_version__in=solutions_with(material))
    keys = {version.key for version in holding.select_related("finish").distinct()}
    runs = [run for run in Run.objects.open().select_related("ticket__job") if keys & set(keys_of(run))]
    return [
        f"{run.ticket} of job {run.ticket.job.number} is open and in doubt: record and finish it, and make safe what "
        f"it mixed. {' '.join(said)}"
        for run, said in runs_in_doubt(runs)
    ]
