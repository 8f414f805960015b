"""What customers said at their private addresses that nobody here has read yet: told on Today and on the job's page.

Reading is an act of its own, so that a page that was merely opened, or fetched ahead, hides nothing.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from jobs.models import AnswerRead, CustomerAnswer, Job, SampleApproval
from jobs.models.quotes import frozen_of
from studio.house.clock import now
from studio.house.models import Person

#: what was said longer ago is not told any more
TOLD_DAYS = 60


@dataclass(frozen=True, kw_only=True)
class Unread:
    """Something that a customer said, in words, and when. answer, sample: the row that it is of; one of the two."""

    at: datetime
    what: str
    answer: CustomerAnswer | None = None
    sample: SampleApproval | None = None


def unread(job: int | None = None) -> dict[int, list[Unread]]:
    """Return what nobody read yet by the id of its job, the oldest first. job: only of that one. Two queries.

    Whoever booked a job after an answer has read it.
    """
    since = now() - timedelta(days=TOLD_DAYS)
    answers = CustomerAnswer.objects.filter(read=None, at__gte=since).select_related("link__quote__order__job").defer(
        *frozen_of("link__quote"))
    samples = SampleApproval.objects.standing().filter(
        read=None, how=SampleApproval.How.PAGE, approved_at__gte=since).select_related("recipe_version__finish")
    if job is not None:
        answers, samples = answers.filter(link__quote__order__job=job), samples.filter(job=job)
    found: dict[int, list[Unread]] = defaultdict(list)
    for answer in answers:
        booked_at = answer.link.quote.order.job.booked_at
        if booked_at is not None and booked_at > answer.at:
            continue
        of_it = f"{answer.choice} of {answer.link.quote}" if answer.choice else str(answer.link.quote)
        said = f": “{answer.said}”" if answer.said else ""
        found[answer.link.quote.order.job.pk].append(Unread(
            at=answer.at, answer=answer,
            what=f"{answer.name} {'accepted' if answer.accepted else 'declined'} {of_it}{said}"))
    for row in samples:
        assert row.approved_at is not None  # rows were asked for by it
        found[row.job_id].append(Unread(
            at=row.approved_at, sample=row,
            what=f"{row.approved_by} approved the sample of {row.recipe_version.finish.name}"))
    return {pk: sorted(mine, key=lambda one: one.at) for pk, mine in found.items()}


@transaction.atomic
def mark_read(job: Job, by: Person, until: datetime) -> int:
    """Record that somebody read what was said of a job up to a moment, and return how much that was."""
    job = Job.objects.select_for_update().get(pk=job.pk)
    mine = [one for one in unread(job.pk).get(job.pk, ()) if one.at <= until]
    for one in mine:
        AnswerRead.objects.create(answer=one.answer, sample=one.sample, at=now(), by=by)
    return len(mine)
