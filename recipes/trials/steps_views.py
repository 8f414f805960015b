"""A trial one step at a time at the bench: its page, what it sends, and what it asks every few seconds.

No price, cost or contact detail comes near this module: a browser keeps the page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from recipes.bench_page import (
    ALL,
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
from recipes.clocks import Standing, standing
from recipes.finishes.wearing import worn_at
from recipes.making_safe_form import DoneAtForm, MakingSafeForm
from recipes.models import FinishPicture, MakingSafe, Trial, TrialRecord
from recipes.solutions.rules import own_cautions
from recipes.trials.against_stops import stops_of
from recipes.trials.bench import Taking, TrialBench, bench_of, said_of
from recipes.trials.cards import CONDITIONS, MIX, STEP, Place, Screen
from recipes.trials.change_words import change_in_words
from recipes.trials.forms import ConditionsForm
from recipes.trials.reading import changes_of, trials_with_all
from recipes.trials.records import MixForm, made_lots, record, settle, take_forms
from recipes.trouble import TROUBLES
from studio.house.answers import KEPT_BY_THE_BENCH
from studio.house.clock import house_zone, now
from studio.house.http import DeskRequest
from studio.house.models import House
from studio.kit.access import at_the_desk, open_when_locked
from studio.kit.errors import DaybookError

Kind = TrialRecord.Kind


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A screen with what was recorded of it and the forms it sends. rows: of a mix, each ingredient with its lots."""

    screen: Screen
    said: Mapping[str, Any]
    form: forms.Form | None = None
    rows: Sequence[tuple[Any, Taking | None, str]] = ()
    in_it: Sequence[int] = ()
    lots: Sequence[Any] = ()
    further: Sequence[tuple[str, Mapping[str, Any]]] = ()
    cautions: str = ""
    starts_clock: bool = False
    changes: Sequence[str] = ()
    worn: Sequence[str] = ()
    following: Screen | None = None
    refusal: str = ""

    @property
    def template(self) -> str:
        return "recipes/steps/conditions.html" if self.screen.kind == CONDITIONS else (
            f"recipes/trials/steps/{self.screen.kind}.html")

    @property
    def done_by(self) -> str:
        """Return what must be recorded for it to be done, as the script reads it."""
        kind = {MIX: Kind.MIXED, STEP: Kind.STEP}.get(self.screen.kind, Kind.CONDITIONS)
        return f"{kind} {self.screen.subject}"

    @property
    def is_done(self) -> bool:
        return bool(self.said.get("done"))

    @property
    def short(self) -> list[Taking]:
        """Return what the shelf has too little of."""
        return [taking for _, taking, _ in self.rows if taking is not None and taking.short > 0]

    @property
    def onward(self) -> str:
        return self.following.goes_on if self.following else "the photographs"

    @property
    def then(self) -> str:
        return self.following.name if self.following else "Photographs of the front and the back"


def _trial(number: int) -> Trial:
    return get_object_or_404(trials_with_all(), number=number)


def _page(trial: Trial) -> BenchPage:
    return BenchPage(
        of=f"trial-{trial.number}", record=reverse("recipes:trial_record", args=[trial.number]),
        records=reverse("recipes:trial_records", args=[trial.number]),
        state=reverse("recipes:trial_state", args=[trial.number]), is_open=trial.closed_at is None, whole="the trial",
    )


def _standing(trial: Trial, house: House) -> list[Standing]:
    return standing(trial.clocks.filter(made_safe=None), house)


def _made_safe_said(trial: Trial) -> str:
    safe = MakingSafe.objects.filter(clocks__trial=trial).select_related("by").last()
    return f"{safe.done_at.astimezone(house_zone()):%H:%M}, {safe.by.name}" if safe else ""


def _context(trial: Trial, refused: Refused | None = None) -> dict[str, Any]:
    bench, house = bench_of(trial), House.objects.first() or House()
    said = said_of(bench)
    changes, worn = _changes(bench, house.units), worn_at(bench.recipe, bench.shelf)
    shown = [_shown(bench, said, screen, refused, house) if screen.kind != STEP or screen.step is None
             else _shown_step(bench, said, screen, refused, changes.get(screen.step.number, ()),
                              worn.get(screen.step.number, ())) for screen in bench.screens]
    ahead = made_lots(bench) if trial.closed_at is None else {}
    stands = _standing(trial, house)
    by_anchor = {one.screen.anchor: one.screen for one in shown}
    shown = [replace(one, following=by_anchor.get(one.screen.following), lots=ahead.get(one.screen.subject, ()))
             for one in shown]
    mixes = [(one.screen.anchor, one.screen.name) for one in shown if one.screen.kind == MIX]
    return {
        "trial": trial, "bench": _page(trial), "screens": shown, "said": said, "tabs": [_tab(shown)],
        "state": {"standing": stands},
        "changes": [words for of_step in changes.values() for words in of_step],
        "stops": stops_of(trial)[0],
        "here": refused.anchor if refused else ALL, "refusal": refused.sentence if refused else "",
        "troubles": TROUBLES, "trouble_links": {"amount": ("Which mix", mixes), "ran-out": ("Which mix", mixes)},
        "made_safe_said": _made_safe_said(trial), "safe_form": _safe_form(stands, house, refused),
        "lot_numbers": _lot_numbers(bench), "waiting": bench.records.waiting,
        "notes": trial.notes.select_related("by"), "sides": _sides(trial),
    }


def _sides(trial: Trial) -> list[tuple[str, str, list[Any]]]:
    return [(side, label, [one for one in trial.photographs.all() if one.side == side])
            for side, label in FinishPicture.Side.choices]


def _safe_form(stands: Sequence[Standing], house: House, refused: Refused | None = None) -> forms.Form:
    if refused and refused.anchor == "made-safe" and refused.form is not None:
        return refused.form
    return MakingSafeForm(rows=(), standing=stands, house=house)


def _lot_numbers(bench: TrialBench) -> dict[str, str]:
    """Return the numbers of the lots that could be taken, by what the address on a label names them by."""
    return {str(lot.pk): lot.lot_number for of_mix in bench.takings.values() for taking in of_mix.values()
            for lot in taking.lots}


def _changes(bench: TrialBench, units: str) -> dict[int, list[str]]:
    """Return what the trial changes against its version, in words, by step; 0: of the whole."""
    base, tried = bench.facts.bases[bench.trial.pk], bench.facts.tried[bench.trial.pk]
    found: dict[int, list[str]] = {}
    for change in changes_of(bench.trial):
        found.setdefault(change.step, []).append(change_in_words(change, base, tried, bench.facts.shelf, units))
    return found


def _shown(
    bench: TrialBench, said: Mapping[str, Mapping[str, Any]], screen: Screen, refused: Refused | None, house: House,
) -> Shown:
    mine = refused if refused and refused.anchor == screen.anchor else None
    sent, refusal = mine.form if mine else None, mine.sentence if mine else ""
    if screen.kind == CONDITIONS:
        return Shown(
            screen=screen, said=said.get(f"{Kind.CONDITIONS} ", {}), refusal=refusal,
            form=sent or ConditionsForm(trial=bench.trial, steps=bench.recipe.steps, preference=house.units),
        )
    assert screen.mix is not None
    takings = bench.takings.get(screen.subject, {})
    form = sent if isinstance(sent, MixForm) else MixForm(
        take_forms(bench, screen), screen.subject,
        sent if isinstance(sent, DoneAtForm) else DoneAtForm(prefix=screen.subject))
    return Shown(
        screen=screen, said=said.get(f"{Kind.MIXED} {screen.subject}", {}), refusal=refusal, form=form,
        rows=[(row, takings.get(row.measured.ingredient.number),
               (screen.inside or {}).get(row.measured.ingredient.number, "")) for row in screen.mix.rows],
        in_it=said.get(f"{Kind.ADDED} {screen.subject}", {}).get("numbers", ()),
        starts_clock=screen.mix.ammoniacal, worn=screen.mix.protection,
        cautions=" ".join(filter(None, [screen.mix.solution.cautions,
                                        *own_cautions(screen.mix.solution.key, bench.shelf)])),
        further=[(subject, said[f"{Kind.MIXED} {subject}"]) for subject in bench.records.subjects(Kind.MIXED)
                 if subject.startswith(f"{screen.subject}-")],
    )


def _shown_step(bench: TrialBench, said: Mapping[str, Mapping[str, Any]], screen: Screen, refused: Refused | None,
                changes: Sequence[str], worn: Sequence[str]) -> Shown:
    return Shown(
        screen=screen, said=said.get(f"{Kind.STEP} {screen.subject}", {}), changes=changes, worn=worn,
        starts_clock=screen.subject in bench.starts,
        refusal=refused.sentence if refused and refused.anchor == screen.anchor else "",
    )


def _tab(shown: Sequence[Shown]) -> Tab:
    """Return where the pane stands: the first of its screens that is not done."""
    mine = [one for one in shown if one.screen.load is not None]
    return tab_of(Place(), mine, begun=any(one.said for one in mine))


@open_when_locked()
@at_the_desk
@require_safe
def steps(request: DeskRequest, number: int) -> HttpResponse:
    """Show a trial one thing at a time. All of it is in the page: a tablet keeps it and needs no network for it."""
    response = render(request, "recipes/trials/steps.html", _context(_trial(number)))
    response["Cache-Control"] = KEPT_BY_THE_BENCH
    return response


@open_when_locked(is_trouble)
@at_the_desk
@require_POST
def record_form(request: DeskRequest, number: int) -> HttpResponse:
    """Take one record from a page without a script, and go on to what comes then."""
    trial, sent = _trial(number), sent_of_form(request)
    try:
        record(trial=trial, by=request.user, sent=sent)
    except NotTaken as refusal:
        refused = Refused(anchor=clean_anchor(request.POST.get("screen", ALL)), sentence=str(refusal),
                          form=refusal.form)
        return render(request, "recipes/trials/steps.html", _context(_trial(number), refused), status=422)
    return redirect(f"{reverse('recipes:trial_steps', args=[number])}#{clean_anchor(request.POST.get('next', ALL))}")


@open_when_locked(are_troubles)
@at_the_desk
@require_POST
def record_many(request: DeskRequest, number: int) -> JsonResponse:
    """Take what a page kept and sends now, in its order, and answer each; what is refused comes back as its screen."""
    trial = _trial(number)
    answers = answers_to(
        request, lambda sent: not record(trial=trial, by=request.user, sent=sent).why,
        lambda one, refusal: _screen(request, number, one, refusal),
    )
    if answers is None:
        return JsonResponse({"refused": "That is no list of records."}, status=400)
    return JsonResponse({"answers": answers, **_state(request, _trial(number))})


def _screen(request: DeskRequest, number: int, one: Mapping[str, Any], refusal: NotTaken) -> str:
    """Return the screen that was refused, with why beside its field and everything that was typed."""
    anchor = clean_anchor(str(one.get("screen", "")))
    context = _context(_trial(number), Refused(anchor=anchor, sentence=str(refusal), form=refusal.form))
    shown = next((row for row in context["screens"] if row.screen.anchor == anchor), None)
    if shown is not None:
        return render_to_string("recipes/steps/screen.html", {**context, "shown": shown}, request)
    return render_to_string("recipes/steps/made_safe.html", context, request) if anchor == "made-safe" else ""


def _mark(trial: Trial) -> str:
    """Return what changes whenever something is recorded of a trial, made safe, or it is closed. Two queries."""
    newest = next(iter(trial.records.order_by("-pk").values_list("pk", flat=True)[:1]), 0)
    clocks = ",".join(f"{pk}.{safe or ''}" for pk, safe in trial.clocks.values_list("pk", "made_safe"))
    return f"{newest}-{clocks}-{trial.saves}-{trial.closed_at is not None}"


def _state(request: DeskRequest, trial: Trial) -> dict[str, Any]:
    # the moment and the mark are no later than what is read: what comes meanwhile is asked for again
    moment, mark = now(), _mark(trial)
    house = House.objects.first() or House()
    stands = _standing(trial, house)
    state = {"standing": stands}
    return {
        "mark": mark, "csrf": get_token(request), "person": request.user.name,
        "open": trial.closed_at is None, "now": moment.isoformat(), "said": said_of(bench_of(trial)),
        "clock": render_to_string("recipes/steps/clock.html", {"state": state}, request),
        "safe": render_to_string("recipes/steps/made_safe.html", {
            "state": state, "bench": _page(trial), "made_safe_said": _made_safe_said(trial),
            "safe_form": _safe_form(stands, house), "house": house}, request),
    }


@open_when_locked(by_itself=True)
@at_the_desk
@require_safe
def steps_state(request: DeskRequest, number: int) -> HttpResponse:
    """Say what is recorded by now; nothing where that is what the page knows already."""
    trial = _trial(number)
    if request.GET.get("mark") == _mark(trial):
        return HttpResponse(status=204)
    return JsonResponse(_state(request, trial))


@at_the_desk
@require_POST
def settle_waiting(request: DeskRequest, number: int, pk: int) -> HttpResponse:
    """Say what became of a record that could not be taken as it was sent."""
    waiting = get_object_or_404(TrialRecord.objects.exclude(why="").filter(settles=None), trial__number=number, pk=pk)
    try:
        settle(waiting=waiting, by=request.user, because=request.POST.get("because", ""))
    except DaybookError as refusal:
        messages.error(request, str(refusal))
    return redirect(f"{reverse('recipes:trial', args=[number])}#waiting")
