"""A job's page: what it gathers of the order, its quotes, its price today and its runs, and how an act is answered."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from django.contrib import messages
from django.db.models import Prefetch, prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from jobs.choices import first_choice_in_words
from jobs.desk.bench_story import BenchStory, bench_story
from jobs.desk.course import course_of
from jobs.desk.drawn_panes import draw
from jobs.desk.forms import BACK, MONEY, SAMPLE, CameInForm
from jobs.desk.next_step import BOOK, next_step, put_right_first
from jobs.desk.sample_forms import GoAheadForm
from jobs.desk.story import Facts, story_of
from jobs.desk.undoing import promised_in_words, undoable
from jobs.draft import draft_of
from jobs.estimating.estimate import Estimate
from jobs.looking_back.comparison import compare, rework_of
from jobs.looking_back.made_so_far import beyond_what_was_made
from jobs.looking_back.spent import spent_so_far
from jobs.models import Job, Quote, WorkTicket
from jobs.money.of_job import money_of
from jobs.orders.again import versions_of
from jobs.orders.letters import open_points
from jobs.private_links.unread import unread
from jobs.quotes.basis import is_ordered_so
from jobs.quotes.costs_changed import CostsChanged, costs_changed
from jobs.quotes.freezing import check_in_use
from jobs.quotes.frozen_plan import stock_needed
from jobs.quotes.pricing import price_order, shortages_of
from jobs.quotes.way_out import WayOut, ways_out
from jobs.week.honest import later_than_quoted
from jobs.work.booking import frozen_estimate, frozen_plan
from jobs.work.clock import standing_of_job
from jobs.work.forms import BookingForm, CancelForm
from jobs.work.further_ticket import still_to_make
from jobs.work.in_doubt import jobs_in_doubt
from jobs.work.overtaken import overtaken
from jobs.work.possible import possible
from jobs.work.samples import how_samples_stand, lacking, went_ahead_with
from recipes.models import FinishPicture, RecipeVersion
from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, carry_new_saves
from studio.house.models import House, HouseRates
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError


def job_of(number: int) -> Job:
    quotes = Quote.objects.select_related("made_by", "paper")
    tickets = WorkTicket.objects.select_related("made_by", "run__finished_by", "run__made_safe_by", "paper")
    rows = Job.objects.select_related("order__customer", "order__entered_by", "quote", "reservation")
    job = get_object_or_404(rows.prefetch_related(Prefetch("tickets", tickets)), number=number)
    prefetch_related_objects([job.order], Prefetch("quotes", quotes), "bought_in")
    paths = ("order__lines__recipe_version__finish", "order__lines__glass", "reservation__amounts__material")
    return fetched([job], *paths)[0]


def _newer_versions(job: Job) -> list[tuple[RecipeVersion, RecipeVersion]]:
    """Return the recipe versions of a job that a newer one in use has followed."""
    mine = {line.recipe_version for line in job.order.lines.all()}
    newest: dict[int, RecipeVersion] = {}
    in_use_now = RecipeVersion.objects.filter(finish_id__in=[version.finish_id for version in mine]).in_use()
    for version in in_use_now.select_related("finish").order_by("number"):
        newest[version.finish_id] = version
    return [
        (version, newest[version.finish_id]) for version in sorted(mine, key=lambda row: row.pk)
        if version.finish_id in newest and newest[version.finish_id].number > version.number
    ]


def show_job(request: DeskRequest, job: Job, status: int = 200, **more: Any) -> HttpResponse:
    day, runs = today(), job.open_runs
    rates = HouseRates.known_on(day)
    standing = standing_of_job(job, House.objects.first() or House())
    bench, still = bench_story(job), still_to_make(job)
    acts = list(job.acts.select_related("by", "quote"))
    asked = list(job.money_requests.to_sum_up().select_related("by"))
    paid = money_of(job, acts, rates.currency if rates else "", asked)
    quotes = list(job.order.quotes.all())
    ahead, lacks = went_ahead_with(job), lacking(job)
    samples = how_samples_stand(job, ahead)
    step = next_step(job, still.count, paid, lacks.in_words)
    context: dict[str, Any] = {
        "job": job, "order": job.order, "quotes": quotes, "today": day,
        "answers": [(quote, possible(job, quote, quotes)) for quote in quotes],
        "newer": _newer_versions(job), "compared": compare(job), "rework": rework_of(job), "rates": rates,
        "doubts": [said for _, doubts in jobs_in_doubt([job]) for said in doubts],
        "overtaken": [said for _, sentences in overtaken(runs) for said in sentences],
        "standing": standing, "still": still if job.can_print_further_ticket else None,
        "next": step, "course": course_of(job, began=bench.began),
        "days_left": _days_left(job, day),
        "panes": draw(bench.panes, _pictures(bench)), "paid": paid, "spent": spent_so_far(job),
        "story": story_of(Facts(job=job, acts=acts, bench=bench, standing=standing, undoable=undoable(job, acts),
                                paid=paid, what_next=step.what, ahead=ahead,
                                lacks_sample=any(row.row is None or not row.row.is_approved for row in samples))),
        "frees": promised_in_words(job), "versions": versions_of(job.order),
        "letter": open_points(job.order),
        "unread": unread(job.pk).get(job.pk, ()),
        "samples": samples, "lacks": lacks, "ahead": ahead, "go_ahead": GoAheadForm(),
        # what was refused is shown with its form, whatever comes next
        "books": job.can_book and (step.address == BOOK or "booking" in more),
    }
    if context["books"] and (accepted := job.quote_that_counts) is not None:
        context["day_now"] = later_than_quoted(job.order, accepted)
    if job.shows_shortages:
        context |= _prices(job, day)
        context["next"] = put_right_first(step, *_refused_now(context))
    if "estimate" in context:
        context["shows_margin"] = context["estimate"].price.margin_reached is not None
    if "cancelling" not in more:
        context["cancelling"] = CancelForm()
    if "booking" not in more:
        context["booking"] = BookingForm(deposit_missing=paid.missing_in_words, no_deposit=paid.asks_no_deposit,
                                         initial={
            "due_on": job.due_on or job.order.due_on, "sample_approved": not lacks.finishes,
            "deposit_noted": job.deposit_noted or paid.deposit_is_in})
    sent = more.pop("came_in", None)
    context["came_in"] = {what: sent if sent is not None and sent.what == what else CameInForm(what=what, paid=paid)
                          for what in (MONEY, SAMPLE, BACK)}
    return render(request, "jobs/desk/job.html", {**context, **more}, status=status)


def _days_left(job: Job, day: date) -> int | None:
    due = job.due_on or job.order.due_on
    return (due - day).days if due and job.is_open else None


def _pictures(bench: BenchStory) -> dict[str, str]:
    """Return the address of the front of each finish that is drawn, by its code. One query."""
    rows = FinishPicture.objects.filter(side=FinishPicture.Side.FRONT, finish__code__in={
        pane.finish for pane in bench.panes if pane.begun})
    return {row.finish.code: reverse("studio:file", args=[row.file.sha256])
            for row in rows.select_related("finish", "file")}


def _prices(job: Job, day: date) -> dict[str, Any]:
    """Return what the page says of a job before the bench: today's price beside its quote's; booked, what it needs.

    A booked job needs what its quote's plan froze, whatever today's price would be, or whether there is one.
    """
    context: dict[str, Any] = {}
    if job.quote is not None:
        plan = frozen_plan(job.quote)
        short = shortages_of(plan.stock, day, own_reservation=job.reservation_id)
        context = {"estimate": plan.estimate, "shortages": short}
    try:
        draft = draft_of(job.order)
        estimate = price_order(draft, day, job.reservation_id)
    except DaybookError as refusal:
        return context or {"refusal": str(refusal), "ways_out": ways_out(refusal)}
    if not context:
        context = {"estimate": estimate, "shortages": shortages_of(stock_needed(estimate), day),
                   "first_choice": first_choice_in_words(draft)}
    return {**context, "changed": _costs_changed(job, estimate), "beyond": beyond_what_was_made(estimate)}


def _refused_now(context: Mapping[str, Any]) -> tuple[str, list[WayOut]]:
    """Return why no quote could be saved of what the page shows, and where that is put right."""
    if "estimate" not in context:
        return context["refusal"], context["ways_out"]
    try:
        check_in_use(context["estimate"])
    except DaybookError as refusal:
        return str(refusal), ways_out(refusal)
    return "", []


def _costs_changed(job: Job, now: Estimate) -> tuple[Quote, CostsChanged] | None:
    """Return the newest quote that is still open, with the costs that have changed since; None: nothing has.

    Of an accepted one whose order was changed the next step says so: its costs say nothing of what was accepted.
    """
    quote = next(iter(job.order.quotes.all()), None)
    if quote is None or not quote.stands_open:
        return None
    if quote.is_accepted and not is_ordered_so(job.order, quote):
        return None
    found = costs_changed(frozen_estimate(quote), now)
    return (quote, found) if found.changes else None


def act_on(request: DeskRequest, number: int, act: Callable[[Job], str]) -> HttpResponse:
    """Do one thing to a job and say so, or show why it cannot be done."""
    job = job_of(number)
    try:
        said = act(job)
    except DaybookError as refusal:
        carry_new_saves(request, refusal)
        return show_job(request, job, REFUSED, refusal=str(refusal), ways_out=ways_out(refusal))
    messages.success(request, said)
    return redirect("jobs:job", number)
