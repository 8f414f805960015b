"""Delivering while money of a job is not in: asked once, with the amount, and kept in the story."""

from __future__ import annotations

from typing import Any

from jobs.models import Job
from jobs.money.of_job import money_of, requests_of
from studio.kit.meant_so import Question, put

#: the name of the tick
UNPAID = "unpaid_meant_so"


def delivered_unpaid(job: Job, sent: Any) -> Question | None:
    """Return the question before a job is delivered; None where all is paid, or it cannot be delivered now.

    sent: what was posted; the tick counts for the amount that it was asked of. Two queries beside the job's quotes.
    """
    if not job.can_deliver:
        return None
    unpaid = money_of(job, list(job.acts.all()), "", requests_of(job)).unpaid_in_words
    return put(UNPAID, f"{unpaid} not in: deliver all the same?", unpaid, sent) if unpaid else None


def with_what_is_unpaid(question: Question | None, why: str) -> str:
    """Return the note of a delivery: what was not in, as it was asked, and why it went out all the same."""
    if question is None:
        return why
    unpaid = question.sentence.removesuffix(": deliver all the same?")
    return f"{unpaid}{f', delivered all the same: {why.strip()}' if why.strip() else ', and that was meant'}"
