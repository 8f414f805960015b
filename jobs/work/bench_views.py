"""The bench: what a helper sees and records. No price, cost or contact detail comes near this module."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any, cast

from django import forms
from django.db.models import F
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from jobs.estimating.cutting.cut_list import TicketOffcut
from jobs.models import Run, RunEntry, WorkTicket
from jobs.work.bench import BenchState, MixState, bench_state, note
from jobs.work.clock import standing_now
from jobs.work.forms import (
    ConditionsForm,
    GlassForm,
    MadeSafeForm,
    MixForm,
    NoteForm,
    PaneForm,
    TimeForm,
    TroubleForm,
    as_content,
)
from jobs.work.in_doubt import doubts_of_ticket
from jobs.work.kept import leftovers_of, offcuts_of, sheets_used
from jobs.work.known_now import known_now
from jobs.work.lots_to_take import made_lots, not_to_take, offered, shelves_for
from jobs.work.overtaken import overtaken
from jobs.work.pane_labels import pane_labels_paper
from jobs.work.pane_meetings import meetings_of
from jobs.work.records import record
from jobs.work.samples import went_ahead_with
from jobs.work.silver import silver_of_runs
from jobs.work.ticket_paper import paper_to_read, ticket_paper
from jobs.work.ticketing import plan_of
from jobs.work.work_plan import LoadPlan, MixCard, StepCard, WorkPlan, work_plan
from recipes.bench_page import NotTaken, Sent
from recipes.making_safe_form import DoneAtForm, MakingSafeForm
from recipes.models import MakingSafe
from studio.house.clock import today
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest, pdf_response
from studio.house.lists import paged
from studio.house.models import House
from studio.kit.access import at_the_desk, open_when_locked
from studio.kit.errors import DaybookError
from studio.kit.rounding import plain
from studio.stockroom.models import WasteContainer

Kind = RunEntry.Kind
#: so many stand on the bench's first page; the rest in the list of runs
FINISHED_LATELY = 10


@open_when_locked()
@at_the_desk
@require_safe
def bench(request: DeskRequest) -> HttpResponse:
    """Every open run, and those finished lately."""
    runs = Run.objects.select_related("ticket__job__order__customer", "ticket__job__quote")
    listing = paged(request, runs.open().order_by(F("ticket__job__due_on").asc(nulls_last=True), "pk"))
    return render(request, "jobs/work/bench.html", {
        "listing": listing, "open": listing.rows,
        "overtaken": {run.pk: said for run, said in overtaken(list(listing.rows))},
        "finished": runs.filter(finished_at__isnull=False).order_by("-finished_at", "-pk")[:FINISHED_LATELY],
        "standing": standing_now(House.objects.first() or House()),
    })


def _run(pk: int) -> Run:
    return get_object_or_404(Run.objects.select_related("ticket__job__order__customer"), pk=pk)


def _context(run: Run, refused: dict[str, forms.Form] | None = None) -> dict[str, Any]:
    state, refused = bench_state(run), refused or {}
    shelves = shelves_for(state.mixes) if run.is_open else {}
    lots = offered(shelves, today())
    mixes = [
        (mix, cast(MixForm, refused.get(f"mix-{mix.key}") or MixForm(state=mix, lots=lots)))
        for mix in state.mixes
    ]
    rows = {mix.key: (mix, form) for mix, form in mixes}
    work = work_plan(state.plan)
    results = {result.label: result for result in run.pane_results.all()}
    planned = {pane.label: pane for pane in state.plan.panes}
    return {
        "doubts": doubts_of_ticket(run.ticket),
        "overtaken": [said for _, found in overtaken([run], doubts=False) for said in found] if run.is_open else (),
        "run": run, "ticket": run.ticket, "job": run.ticket.job, "state": state, "mix_rows": rows,
        "ahead": lambda: went_ahead_with(run.ticket.job),  # asked for by who runs the desk alone
        "letters": {making.key: card.letter for card in work.cards if isinstance(card, MixCard)
                    for making in card.makings},
        "whole_job": [row for card in work.whole_job for row in _rows_of(card, rows)],
        "loads": _loads(work, rows), "results": results,
        "not_to_take": {
            mix.key: list(not_to_take(mix, shelves, today()).values())
            for mix in (state.mixes if run.is_open else ()) if mix.made is None
        },
        "whole_job_open": not run.is_open or any(
            row[0].made is None or row[1].errors
            for card in work.whole_job for row in _rows_of(card, rows)
        ),
        "panes": [
            (planned[pane.label], pane, refused.get(f"pane-{pane.label}")) for pane in state.panes
        ],
        "to_recover": max(silver_of_runs([run])["rest"], Fraction(0)) if run.finished_at else None,
        "open_containers": WasteContainer.objects.filter(handed_on=None) if run.finished_at else (),
        "kept_mixes": leftovers_of(run, state),
        "made_lots": made_lots(state.mixes),
        "conditions_form": refused.get("conditions") or ConditionsForm(initial=state.conditions),
        "time_form": refused.get("time") or TimeForm(initial=state.minutes),
        "note_form": refused.get("notes") or NoteForm(),
        "trouble_form": refused.get("trouble") or TroubleForm(auto_id="trouble_%s"),
        "safe_form": refused.get("made_safe") or _safe_form(run, state),
        "sprayings": [(spraying, _done_form(spraying.meeting.key, spraying.at, refused.get(
            f"spraying-{spraying.meeting.key}"))) for spraying in state.sprayings],
        "done_forms": {mix.key: _done_form(
            mix.key, mix.at if mix.made else None, refused.get(f"done-{mix.key}"))
                       for mix in state.mixes if mix.is_ammoniacal},
        "glass_rows": [
            (glass, refused.get(f"glass-{glass.code}") or GlassForm(
                glass=glass, initial={"sheets": state.sheets[glass.code]}))
            for glass in state.plan.glass
        ],
        "sheets_used": _sheets_used(run, state),
        "offcuts": _offcuts(run, state),
        "makings_safe": MakingSafe.objects.filter(clocks__of_run__run=run).distinct().select_related(
            "by").prefetch_related("clocks"),
    }


def _sheets_used(run: Run, state: BenchState) -> dict[str, str]:
    """Return the sheets used by glass: as a finished run deducts them now, else only what somebody recorded."""
    taken = run.finished_at is not None and not run.stopped
    return {code: plain(sheets) for code, sheets in sheets_used(run, state).items() if taken or code in state.cut}


def _done_form(key: str, at: datetime | None, refused: forms.Form | None = None) -> forms.Form:
    """Return the field of when it was done, with what was recorded: a correction keeps its time."""
    return refused or DoneAtForm(prefix=key, initial={"done_at": at})


def _safe_form(run: Run, state: BenchState) -> forms.Form:
    """Return the form of making safe: of what stands, by name; where nothing does, the tick that ends every run."""
    if not state.standing:
        return MadeSafeForm()
    return MakingSafeForm(rows=(), standing=state.standing, house=House.objects.get())


def _offcuts(run: Run, state: BenchState) -> list[tuple[str, TicketOffcut, str]]:
    """Return what the cut glass leaves that is worth keeping: its name in the form, its size, where it is left."""
    kept = {(offcut.glass, offcut.sheet, offcut.piece) for offcut in run.kept_offcuts.all()}
    return [
        (name, piece, f"{glass.name}, sheet {sheet.number}" if sheet.kept_offcut is None
         else f"{glass.name}, of kept offcut {sheet.kept_offcut}")
        for name, glass, sheet, at, piece in offcuts_of(run, state) if (glass.code, sheet.number, at) not in kept
    ]


MixRow = tuple[MixState, MixForm]


@dataclass(frozen=True)
class _Load:
    """A load as the run's page shows it: mixes, with their forms, and steps in the order of the hand."""

    plan: LoadPlan
    rows: list[tuple[StepCard | None, list[MixRow]]]
    is_open: bool


def _rows_of(card: MixCard, rows: dict[str, MixRow]) -> list[MixRow]:
    """Return the rows of a card's makings, and of those that were mixed again."""
    keys = {making.key for making in card.makings}
    return [row for row in rows.values() if row[0].mix.key in keys]


def _loads(work: WorkPlan, rows: dict[str, MixRow]) -> list[_Load]:
    """Return the loads of a run; the first that still has a mix to record is open, and one with a refusal."""
    found: list[_Load] = []
    waiting_before = any(row[0].made is None for card in work.whole_job for row in _rows_of(card, rows))
    for plan in work.loads:
        shown: list[tuple[StepCard | None, list[MixRow]]] = [
            (None, _rows_of(card, rows)) if isinstance(card, MixCard) else (card, [])
            for card in plan.cards
        ]
        mixes = [row for _, these in shown for row in these]
        waiting = any(state.made is None for state, _ in mixes)
        refused = any(form.errors for _, form in mixes)
        found.append(_Load(plan, shown, refused or (waiting and not waiting_before) or len(work.loads) == 1))
        waiting_before = waiting_before or waiting
    return found


@open_when_locked()
@at_the_desk
@require_safe
def run_page(request: DeskRequest, pk: int) -> HttpResponse:
    return render(request, "jobs/work/run.html", _context(_run(pk)))


@dataclass(frozen=True)
class _Part:
    """A part of the run's page: its template, and what it is about (a mix, a pane, a glass)."""

    name: str
    subject: str = ""

    @property
    def form_key(self) -> str:
        return f"{self.name}-{self.subject}" if self.subject else self.name

    @property
    def anchor(self) -> str:
        return {"mix": f"mix-{self.subject}", "pane": "panes", "made_safe": "made-safe",
                "spraying": "sprayings"}.get(self.name, self.name)


def _item(context: dict[str, Any], part: _Part) -> dict[str, Any]:
    """Return what a part's template calls its one mix, pane or glass."""
    if part.name == "mix":
        mix, form = context["mix_rows"][part.subject]
        return {"mix": mix, "form": form}
    if part.name == "pane":
        pane, noted, form = next(row for row in context["panes"] if row[0].label == part.subject)
        return {"pane": pane, "noted": noted, "form": form}
    if part.name == "spraying":
        spraying, form = next(row for row in context["sprayings"] if row[0].meeting.key == part.subject)
        return {"spraying": spraying, "form": form}
    if part.name == "glass":
        glass, form = next(row for row in context["glass_rows"] if row[0].code == part.subject)
        return {"glass": glass, "form": form}
    return {}


def _show(
    request: DeskRequest, run: Run, part: _Part, status: int = 200, form: forms.Form | None = None, refusal: str = "",
    done: forms.Form | None = None,
) -> HttpResponse:
    """Answer htmx with the part and the list of what is still to do; else with the whole page.

    done: the refused field of when a mix was mixed. What starts a clock brings the form that stops it.
    """
    refused = {part.form_key: form, f"done-{part.subject}": done}
    context = {**_context(run, {name: sent for name, sent in refused.items() if sent is not None}), "refusal": refusal}
    if not request.htmx:
        return render(request, "jobs/work/run.html", context, status=status)
    swapped = render_to_string(f"jobs/work/bench/{part.name}.html", {**context, **_item(context, part)}, request)
    others = ["todo", *(["made_safe"] if part.name in ("mix", "spraying") else [])]
    beside = (render_to_string(f"jobs/work/bench/{name}.html", {**context, "oob": True}, request) for name in others)
    return HttpResponse(swapped + "".join(beside), status=status)


def _noted(
    request: DeskRequest, run: Run, kind: str, content: dict[str, Any], part: _Part, done_at: datetime | None = None,
) -> HttpResponse:
    key = sent_key(request)
    try:
        note(run=run, by=request.user, client_key=key, kind=kind, content=content, subject=part.subject,
             device_at=done_at)
    except DaybookError as refusal:
        return _show(request, run, part, REFUSED, refusal=str(refusal))
    if request.htmx:
        return _show(request, run, part)
    return redirect(reverse("jobs:run", args=[run.pk]) + f"#{part.anchor}")


def _note_form(request: DeskRequest, run: Run, kind: str, form: forms.Form, part: _Part) -> HttpResponse:
    """Note what a form holds, or show the form with what is wrong beside it."""
    sent_key(request)
    if not form.is_valid():
        return _show(request, run, part, REFUSED, form)
    return _noted(request, run, kind, as_content(form.cleaned_data), part)


@at_the_desk
@require_POST
def record_conditions(request: DeskRequest, pk: int) -> HttpResponse:
    run = _run(pk)
    steps = (step for recipe in plan_of(run.ticket).recipes for step in recipe.steps)
    return _note_form(request, run, Kind.CONDITIONS, ConditionsForm(request.POST, steps=steps), _Part("conditions"))


def _send(request: DeskRequest, run: Run, kind: str, part: _Part, **more: str) -> HttpResponse:
    """Take a record as the page that shows one thing at a time sends it. more: fields that the button stands for."""
    fields = {**dict(request.POST.lists()), **{name: [value] for name, value in more.items()}}
    try:
        record(run=run, by=request.user,
               sent=Sent(key=sent_key(request), kind=kind, subject=part.subject, fields=fields))
    except NotTaken as refusal:
        if isinstance(refusal.form, DoneAtForm):
            return _show(request, run, part, REFUSED, None, str(refusal), refusal.form)
        beside = refusal.form is not None and not refusal.form.non_field_errors()
        return _show(request, run, part, REFUSED, refusal.form, "" if beside else str(refusal))
    if request.htmx:
        return _show(request, run, part)
    return redirect(reverse("jobs:run", args=[run.pk]) + f"#{part.anchor}")


def _mix_sent(request: DeskRequest, pk: int, key: str, act: str) -> HttpResponse:
    run = _run(pk)
    if all(mix.key != key for mix in bench_state(run).mixes):
        raise Http404
    return _send(request, run, Kind.MIXED, _Part("mix", key), act=act)


@at_the_desk
@require_POST
def record_mix(request: DeskRequest, pk: int, key: str) -> HttpResponse:
    """Note a batch as made with these amounts."""
    return _mix_sent(request, pk, key, "amounts")


@at_the_desk
@require_POST
def record_mix_as_written(request: DeskRequest, pk: int, key: str) -> HttpResponse:
    return _mix_sent(request, pk, key, "as-written")


@at_the_desk
@require_POST
def record_mix_not_made(request: DeskRequest, pk: int, key: str) -> HttpResponse:
    return _mix_sent(request, pk, key, "not-made")


@at_the_desk
@require_POST
def record_mix_from_lot(request: DeskRequest, pk: int, key: str) -> HttpResponse:
    """Note that a mix was not made, but taken from a lot of just this solution, mixed ahead."""
    return _mix_sent(request, pk, key, "from-lot")


@at_the_desk
@require_POST
def record_pane(request: DeskRequest, pk: int, label: str) -> HttpResponse:
    run = _run(pk)
    if label not in {pane.label for pane in plan_of(run.ticket).panes}:
        raise Http404
    return _note_form(request, run, Kind.PANE, PaneForm(request.POST), _Part("pane", label))


@at_the_desk
@require_POST
def record_glass(request: DeskRequest, pk: int, code: str) -> HttpResponse:
    run = _run(pk)
    glass = next((glass for glass in plan_of(run.ticket).glass if glass.code == code), None)
    if glass is None:
        raise Http404
    return _note_form(request, run, Kind.GLASS, GlassForm(request.POST, glass=glass), _Part("glass", code))


@at_the_desk
@require_POST
def record_time(request: DeskRequest, pk: int) -> HttpResponse:
    return _note_form(request, _run(pk), Kind.TIME, TimeForm(request.POST), _Part("time"))


@at_the_desk
@require_POST
def record_note(request: DeskRequest, pk: int) -> HttpResponse:
    return _note_form(request, _run(pk), Kind.NOTE, NoteForm(request.POST), _Part("notes"))


@open_when_locked()
@at_the_desk
@require_POST
def record_trouble(request: DeskRequest, pk: int) -> HttpResponse:
    """Note that something went wrong: what, and what was done."""
    return _note_form(request, _run(pk), Kind.NOTE, TroubleForm(request.POST), _Part("trouble"))


@at_the_desk
@require_POST
def record_spraying(request: DeskRequest, pk: int, key: str) -> HttpResponse:
    """Note when stocks that meet on the panes of a load were first sprayed, or that they were not."""
    run, part = _run(pk), _Part("spraying", key)
    if key not in {meeting.key for meeting in meetings_of(known_now(plan_of(run.ticket)))}:
        raise Http404
    sent_key(request)
    form = DoneAtForm(request.POST, prefix=key)
    if not form.is_valid():
        return _show(request, run, part, REFUSED, form)
    sprayed = request.POST.get("sprayed") != "no"
    return _noted(request, run, Kind.SPRAYED, {"sprayed": sprayed}, part,
                  form.cleaned_data["done_at"] if sprayed else None)


@at_the_desk
@require_POST
def record_made_safe(request: DeskRequest, pk: int) -> HttpResponse:
    """Note which mixes were made safe; where none is ammoniacal silver, that leftovers and first rinse were."""
    return _send(request, _run(pk), Kind.MADE_SAFE, _Part("made_safe"))


@at_the_desk
@require_safe
def ticket_pdf(request: DeskRequest, pk: int) -> HttpResponse:
    """Show a ticket's paper: one in doubt as it is to be read now; with ?first-printed, the bytes kept of the first."""
    ticket = get_object_or_404(
        WorkTicket.objects.select_related("job__order__customer", "job__quote", "paper", "run"), pk=pk)
    content = ticket_paper(ticket) if "first-printed" in request.GET else paper_to_read(ticket)
    return pdf_response(content, f"ticket-{ticket.job.number}-{ticket.number}.pdf")


@at_the_desk
@require_safe
def pane_labels_pdf(request: DeskRequest, pk: int) -> HttpResponse:
    """Show the labels for the backs of a run's panes."""
    run = _run(pk)
    ticket = run.ticket
    return pdf_response(pane_labels_paper(run), f"ticket-{ticket.job.number}-{ticket.number}-pane-labels.pdf")
