"""The stages of a job on their bar: passed, here, still ahead."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.models import Job
from jobs.work import states

STAGES = (states.ENQUIRY, states.QUOTED, states.BOOKED, states.ON_THE_BENCH, states.FINISHED, states.DELIVERED)
PAST, HERE, AHEAD, ENDED = "past", "here", "ahead", "ended"


@dataclass(frozen=True, kw_only=True)
class Stage:
    name: str
    how: str


def course_of(job: Job, *, began: bool) -> list[Stage]:
    """Return a job's stages in order. Part done stands in place of finished; a cancelled one ends where it had come.

    began: whether anything was recorded on the bench.
    """
    state = job.standing
    if state == states.CANCELLED:
        reached = _reached(job, began)
        names = [states.PART_DONE if name == states.FINISHED else name for name in STAGES]
        passed = [Stage(name=name, how=PAST) for name in names[:names.index(reached) + 1]]
        return [*passed, Stage(name=states.CANCELLED, how=ENDED)]
    stages = [states.PART_DONE if state == states.PART_DONE and name == states.FINISHED else name for name in STAGES]
    here = stages.index(state)
    last = len(stages) - 1
    return [Stage(name=name, how=PAST if at < here or here == last else HERE if at == here else AHEAD)
            for at, name in enumerate(stages)]


def _reached(job: Job, began: bool) -> str:
    """Return how far a job had come that was cancelled, by what is left of it."""
    runs = [run for ticket in job.tickets.all() if (run := ticket.own_run) is not None]
    if runs and all(run.finished_at is not None and not run.stopped for run in runs):
        return states.PART_DONE
    if job.booked_at is not None:
        return states.ON_THE_BENCH if began else states.BOOKED
    was_out = any(quote.sent_at is not None or quote.is_accepted for quote in job.order.quotes.all())
    return states.QUOTED if was_out else states.ENQUIRY
