"""What is still to make of a job, for its page and its run's."""

from __future__ import annotations

from django import template

from jobs.models import Job
from jobs.work.further_ticket import still_to_make as panes_still_to_make
from jobs.work.rest_plan import StillToMake

register = template.Library()


@register.filter
def still_to_make(job: Job) -> StillToMake | None:
    """Return the panes that the finished runs of a part done job fell short of; None of any other."""
    return panes_still_to_make(job) if job.can_print_further_ticket else None
