"""Undoing what was done to a job, on a page that says what follows; recording what came in late; ordering again."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from jobs.desk.forms import BACK, MONEY, SAMPLE, CameInForm
from jobs.desk.job_page import job_of, show_job
from jobs.desk.undoing import undo_of
from jobs.models import JobAct
from jobs.money.of_job import money_of, requests_of
from jobs.orders.again import order_again
from jobs.private_links.unread import mark_read
from jobs.work.coming_in import give_back, take_in
from studio.house.clock import today
from studio.house.form_keys import fresh_key, sent_key
from studio.house.http import REFUSED, DeskRequest
from studio.house.models import HouseRates
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May

RECORDED = {MONEY: "Recorded: money came in.", SAMPLE: "Recorded: the sample is approved.",
            BACK: "Recorded: money was given back."}
UNDONE = "It stays in the story, marked as undone, with your name."


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def undo(request: DeskRequest, number: int, pk: int) -> HttpResponse:
    """Say what undoing an act changes, and undo it once a reason is given."""
    job = job_of(number)
    act = get_object_or_404(JobAct.objects.select_related("quote", "by", "job"), pk=pk, job=job)
    rates = HouseRates.known_on(today())
    why, refusal = request.POST.get("why", ""), ""
    key = sent_key(request) if request.method == "POST" else fresh_key()
    if JobAct.objects.filter(key=key, undoes=act).exists():  # pressed twice: it was done once
        messages.success(request, UNDONE)
        return redirect("jobs:job", number)
    try:
        found = undo_of(job, act, rates.currency if rates else "")
    except DaybookError as refused:
        messages.error(request, str(refused))
        return redirect("jobs:job", number)
    if request.method == "POST":
        try:
            found.do(by=request.user, why=why, key=key)
        except DaybookError as refused:
            refusal = str(refused)
        else:
            messages.success(request, f"{found.label}: done. {UNDONE}")
            return redirect("jobs:job", number)
    context = {"job": job, "undo": found, "why": why, "refusal": refusal, "key": key}
    return render(request, "jobs/desk/undo.html", context, status=REFUSED if refusal else 200)


@allowed(May.ORDERS)
@require_POST
def came_in(request: DeskRequest, number: int, what: str) -> HttpResponse:
    """Record that the sample was approved, that money came in, or that it was given back, on its day."""
    if what not in RECORDED:
        raise Http404
    key, job, rates = sent_key(request), job_of(number), HouseRates.known_on(today())
    form = CameInForm(request.POST, what=what, paid=money_of(
        job, list(job.acts.all()), rates.currency if rates else "", requests_of(job)))
    if JobAct.objects.filter(key=key, job=job).exists():  # pressed twice: it counts once, and is asked no more
        messages.success(request, RECORDED[what])
        return redirect("jobs:job", number)
    if not form.is_valid():
        return show_job(request, job, REFUSED, came_in=form)
    sent: dict[str, Any] = {name: form.cleaned_data.get(name) for name in ("amount", "on", "note")}
    if what != SAMPLE:
        sent["how"] = form.cleaned_data["how"]
    try:
        (give_back if what == BACK else take_in)(job=job, by=request.user, key=key, **sent)
    except DaybookError as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        return show_job(request, job, REFUSED, came_in=form)
    messages.success(request, RECORDED[what])
    return redirect("jobs:job", number)


@allowed(May.ORDERS)
@require_POST
def again(request: DeskRequest, number: int) -> HttpResponse:
    """Copy a job's order into a new enquiry, and open its order form."""
    key = sent_key(request)
    job = job_of(number)
    newest = request.POST.get("versions", "newest") == "newest"
    try:
        order, said = order_again(order=job.order, by=request.user, form_key=key, newest=newest)
    except DaybookError as refusal:
        return show_job(request, job, REFUSED, refusal=str(refusal))
    messages.success(request, f"Copied from job {number} as job {order.job.number}. {said}")
    return redirect("jobs:order", order.job.number)


@allowed(May.ORDERS)
@require_POST
def answers_read(request: DeskRequest, number: int) -> HttpResponse:
    """What the customer said at the private address, up to the last that the page showed, is read."""
    job = job_of(number)
    try:
        until = datetime.fromisoformat(request.POST.get("until", ""))
    except ValueError:
        until = None
    if until is not None and until.tzinfo is not None and mark_read(job, request.user, until):
        messages.success(request, "Read: Today does not tell it any more.")
    return redirect("jobs:job", number)
