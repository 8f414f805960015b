"""The week: what is done when and by whom, for everybody here; where the owner and the desk pin and move."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.calendar.effort import TWO_SECONDS
from jobs.models import Job, JobInWeek, PinnedStretch
from jobs.week.forms import FreeForm, OfJobForm, PinForm
from jobs.week.keeping_free import keep_free, try_free
from jobs.week.kept import Standing, mark_seen, standing_plan, unseen_moves
from jobs.week.offers import OfferGone, leave_offer, offer_beside, search_longer, take_offer
from jobs.week.placing import pins_of, save_pin, save_saying, try_pin, try_saying
from jobs.week.week_page import jobs_of, rows_of, week_shown
from studio.house.clock import today
from studio.house.form_keys import fresh_key, sent_key
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, posted_from, sent_saves
from studio.house.week import the_week
from studio.house.week_forms import AwayForm
from studio.house.week_views import save_day_apart
from studio.kit.access import allowed, at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile
from studio.kit.roles import May
from studio.kit.typed_numbers import whole_number

WAYS = {"day": "By day", "job": "By job", "table": "As a table"}


def _asked_day(request: DeskRequest, standing: Standing) -> date | None:
    try:
        day = date.fromisoformat(request.GET.get("from", ""))
    except ValueError:
        return None
    last = standing.first_day + timedelta(days=standing.asked.days - 1)
    return min(max(day, standing.first_day), last)


@at_the_desk
@require_safe
def week_page(request: DeskRequest) -> HttpResponse:
    """What is done on each day, a mix above what needs it; jobs late first, each with its reason."""
    return show_week(request)


def show_week(request: DeskRequest, status: int = 200, **more: Any) -> HttpResponse:
    standing, customers = standing_plan(), request.user.may(May.ORDERS)
    way = request.GET.get("by", "day")
    week = the_week()
    return render(request, "jobs/week/week.html", {
        "week": week_shown(standing, _asked_day(request, standing), customers=customers), "standing": standing,
        "way": way if way in WAYS else "day", "ways": WAYS, "moved": unseen_moves(), "today": today(),
        "key": fresh_key(), "offer": offer_beside(standing) if customers else None,
        "away": AwayForm() if week.helper_records_away and not customers else None, **more,
    }, status=status)


@allowed(May.ORDERS)
@require_POST
def week_seen(request: DeskRequest) -> HttpResponse:
    """What moved is read: the list begins anew."""
    mark_seen()
    return redirect("jobs:week")


@allowed(May.ORDERS)
@posted_from("jobs:week")
def week_search(request: DeskRequest) -> HttpResponse:
    """Look for a better plan for about two seconds; one that is found is offered."""
    sent_key(request)
    if search_longer(TWO_SECONDS) is None:
        messages.success(request, "Nothing better was found: the plan stands as it is.")
    return redirect("jobs:week")


@allowed(May.ORDERS)
@posted_from("jobs:week")
def week_offer(request: DeskRequest, pk: int) -> HttpResponse:
    """Take a plan that was offered, as it was shown, or leave it. Sent twice it counts once."""
    if request.POST.get("act") != "take":
        leave_offer(pk)
        messages.success(request, "Left: the plan stands as it is.")
        return redirect("jobs:week")
    try:
        take_offer(pk)
        messages.success(request, "Taken: this plan stands now.")
    except OfferGone as refusal:
        messages.error(request, str(refusal))
    return redirect("jobs:week")


@at_the_desk
@posted_from("jobs:week")
def week_away(request: DeskRequest) -> HttpResponse:
    """What the helper records of hours away, where the owner lets them. It counts at once."""
    if request.user.may(May.ORDERS):
        messages.error(request, "Here the helper records hours away: yours and theirs are kept in the settings of the "
                                "week.")
        return redirect("jobs:week")
    if not the_week().helper_records_away:
        messages.error(request, "Ask the owner: hours away are recorded in the settings of the week.")
        return redirect("jobs:week")
    form = AwayForm(request.POST)
    if not form.is_valid():
        return show_week(request, REFUSED, away=form)
    row = save_day_apart(form)
    messages.success(request, f"Recorded: {row}. The plan counts with it from now on.")
    return redirect("jobs:week")


@allowed(May.STUDIO)
@require_http_methods(["GET", "HEAD", "POST"])
def week_free(request: DeskRequest) -> HttpResponse:
    """Keep hours of a day free of bench work: tried first, with what it does to each job, then saved."""
    form = FreeForm(request.POST if request.method == "POST" else None)
    effects = None
    if form.is_valid():
        try:
            if request.POST.get("act") == "save":
                row = keep_free(form.free, form.cleaned_data["key"])
                messages.success(request, f"Kept free: {row}. The plan goes round it.")
                return redirect("jobs:week")
            effects = try_free(form.free, form.cleaned_data["key"])
        except DaybookError as refusal:
            form.add_error(_field(refusal, form), str(refusal))
    return render(request, "jobs/week/free.html", {"form": form, "effects": effects},
                  status=REFUSED if form.is_bound and form.errors else 200)


@allowed(May.ORDERS)
@require_safe
def week_job(request: DeskRequest, number: int) -> HttpResponse:
    """A job in the week: its stretches, each with its place to pin; its weight, and when it may begin."""
    return show_job(request, get_object_or_404(Job.objects.select_related("order__customer"), number=number))


def show_job(request: DeskRequest, job: Job, status: int = 200, **more: Any) -> HttpResponse:
    standing = standing_plan()
    jobs = jobs_of(standing, rows_of(standing), customers=False)
    mine = next((each for each in jobs if each.number == job.number), None)
    said = JobInWeek.objects.filter(job=job).first()
    pins = {(pin.load, pin.stretch): pin for pin in pins_of(job)}
    benches = the_week().bench_names
    sent = more.pop("sent", None)
    rows = []
    for row in mine.rows if mine else ():
        if row.kind != "bench":
            continue
        load, at = row.id.split(".")[1], whole_number(row.id.rpartition(".")[2])
        form = sent if sent is not None and _is_of(sent, load, at) else PinForm(benches=benches, initial={
            "load": load, "stretch": at, "on": row.starts.date(), "at": row.starts.time(), "bench": row.bench,
            "who": pins[load, at].who if (load, at) in pins else ""})
        rows.append((row, form, pins.get((load, at))))
    loads = []
    for load in dict.fromkeys(row.id.split(".")[1] for row, _, _ in rows):
        first = next(row for row, _, _ in rows if row.id.split(".")[1] == load)
        form = sent if sent is not None and _is_of(sent, load, 0) else PinForm(benches=benches, initial={
            "load": load, "stretch": 0, "on": first.starts.date()})
        loads.append((first, form, pins.get((load, 0))))
    form = more.pop("said", None) or OfJobForm(initial={
        "weight": said.weight if said else 1, "not_before": said.not_before if said else None,
        "because": said.because if said else ""})
    return render(request, "jobs/week/job.html", {
        "job": job, "mine": mine, "rows": rows, "loads": loads, "form": form, "row": said, "pins": list(pins.values()),
        "today": today(), **more,
    }, status=status)


def _is_of(form: PinForm, load: str, at: int) -> bool:
    return form.data.get("load") == load and form.data.get("stretch") == str(at)


@allowed(May.ORDERS)
@require_POST
def pin_stretch(request: DeskRequest, number: int) -> HttpResponse:
    """Try a pin, and show what it does; or save it. One that cannot be is refused, with the rule."""
    job = get_object_or_404(Job.objects.select_related("order__customer"), number=number)
    form = PinForm(request.POST, benches=the_week().bench_names)
    if not form.is_valid():
        return show_job(request, job, REFUSED, sent=form)
    try:
        effects = try_pin(job, form.pinning, form.cleaned_data["key"])
        if request.POST.get("act") != "save":
            return show_job(request, job, sent=form, effects=effects, trying=form.pinning)
        save_pin(job, form.pinning, form.cleaned_data["key"])
    except DaybookError as refusal:
        form.add_error(_field(refusal, form), str(refusal))
        return show_job(request, job, REFUSED, sent=form)
    messages.success(request, "Pinned: the plan goes round it.")
    return redirect("jobs:week_job", number)


def _field(refusal: DaybookError, form: Form) -> str | None:
    name = getattr(refusal, "field", "") or None
    return name if name in form.fields and (name != "at" or form.data.get("stretch") != "0") else None


@allowed(May.ORDERS)
@require_POST
def unpin(request: DeskRequest, number: int, pk: int) -> HttpResponse:
    """Let a stretch go where the plan puts it."""
    job = get_object_or_404(Job, number=number)
    PinnedStretch.objects.filter(job=job, pk=pk).delete()
    messages.success(request, "Loosened: the plan may move it again.")
    return redirect("jobs:week_job", number)


@allowed(May.ORDERS)
@require_POST
def say_of_job(request: DeskRequest, number: int) -> HttpResponse:
    """Try a weight or a day not to begin before, and show what it does; or save it."""
    job = get_object_or_404(Job.objects.select_related("order__customer"), number=number)
    form = OfJobForm(request.POST)
    if not form.is_valid():
        return show_job(request, job, REFUSED, said=form)
    try:
        if request.POST.get("act") != "save":
            return show_job(request, job, said=form, effects=try_saying(job, form.said), trying_job=True)
        save_saying(job, form.said, sent_saves(request))
    except ChangedMeanwhile as refusal:
        carry_new_saves(request, refusal)
        form.add_error(None, str(refusal))
        return show_job(request, job, REFUSED, said=form)
    except DaybookError as refusal:
        form.add_error(None, str(refusal))
        return show_job(request, job, REFUSED, said=form)
    messages.success(request, "Saved: the plan is worked out by it.")
    return redirect("jobs:week_job", number)
