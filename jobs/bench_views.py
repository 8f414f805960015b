"""The bench: what a helper sees and notes. No price, cost or contact detail comes near this module."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID, uuid4

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from jobs.bench import BenchState, MixState, bench_state, note
from jobs.documents.ticket import ticket_paper
from jobs.finishing import finish_run
from jobs.forms import ConditionsForm, GlassForm, MadeSafeForm, MixForm, NoteForm, PaneForm, TimeForm
from jobs.models import Run, RunEntry, WorkTicket
from studio.access import at_the_desk
from studio.errors import DaybookError
from studio.http import REFUSED, DeskRequest, render_page_or_part

Kind = RunEntry.Kind


@at_the_desk
@require_safe
def bench(request: DeskRequest) -> HttpResponse:
    """Every open run, and those finished lately."""
    runs = Run.objects.select_related("ticket__job__order__customer")
    return render(request, "jobs/bench.html", {
        "open": runs.filter(finished_at=None).order_by("ticket__job__due_on"),
        "finished": runs.filter(finished_at__isnull=False).order_by("-finished_at")[:10],
    })


def _run(pk: int) -> Run:
    return get_object_or_404(Run.objects.select_related("ticket__job__order__customer"), pk=pk)


def _context(run: Run, **refused: forms.Form) -> dict[str, Any]:
    state = bench_state(run)
    mixes = [
        (mix, cast(MixForm, refused.get(f"mix-{mix.mix.key}") or MixForm(state=mix))) for mix in state.mixes
    ]
    groups = _mix_groups(mixes)
    results = {result.label: result for result in run.pane_results.all()}
    planned = {pane.label: pane for pane in state.plan.panes}
    return {
        "run": run, "ticket": run.ticket, "job": run.ticket.job, "state": state, "groups": groups,
        "loads": _loads(state), "results": results,
        "panes": [
            (planned[one.label], one, refused.get(f"pane-{one.label}")) for one in state.panes
        ],
        "conditions_form": refused.get("conditions") or ConditionsForm(initial=state.conditions),
        "time_form": refused.get("time") or TimeForm(initial=state.minutes),
        "note_form": refused.get("note") or NoteForm(),
        "safe_form": refused.get("made-safe") or MadeSafeForm(),
        "glass": [
            (one, refused.get(f"glass-{one.code}") or GlassForm(initial={"sheets": state.sheets[one.code]}))
            for one in state.plan.glass
        ],
    }


MixRow = tuple[MixState, MixForm]


def _mix_groups(mixes: list[MixRow]) -> list[tuple[str, list[MixRow], bool]]:
    """Return mixes load by load with a title, and whether the group is the one to work on now."""
    groups: dict[tuple[str, int], list[MixRow]] = {}
    for state, form in mixes:
        groups.setdefault((state.mix.recipe if state.mix.load else "", state.mix.load or 0), []).append((state, form))
    shown, found_open = [], False
    for (recipe, load), rows in groups.items():
        waiting = any(state.made is None for state, _ in rows)
        refused = any(form.errors for _, form in rows)
        title = f"Load {load} of {recipe.rsplit('/', 1)[0].replace('-', ' ')}" if load else "For the whole job"
        shown.append((title, rows, refused or (waiting and not found_open)))
        found_open = found_open or waiting
    return shown


def _loads(state: BenchState) -> list[tuple[Any, Any]]:
    return [(recipe, load) for recipe in state.plan.recipes for load in recipe.loads]


@at_the_desk
@require_safe
def run_page(request: DeskRequest, pk: int) -> HttpResponse:
    return render_page_or_part(request, "jobs/run.html", "bench", _context(_run(pk)))


def _noted(
    request: DeskRequest, pk: int, kind: str, content: dict[str, Any], subject: str = "", anchor: str = ""
) -> HttpResponse:
    run = _run(pk)
    try:
        note(run=run, by=request.user, client_key=_key(request), kind=kind, content=content, subject=subject)
    except DaybookError as refusal:
        return _refused(request, run, str(refusal))
    if request.htmx:
        return render_page_or_part(request, "jobs/run.html", "bench", _context(run))
    return redirect(reverse("jobs:run", args=[pk]) + (f"#{anchor}" if anchor else ""))


def _refused(
    request: DeskRequest, run: Run, refusal: str = "", refused: dict[str, forms.Form] | None = None
) -> HttpResponse:
    context = {**_context(run, **(refused or {})), "refusal": refusal}
    return render_page_or_part(request, "jobs/run.html", "bench", context, status=REFUSED)


def _key(request: DeskRequest) -> UUID:
    """Return the key that the form carries: the same note sent twice counts once."""
    try:
        return UUID(request.POST.get("client_key", ""))
    except ValueError:
        return uuid4()


@at_the_desk
@require_POST
def note_conditions(request: DeskRequest, pk: int) -> HttpResponse:
    form = ConditionsForm(request.POST)
    if not form.is_valid():
        return _refused(request, _run(pk), refused={"conditions": form})
    return _noted(request, pk, Kind.CONDITIONS, form.content(), anchor="mixes")


@at_the_desk
@require_POST
def note_mix(request: DeskRequest, pk: int, key: str) -> HttpResponse:
    """Note a batch: made with these amounts, as written, or not made at all."""
    run = _run(pk)
    state = next((one for one in bench_state(run).mixes if one.mix.key == key), None)
    if state is None:
        raise Http404
    how = request.POST.get("how", "")
    if how == "as written":
        return _noted(request, pk, Kind.MIXED, _as_written(state), key, f"mix-{key}")
    if how == "not made":
        return _noted(request, pk, Kind.MIXED, {"made": False, "amounts": {}}, key, f"mix-{key}")
    form = MixForm(request.POST, state=state)
    if not form.is_valid():
        return _refused(request, run, refused={f"mix-{key}": form})
    return _noted(request, pk, Kind.MIXED, {"made": True, "amounts": form.cleaned_data["amounts"]}, key, f"mix-{key}")


def _as_written(state: MixState) -> dict[str, Any]:
    return {"made": True, "amounts": {str(one.number): f"{one.amount:f}" for one in state.mix.ingredients}}


@at_the_desk
@require_POST
def note_pane(request: DeskRequest, pk: int, label: str) -> HttpResponse:
    run = _run(pk)
    if label not in {pane.label for pane in bench_state(run).panes}:
        raise Http404
    form = PaneForm(request.POST)
    if not form.is_valid():
        return _refused(request, run, refused={f"pane-{label}": form})
    return _noted(request, pk, Kind.PANE, form.cleaned_data, label, "panes")


@at_the_desk
@require_POST
def note_glass(request: DeskRequest, pk: int, code: str) -> HttpResponse:
    run = _run(pk)
    if code not in bench_state(run).sheets:
        raise Http404
    form = GlassForm(request.POST)
    if not form.is_valid():
        return _refused(request, run, refused={f"glass-{code}": form})
    return _noted(request, pk, Kind.GLASS, form.cleaned_data, code, "glass")


@at_the_desk
@require_POST
def note_time(request: DeskRequest, pk: int) -> HttpResponse:
    form = TimeForm(request.POST)
    if not form.is_valid():
        return _refused(request, _run(pk), refused={"time": form})
    content = {who: f"{minutes:f}" for who, minutes in form.cleaned_data.items()}
    return _noted(request, pk, Kind.TIME, content, anchor="time")


@at_the_desk
@require_POST
def note_words(request: DeskRequest, pk: int) -> HttpResponse:
    form = NoteForm(request.POST)
    if not form.is_valid():
        return _refused(request, _run(pk), refused={"note": form})
    return _noted(request, pk, Kind.NOTE, form.cleaned_data, anchor="notes")


@at_the_desk
@require_POST
def note_made_safe(request: DeskRequest, pk: int) -> HttpResponse:
    form = MadeSafeForm(request.POST)
    if not form.is_valid():
        return _refused(request, _run(pk), refused={"made-safe": form})
    return _noted(request, pk, Kind.MADE_SAFE, form.cleaned_data, anchor="made-safe")


@at_the_desk
@require_POST
def finish(request: DeskRequest, pk: int) -> HttpResponse:
    """Finish the run: stock is deducted once, or nothing is and a sentence says why."""
    run = _run(pk)
    try:
        finish_run(run=run, by=request.user)
    except DaybookError as refusal:
        return _refused(request, run, str(refusal))
    messages.success(request, "The run is finished and its stock is deducted.")
    return redirect("jobs:run", pk)


@at_the_desk
@require_safe
def ticket_pdf(request: DeskRequest, pk: int) -> HttpResponse:
    ticket = get_object_or_404(WorkTicket.objects.select_related("job__order__customer", "paper", "run"), pk=pk)
    response = HttpResponse(ticket_paper(ticket), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="ticket-{ticket.job.number}-{ticket.number}.pdf"'
    return response
