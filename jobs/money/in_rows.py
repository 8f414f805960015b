"""What came in of a job and what was asked for, as the database sums it: to find the few jobs that owe among all there
were. What a page shows of them is summed exactly afterwards (SQLite sums decimals as it sums any number).
"""

from __future__ import annotations

from django.db.models import Case, DecimalField, F, OuterRef, Q, Subquery, Sum, When
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce

from jobs.models import JobAct, MoneyRequest, Quote
from jobs.models.jobs import JobRows
from jobs.work import states

_MONEY = DecimalField()
Kind = MoneyRequest.Kind


def came_in() -> Coalesce:
    """Return what came in of a job and was not given back, for its own row."""
    signed = Case(When(kind=JobAct.Kind.PAID, then=F("amount")), default=-F("amount"), output_field=_MONEY)
    acts = JobAct.objects.filter(job=OuterRef("pk"), kind__in=[JobAct.Kind.PAID, JobAct.Kind.GIVEN_BACK],
                                 undone_by=None).order_by().values("job")
    return Coalesce(Subquery(acts.annotate(sum=Sum(signed)).values("sum")), 0, output_field=_MONEY)


def asked_for(of: Q | None = None) -> Coalesce:
    """Return what was asked for of a job, less what was taken back, for its own row. of: of these requests alone."""
    requests = MoneyRequest.objects.filter(of or Q(), job=OuterRef("pk")).order_by().values("job")
    return Coalesce(Subquery(requests.annotate(sum=Sum("total", output_field=_MONEY)).values("sum")), 0,
                    output_field=_MONEY)


def agreed() -> Coalesce:
    """Return the total of the accepted quote of a job's order, for its own row."""
    # by the index of what lists ask; the quote that the job names is this one, or waits for its answer
    accepted = Quote.objects.filter(order=OuterRef("order"), state=Quote.State.ACCEPTED).order_by("-revision")
    return Coalesce(Subquery(accepted.values("total")[:1]), 0, output_field=_MONEY)


def fees() -> Coalesce:
    """Return what was asked for the samples of a job, less what was taken back, for its own row."""
    return asked_for(Q(kind=Kind.SAMPLE) | Q(credits__kind=Kind.SAMPLE))


def due_in_all() -> Combinable:
    """Return what a job comes to, for its own row: what was agreed, and beside it the fees of its samples."""
    return agreed() + fees()


def not_even(jobs: JobRows) -> JobRows:
    """Keep the jobs of which what was asked, what came in and what they come to differ, and maybe some others."""
    rows = jobs.annotate(came_in=came_in(), asked_for=asked_for(), due=due_in_all())
    return rows.filter(
        Q(asked_for__gt=F("came_in"))
        | Q(came_in__gt=F("asked_for")) & (Q(state=states.CANCELLED) | Q(came_in__gt=F("due")))
        | Q(state=states.DELIVERED, due__gt=F("asked_for")) & Q(due__gt=F("came_in"))
    )
