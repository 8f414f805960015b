"""Labels for the backs of a ticket's panes: job and pane, finish and version, date, and a code for its record.

No customer: a mirror may hang where anybody turns it round.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.conf import settings
from django.urls import reverse

from jobs.models import Run
from jobs.work.bench import NOT_STARTED, SPOILT, bench_state
from studio.house.clock import house_zone
from studio.house.models import House
from studio.house.paper import render_pdf


@dataclass(frozen=True, kw_only=True)
class PaneLabel:
    """One label. made_on: the day its run was finished; None while it is open: a blank to write on."""

    label: str
    finish: str
    version: int
    shape: str
    width_mm: Fraction
    height_mm: Fraction
    made_on: date | None
    address: str


def pane_labels(run: Run) -> list[PaneLabel]:
    """Return a label for every pane of a run that is neither spoilt nor left out."""
    state = bench_state(run)
    left_out = {pane.label for pane in state.panes if pane.outcome in (SPOILT, NOT_STARTED)}
    versions = {recipe.key: recipe.version for recipe in state.plan.recipes}
    made_on = run.finished_at.astimezone(house_zone()).date() if run.finished_at and not run.stopped else None
    page = settings.PUBLIC_URL + reverse("jobs:run", args=[run.pk])
    return [
        PaneLabel(
            label=pane.label, finish=pane.finish, version=versions[pane.recipe], shape=pane.shape,
            width_mm=pane.width_mm, height_mm=pane.height_mm, made_on=made_on, address=f"{page}#pane-{pane.label}",
        )
        for pane in state.plan.panes if pane.label not in left_out
    ]


def pane_labels_paper(run: Run) -> bytes:
    """Return the labels as PDF, three beside each other, to cut apart."""
    house = House.objects.first()
    return render_pdf("jobs/work/documents/pane_labels.html", {
        "run": run, "ticket": run.ticket, "job": run.ticket.job, "house": house, "labels": pane_labels(run),
        "units": house.units if house else "metric", "paper_size": house.paper if house else "A4",
    })
