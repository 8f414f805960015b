"""The samples of a job: each finish with its halves and the customer's word; the approval pack; going ahead without."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.desk.job_page import job_of, show_job
from jobs.desk.sample_forms import ApprovedForm, GoAheadForm, SampleForm
from jobs.models import Job, JobAct, Quote, SampleApproval
from jobs.work import states
from jobs.work.approval_pack import approval_pack_paper
from jobs.work.samples import approve, finishes_of, keep_sample, let_go_ahead
from recipes.models import RecipeVersion
from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, pdf_response, sent_saves
from studio.house.models import HouseRates
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May


def _version(job: Job, pk: int) -> RecipeVersion:
    return get_object_or_404(RecipeVersion.objects.select_related("finish"), pk__in=[
        version.pk for version in finishes_of(job) if version.pk == pk])


def _currency(job: Job) -> str:
    quote = job.quote or job.quote_that_counts
    rates = None if quote is not None else HouseRates.known_on(today())
    return quote.currency if quote is not None else rates.currency if rates else ""


def _show(request: DeskRequest, job: Job, version: RecipeVersion, *, form: SampleForm | None = None,
          approved: ApprovedForm | None = None) -> HttpResponse:
    row = job.samples.standing().filter(recipe_version=version).select_related("trial", "front", "back").first()
    status = REFUSED if (form is not None or approved is not None) else 200
    return render(request, "jobs/desk/sample.html", {
        "job": job, "version": version, "row": row, "currency": _currency(job),
        "quote": job.quote or job.quote_that_counts, "open": states.allows(job.state, states.CAME_IN),
        "form": form or SampleForm(job=job, version=version, row=row, currency=_currency(job)),
        "approved": approved or ApprovedForm(auto_id="approved-%s", initial={"name": job.order.customer.name}),
        "earlier": job.samples.exclude(withdrawn_at=None).filter(recipe_version=version),
    }, status=status)


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def sample(request: DeskRequest, number: int, version: int) -> HttpResponse:
    """The sample of one finish of a job: what is known of it, and the customer's word."""
    job = job_of(number)
    finish = _version(job, version)
    if request.method != "POST":
        return _show(request, job, finish)
    row = job.samples.standing().filter(recipe_version=finish).first()
    form = SampleForm(request.POST, job=job, version=finish, row=row, currency=_currency(job))
    if form.is_valid():
        try:
            keep_sample(job=job, recipe_version=finish, values=form.cleaned_data, saves=sent_saves(request))
            messages.success(request, f"The sample of {finish.finish} is saved.")
            return redirect("jobs:sample", number, version)
        except DaybookError as refusal:
            carry_new_saves(request, refusal)
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
    return _show(request, job, finish, form=form)


@allowed(May.ORDERS)
@require_POST
def sample_approved(request: DeskRequest, number: int, version: int) -> HttpResponse:
    """Record the customer's word on the sample of a finish."""
    job = job_of(number)
    finish = _version(job, version)
    form = ApprovedForm(request.POST, auto_id="approved-%s")
    if form.is_valid():
        sent = form.cleaned_data
        if not JobAct.objects.filter(key=sent["key"], job=job).exists():
            try:
                approve(_standing(job, finish), sent["name"], sent["how"], by=request.user, on=sent["on"],
                        key=sent["key"])
            except DaybookError as refusal:
                form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
                return _show(request, job, finish, approved=form)
        messages.success(request, f"Recorded: the sample of {finish.finish} is approved.")
        return redirect("jobs:sample", number, version)
    return _show(request, job, finish, approved=form)


def _standing(job: Job, version: RecipeVersion) -> SampleApproval:
    """Return the sample of a finish; one that nothing was written of yet is kept as it is."""
    row = job.samples.standing().filter(recipe_version=version).first()
    return row or keep_sample(job=job, recipe_version=version, values={})


@allowed(May.ORDERS)
@require_POST
def go_ahead(request: DeskRequest, number: int) -> HttpResponse:
    """Let a booked job's ticket be printed without what it waits for."""
    job, form = job_of(number), GoAheadForm(request.POST)
    if form.is_valid():
        try:
            let_go_ahead(job=job, by=request.user, **form.cleaned_data)
            messages.success(request, "Recorded: it goes ahead. Its ticket can be printed.")
            return redirect("jobs:job", number)
        except DaybookError as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
    return show_job(request, job, REFUSED, go_ahead=form)


@allowed(May.ORDERS)
@require_safe
def approval_pack(request: DeskRequest, pk: int) -> HttpResponse:
    """The samples of a quote's finishes to be approved, as a paper."""
    quote = get_object_or_404(Quote.objects.select_related("order__customer", "order__job"), pk=pk)
    return pdf_response(approval_pack_paper(quote), f"samples-quote-{quote.number}-{quote.revision}.pdf")
