"""Open tickets, and booked jobs, whose recipe versions are in doubt: what is open is recorded and finished, says so."""

from __future__ import annotations

from collections.abc import Iterable

from jobs.models import Job, Run, WorkTicket
from jobs.work import states
from jobs.work.known_now import known_now, silver_after_all
from jobs.work.ticketing import plan_of
from recipes.finishes.in_doubt import doubts_of
from recipes.models import RecipeVersion
from recipes.solutions.putting_in_use import solutions_with
from studio.kit.asking import fetched
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


def doubts_of_ticket(ticket: WorkTicket) -> list[str]:
    """Return what became known since a ticket was printed, while its run goes on: a stop, or ammoniacal silver."""
    run = ticket.own_run
    if run is None or run.finished_at is not None:
        return []
    printed = plan_of(ticket)
    return [*(said for _, doubts in runs_in_doubt([run]) for said in doubts),
            *silver_after_all(printed, known_now(printed))]


def jobs_in_doubt(jobs: Iterable[Job]) -> list[tuple[Job, list[str]]]:
    """Return the booked jobs without a ticket that rest on a version in doubt, each with why.

    jobs: with their orders' lines and versions fetched, and their tickets.
    """
    resting = [(job, list(dict.fromkeys(line.recipe_version.key for line in job.order.lines.all())))
               for job in jobs if job.state == states.BOOKED and not job.tickets.all()]
    doubts = doubts_of(key for _, keys in resting for key in keys)
    found = [(job, [doubts[key] for key in keys if key in doubts]) for job, keys in resting]
    return [(job, said) for job, said in found if said]


def tickets_touched_by(material: Material) -> list[str]:
    """Return in sentences which open tickets, and booked jobs, hold a material, at any depth, and are in doubt now."""
    holding = RecipeVersion.objects.filter(steps__parts__solution_version__in=solutions_with(material))
    keys = {version.key for version in holding.select_related("finish").distinct()}
    if not keys:
        return []
    runs = [run for run in Run.objects.open().select_related("ticket__job__quote") if keys & set(keys_of(run))]
    open_now = [(run, doubts_of_ticket(run.ticket)) for run in runs]
    booked = fetched(Job.objects.booked().select_related("order"), "order__lines__recipe_version__finish", "tickets")
    return [
        *(f"{run.ticket} of job {run.ticket.job.number} is open and in doubt: record and finish it, and make safe what "
          f"it mixed. {' '.join(said)}" for run, said in open_now if said),
        *(f"{job} is booked and in doubt: no ticket of it is printed until its recipe is sound. {' '.join(said)}"
          for job, said in jobs_in_doubt(booked)
          if keys & {line.recipe_version.key for line in job.order.lines.all()}),
    ]
