"""What the owner does with a job: booked, ticketed, delivered, cancelled. One address per action."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from jobs.acts import money_in
from jobs.desk.job_page import act_on, job_of, show_job
from jobs.models import Job
from jobs.money.of_job import money_of, requests_of
from jobs.money.unpaid import delivered_unpaid, with_what_is_unpaid
from jobs.orders.letters import open_points
from jobs.work.booking import book_job, deliver
from jobs.work.cancelling import cancel
from jobs.work.coming_in import in_words
from jobs.work.forms import BookingForm, CancelForm
from jobs.work.further_ticket import make_further_ticket
from jobs.work.ticketing import make_ticket, print_anew
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile
from studio.kit.roles import May


def _asked_for(form: BookingForm) -> str:
    """Return what a booking asked for, in words: a job that is booked shows no form to keep it in."""
    sent = form.cleaned_data
    due = f"{sent['due_on']:%d %b %Y}" if sent["due_on"] else "not said"
    because = f", going ahead because “{sent['waived_because']}”" if sent["waived_because"] else ""
    return f"You asked for: due {due}{because}."


@allowed(May.ORDERS)
@require_POST
def book(request: DeskRequest, number: int) -> HttpResponse:
    """Book the job: sample and deposit are in, or the owner says why not."""
    job = job_of(number)
    paid = money_of(job, list(job.acts.all()), "", requests_of(job))
    form = BookingForm(request.POST, deposit_missing=paid.missing_in_words, no_deposit=paid.asks_no_deposit)
    if not form.is_valid():
        return show_job(request, job, REFUSED, booking=form)
    try:
        book_job(job=job, by=request.user, saves=sent_saves(request), **form.cleaned_data)
    except ChangedMeanwhile as refusal:
        carry_new_saves(request, refusal)
        return show_job(request, job, REFUSED, booking=form, refusal=f"{refusal} {_asked_for(form)}")
    except DaybookError as refusal:
        form.add_error(refusal.field or None, str(refusal))
        return show_job(request, job, REFUSED, booking=form)
    still = open_points(job.order).in_words
    messages.success(request, "The job is booked and its stock is promised." + (
        f" Still to settle: {still}." if still else ""))
    return redirect("jobs:job", number)


@allowed(May.ORDERS)
@require_POST
def ticket(request: DeskRequest, number: int) -> HttpResponse:
    """Print a work ticket and open its run."""
    return act_on(request, number, lambda job: f"{make_ticket(job=job, by=request.user)} is ready to print.")


@allowed(May.ORDERS)
@require_POST
def further_ticket(request: DeskRequest, number: int) -> HttpResponse:
    """Print a ticket for the panes that the runs so far fell short of, and open its run."""
    def act(job: Job) -> str:
        return f"{make_further_ticket(job=job, by=request.user)} is ready to print; its stock is promised."

    return act_on(request, number, act)


@allowed(May.ORDERS)
@require_POST
def reprint(request: DeskRequest, number: int) -> HttpResponse:
    """Print the open ticket anew; its run goes on with the new one. The same form sent again prints no second."""
    def act(job: Job) -> str:
        ticket = print_anew(job=job, by=request.user, number=request.POST.get("ticket", ""))
        return f"{ticket} is ready to print. It replaces {ticket.replaced}: destroy the old paper."

    return act_on(request, number, act)


@allowed(May.ORDERS)
@require_POST
def cancel_job(request: DeskRequest, number: int) -> HttpResponse:
    """Cancel the job; what its open run used is deducted, once what stands of it is made safe."""
    job, form = job_of(number), CancelForm(request.POST)
    if not form.is_valid():
        return show_job(request, job, REFUSED, cancelling=form)
    try:
        cancel(job=job, by=request.user, saves=sent_saves(request), **form.cleaned_data)
    except DaybookError as refusal:
        carry_new_saves(request, refusal)
        if refusal.field in form.fields:
            form.add_error(refusal.field, str(refusal))
            return show_job(request, job, REFUSED, cancelling=form)
        return show_job(request, job, REFUSED, cancelling=form, refusal=str(refusal))
    still = money_in(job)
    messages.success(request, "The job is cancelled; what was promised to it is free again." + (
        f" {in_words(job, still)} of it is still here: record it once it is given back." if still else ""))
    return redirect("jobs:job", number)


@allowed(May.ORDERS)
@require_POST
def deliver_job(request: DeskRequest, number: int) -> HttpResponse:
    """Mark the job as delivered; where money of it is not in, once somebody said that it is meant, and why."""
    job = job_of(number)
    asked = delivered_unpaid(job, request.POST)
    if asked is not None and not asked.ticked:
        return render(request, "jobs/money/deliver.html", {
            "job": job, "question": asked, "note": request.POST.get("note", ""),
        }, status=REFUSED)

    def act(job: Job) -> str:
        note = request.POST.get("note", "")
        deliver(job=job, by=request.user, note=with_what_is_unpaid(asked, note))
        return "The job is delivered."

    return act_on(request, number, act)
