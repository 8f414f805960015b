"""The bench one step at a time: the page for a tablet or a phone, what it sends, and what it asks every few seconds.

No price, cost or contact detail comes near this module: a browser keeps the page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from jobs.models import Run, RunEntry, WaitingRecord
from jobs.work.bench import BenchState, MixState, bench_state
from jobs.work.bench_cards import ALL, CONDITIONS, GLASS, LEAVE, MIX, PANES, STEP, Screen, screens_of
from jobs.work.clock import clocks_of
from jobs.work.forms import ConditionsForm, GlassForm, MadeSafeForm, MixForm, NoteForm, TimeForm
from jobs.work.in_doubt import doubts_of_ticket
from jobs.work.lots_to_take import made_lots, not_to_take, offered, shelves_for
from jobs.work.overtaken import overtaken
from jobs.work.records import record, settle
from jobs.work.said import Said, said_of
from jobs.work.ticket_plan import TicketGlass
from jobs.work.work_plan import WorkPlan, work_plan
from recipes.bench_page import (
    BenchPage,
    NotTaken,
    Refused,
    Tab,
    answers_to,
    are_troubles,
    clean_anchor,
    is_trouble,
    sent_of_form,
    tab_of,
)
from recipes.making_safe_form import DoneAtForm, MakingSafeForm
from recipes.trouble import TROUBLES
from studio.house.answers import KEPT_BY_THE_BENCH
from studio.house.clock import house_zone, now, today
from studio.house.http import REFUSED, DeskRequest
from studio.house.models import House
from studio.kit.access import at_the_desk, open_door, open_when_locked
from studio.kit.errors import DaybookError
from studio.stockroom.models import Lot

Kind = RunEntry.Kind
_MADE_SAFE = "made-safe"
_STATIC = ("studio/faces.css", "studio/tokens.css", "studio/dark.css", "studio/steps.css", "studio/steps.js",
           "studio/kept_records.js", "studio/scan.js", "studio/timers.js", "studio/idle_lock.js", "studio/lock.css",
           "studio/mark.svg", "fonts/serif/regular-latin.woff2", "fonts/serif/semibold-latin.woff2",
           "fonts/sans/regular-latin.woff2", "fonts/sans/semibold-latin.woff2")


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A screen with what was recorded of it and the forms it sends. said: the newest record of its subject."""

    screen: Screen
    said: Mapping[str, Any]
    mix: MixState | None = None
    form: forms.Form | None = None
    done: forms.Form | None = None
    stops: Mapping[int, str] = field(default_factory=dict)
    in_it: Sequence[int] = ()
    lots: Sequence[Any] = ()
    again: str = ""
    following: Screen | None = None
    refusal: str = ""
    rows: Sequence[Any] = ()

    @property
    def template(self) -> str:
        shared = self.screen.kind == CONDITIONS
        return f"{'recipes' if shared else 'jobs/work'}/steps/{self.screen.kind}.html"

    @property
    def done_by(self) -> str:
        """Return what must be recorded for it to be done, as the script reads it."""
        kind, screen = self.screen.kind, self.screen
        if kind == PANES:
            return "|".join(f"{Kind.PANE} {label}" for label in screen.panes)
        if kind == GLASS:
            return "|".join(f"{Kind.GLASS} {glass.code}" for glass, *_ in self.rows)
        named = {MIX: f"{Kind.MIXED} {screen.subject}", STEP: f"{Kind.STEP} {screen.anchor}"}
        return named.get(kind, f"{Kind.CONDITIONS} ")

    @property
    def is_done(self) -> bool:
        return bool(self.said.get("done"))


def _run(pk: int) -> Run:
    return get_object_or_404(Run.objects.select_related("ticket__job__order", "ticket__job__quote"), pk=pk)


def _page(run: Run) -> BenchPage:
    return BenchPage(
        of=f"run-{run.pk}", record=reverse("jobs:record", args=[run.pk]),
        records=reverse("jobs:records", args=[run.pk]), state=reverse("jobs:steps_state", args=[run.pk]),
        is_open=run.is_open, whole="all loads",
    )


def _context(run: Run, refused: Refused | None = None) -> dict[str, Any]:
    state = bench_state(run)
    work = work_plan(state.plan)
    said, screens = said_of(state), screens_of(work, state.plan)
    shown = _shown(run, state, said, screens, refused)
    anchors = {LEAVE, _MADE_SAFE, *(screen.anchor for screen in screens), *(trouble.anchor for trouble in TROUBLES)}
    return {
        "run": run, "bench": _page(run), "ticket": run.ticket, "job": run.ticket.job, "state": state, "screens": shown,
        "leave": {"anchor": LEAVE, "following": LEAVE}, "tabs": _tabs(work, shown), "said": said,
        "doubts": [*doubts_of_ticket(run.ticket), *_overtaken(run)],
        "troubles": TROUBLES, "trouble_links": _trouble_links(work, state),
        "made_safe_said": _made_safe_said(state), "note_form": NoteForm(auto_id="note_%s"), "work": work,
        "here": refused.anchor if refused and refused.anchor in anchors else ALL,
        "refusal": refused.sentence if refused else "",
        "time_form": _form_of(refused, LEAVE, TimeForm) or TimeForm(initial=state.minutes),
        "safe_form": _form_of(refused, _MADE_SAFE, forms.Form) or _safe_form(state),
        "lot_numbers": _lot_numbers(state) if run.is_open else {},
    }


def _lot_numbers(state: BenchState) -> dict[str, str]:
    """Return the numbers of the lots that could be taken, by what the address on a label names them by."""
    codes = {row.code for mix in state.mixes for row in mix.mix.ingredients if row.code}
    lots = Lot.objects.filter(material__code__in=codes, level__on_hand__gt=0).values_list("pk", "lot_number")
    return {str(pk): number for pk, number in lots}


def _form_of(refused: Refused | None, anchor: str, kind: type[forms.Form]) -> forms.Form | None:
    form = refused.form if refused and refused.anchor == anchor else None
    return form if isinstance(form, kind) else None


def _safe_form(state: BenchState) -> forms.Form:
    if not state.standing:
        return MadeSafeForm()
    return MakingSafeForm(rows=(), standing=state.standing, house=House.objects.get())


def _made_safe_said(state: BenchState) -> str:
    safe = state.made_safe
    return f"{(safe.device_at or safe.at).astimezone(house_zone()):%H:%M}, {safe.by.name}" if safe else ""


def _trouble_links(work: WorkPlan, state: BenchState) -> dict[str, tuple[str, list[tuple[str, str]]]]:
    """Return, by trouble, what it is about and where that is recorded: anchors with their words."""
    mixes = [(f"mix-{mix.mix.key}", ", ".join(filter(None, [
        mix.mix.solution, f"load {mix.mix.load}" if mix.mix.load else "",
        f"pane {mix.mix.pane}" if mix.mix.pane else "",
    ]))) for mix in state.mixes if mix.making == 1]
    panes = [(f"{load.anchor}-panes", ", ".join(load.load.panes)) for load in work.loads]
    return {"amount": ("Which mix", mixes), "ran-out": ("Which mix", mixes), "spoilt": ("Which pane", panes)}


def _overtaken(run: Run) -> list[str]:
    return [sentence for _, found in overtaken([run], doubts=False) for sentence in found] if run.is_open else []


def _shown(
    run: Run, state: BenchState, said: Said, screens: Sequence[Screen], refused: Refused | None,
) -> list[Shown]:
    day, by_anchor = today(), {screen.anchor: screen for screen in screens}
    shelves = shelves_for(state.mixes) if run.is_open else {}
    lots, ahead = offered(shelves, day), made_lots(state.mixes) if run.is_open else {}
    planned = {pane.label: pane for pane in state.plan.panes}
    found = []
    for screen in screens:
        form = refused.form if refused and refused.anchor == screen.anchor else None
        more: dict[str, Any] = {"refusal": refused.sentence if refused and refused.anchor == screen.anchor else ""}
        if screen.kind == MIX:
            mine = [mix for mix in state.mixes if mix.mix.key == screen.subject]
            mix = mine[0]
            more |= {
                "mix": mix, "form": form if isinstance(form, MixForm) else MixForm(state=mix, lots=lots),
                "done": form if isinstance(form, DoneAtForm) else DoneAtForm(prefix=mix.key),
                "stops": not_to_take(mix, shelves, day) if run.is_open and mix.made is None else {},
                "in_it": state.added.get(screen.subject, ()), "lots": ahead.get(mix.key, ()),
                "again": f"{screen.subject}-{len(mine) + 1}", "said": said.get(f"{Kind.MIXED} {screen.subject}", {}),
                "rows": mine[1:],
            }
        elif screen.kind == STEP:
            more["said"] = said.get(f"{Kind.STEP} {screen.anchor}", {})
        elif screen.kind == PANES and screen.load is not None:
            panes = {pane.label: pane for pane in state.panes}
            more["rows"] = [(planned[label], panes[label], said.get(f"{Kind.PANE} {label}", {}),
                             form if refused and refused.sentence and _is_of(form, label) else None)
                            for label in screen.load.load.panes]
            more["said"] = {"done": all(panes[label].outcome for label in screen.load.load.panes)}
        elif screen.kind == GLASS:
            more["rows"] = [(glass, _glass_form(state, glass, form), said.get(f"{Kind.GLASS} {glass.code}", {}))
                            for glass in state.plan.glass]
            more["said"] = {"done": state.cut >= {glass.code for glass in state.plan.glass}}
        else:
            more |= {"form": form or ConditionsForm(initial=state.conditions),
                     "said": said.get(f"{Kind.CONDITIONS} ", {})}
        found.append(Shown(screen=screen, following=by_anchor.get(screen.following), **more))
    return found


def _glass_form(state: BenchState, glass: TicketGlass, refused: forms.Form | None) -> GlassForm:
    if isinstance(refused, GlassForm) and refused.glass.code == glass.code:
        return refused
    return GlassForm(glass=glass, initial={"sheets": state.sheets[glass.code]}, auto_id=f"{glass.code}_%s")


def _is_of(form: forms.Form | None, label: str) -> bool:
    return form is not None and form.data.get("subject") == label


def _tabs(work: WorkPlan, shown: Sequence[Shown]) -> list[Tab]:
    """Return the loads with what each waits for: the first of its screens that is not done."""
    found = []
    for load in work.loads:
        mine = [one for one in shown if one.screen.load is not None and one.screen.load.anchor == load.anchor]
        found.append(tab_of(load, mine, begun=any(one.said for one in mine if one.screen.kind != PANES)))
    return found


@open_when_locked()
@at_the_desk
@require_safe
def steps(request: DeskRequest, pk: int) -> HttpResponse:
    """Show a run one thing at a time. The whole plan is in the page: a tablet keeps it and needs no network for it."""
    response = render(request, "jobs/work/steps.html", _context(_run(pk)))
    response["Cache-Control"] = KEPT_BY_THE_BENCH
    return response


@open_when_locked(is_trouble)
@at_the_desk
@require_POST
def record_form(request: DeskRequest, pk: int) -> HttpResponse:
    """Take one record from a page without a script, and go on to what comes then."""
    run, sent = _run(pk), sent_of_form(request)
    try:
        record(run=run, by=request.user, sent=sent)
    except NotTaken as refusal:
        refused = Refused(anchor=_anchor_of(request), sentence=str(refusal), form=refusal.form)
        return render(request, "jobs/work/steps.html", _context(run, refused), status=REFUSED)
    return redirect(f"{reverse('jobs:steps', args=[run.pk])}#{clean_anchor(request.POST.get('next', ALL))}")


def _anchor_of(request: DeskRequest) -> str:
    return clean_anchor(request.POST.get("screen", ALL))


@open_when_locked(are_troubles)
@at_the_desk
@require_POST
def record_many(request: DeskRequest, pk: int) -> JsonResponse:
    """Take what a page kept and sends now, in its order, and answer each; what is refused comes back as its screen."""
    run = _run(pk)
    answers = answers_to(
        request, lambda sent: isinstance(record(run=run, by=request.user, sent=sent), RunEntry | None),
        lambda one, refusal: _screen(request, run, one, refusal),
    )
    if answers is None:
        return JsonResponse({"refused": "That is no list of records."}, status=400)
    return JsonResponse({"answers": answers, **_state(request, run)})


def _screen(request: DeskRequest, run: Run, one: Mapping[str, Any], refusal: NotTaken) -> str:
    """Return the screen that was refused, with why beside its field and everything that was typed."""
    anchor = clean_anchor(str(one.get("screen", "")))
    context = _context(run, Refused(anchor=anchor, sentence=str(refusal), form=refusal.form))
    shown = next((row for row in context["screens"] if row.screen.anchor == anchor), None)
    if shown is not None:
        return render_to_string("recipes/steps/screen.html", {**context, "shown": shown}, request)
    name = {_MADE_SAFE: "recipes/steps/made_safe.html", LEAVE: "jobs/work/steps/leave.html"}.get(anchor)
    return render_to_string(name, context, request) if name else ""


def _mark(run: Run) -> str:
    """Return what changes whenever something is recorded of a run, made safe, or ends. Two queries."""
    entries = run.entries.order_by("-pk").values_list("pk", flat=True)[:1]
    clocks = ",".join(f"{pk}.{safe or ''}" for pk, safe in clocks_of(run).values_list("pk", "made_safe"))
    return f"{next(iter(entries), 0)}-{clocks}-{run.finished_at is not None}-{run.ticket.job.is_cancelled}"


def _state(request: DeskRequest, run: Run) -> dict[str, Any]:
    # the moment and the mark are no later than what is read: what comes meanwhile is asked for again
    moment, mark = now(), _mark(run)
    state = bench_state(run)
    return {
        "mark": mark, "csrf": get_token(request), "person": request.user.name, "open": run.is_open,
        "now": moment.isoformat(), "said": said_of(state),
        "clock": render_to_string("recipes/steps/clock.html", {"state": state}, request),
        "still": render_to_string("jobs/work/steps/still.html", {"state": state}, request),
        "noted": render_to_string("jobs/work/steps/noted.html", {"state": state}, request),
        "safe": render_to_string("recipes/steps/made_safe.html", {
            "state": state, "bench": _page(run), "made_safe_said": _made_safe_said(state),
            "safe_form": _safe_form(state), "house": House.objects.first()}, request),
    }


@open_when_locked(by_itself=True)
@at_the_desk
@require_safe
def steps_state(request: DeskRequest, pk: int) -> HttpResponse:
    """Say what is recorded by now; nothing where that is what the page knows already."""
    run = _run(pk)
    if request.GET.get("mark") == _mark(run):
        return HttpResponse(status=204)
    return JsonResponse(_state(request, run))


@at_the_desk
@require_POST
def settle_waiting(request: DeskRequest, pk: int) -> HttpResponse:
    """Say what became of a record that could not be taken as it was sent."""
    waiting = get_object_or_404(WaitingRecord.objects.select_related("run__ticket__job"), pk=pk)
    try:
        settle(waiting=waiting, by=request.user, because=request.POST.get("because", ""))
    except DaybookError as refusal:
        messages.error(request, str(refusal))
    return redirect(f"{reverse('jobs:run', args=[waiting.run_id])}#waiting")


@open_when_locked(by_itself=True)
@open_door
@require_safe
def worker(request: DeskRequest) -> HttpResponse:
    """Give the script that keeps the pages of the bench for when there is no network."""
    response = render(request, "jobs/work/steps/worker.js", {"files": [static(name) for name in _STATIC]},
                      content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    response["Service-Worker-Allowed"] = "/"
    return response

