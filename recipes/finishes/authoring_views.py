"""Pages where finishes and recipes are written. Every change answers with the list of steps as it is now."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from recipes.finding import remember
from recipes.finishes.authoring import (
    StepRemoved,
    add_step,
    duplicate_step,
    is_open,
    move_step,
    remove_draft,
    save_finish,
    save_step,
    save_version_values,
    start_draft,
)
from recipes.finishes.bench_rules import walk
from recipes.finishes.forms import FinishForm, LoadForm, StartDraftForm, version_form
from recipes.finishes.removed_steps import put_back, remove_step, still_removed
from recipes.finishes.step_forms import StepForm, StepSheet
from recipes.finishes.volumes import mixes_for_load
from recipes.models import Finish, FinishPicture, RecipeVersion, RemovedStep, Step
from recipes.reading import ANY_DAY, recipe_facts, shelf_for
from recipes.step_kinds import KINDS
from studio.house.clock import today
from studio.house.http import (
    REFUSED,
    DeskRequest,
    carry_new_saves,
    render_page_or_part,
    sent_saves,
)
from studio.house.models import House, HouseRates
from studio.kit.access import allowed
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile
from studio.kit.roles import May
from studio.kit.rounding import plain
from studio.kit.typed_numbers import whole_number

CORRECT_STEP = "Correct this step to save it."
ARRANGEMENTS = (
    ("up", "recipes:step_up", "Up"), ("down", "recipes:step_down", "Down"),
    ("duplicate", "recipes:step_duplicated", "Duplicate"), ("remove", "recipes:step_removed", "Remove"),
)


def open_draft(code: str, number: int) -> RecipeVersion:
    """Return a version to write on, with its steps; 404 where there is none."""
    rows = RecipeVersion.objects.select_related("finish", "came_from", "came_from_trial")
    found = get_object_or_404(rows, finish__code=code, number=number)
    return fetched([found], "events", "steps__parts__solution_version__solution")[0]


@allowed(May.RECIPES)
@require_http_methods(["GET", "HEAD", "POST"])
def new_finish(request: DeskRequest) -> HttpResponse:
    """Enter a finish; its first draft opens at once."""
    form = FinishForm(request.POST or None, request.FILES or None)
    if form.is_valid() and _save_finish(request, form):
        draft = start_draft(form.instance, why="First version.")
        remember(recipe_version=draft)
        return redirect("recipes:edit", form.instance.code, draft.number)
    return render(
        request, "recipes/finishes/finish_form.html", {"form": form}, status=REFUSED if form.is_bound else 200
    )


@allowed(May.RECIPES)
@require_http_methods(["GET", "HEAD", "POST"])
def edit_finish(request: DeskRequest, code: str) -> HttpResponse:
    finish = fetched([get_object_or_404(Finish, code=code)], "pictures__file")[0]
    form = FinishForm(request.POST or None, request.FILES or None, instance=finish)
    if form.is_valid() and _save_finish(request, form):
        messages.success(request, f"{finish.name} is saved.")
        return redirect("recipes:finish", finish.code)
    return render(request, "recipes/finishes/finish_form.html", {"form": form, "finish": finish},
                  status=REFUSED if form.is_bound else 200)


def _save_finish(request: DeskRequest, form: FinishForm) -> bool:
    """Save a finish with the photographs sent; put a refused photograph's sentence beside it."""
    sent = {side: form.cleaned_data[side] for side in FinishPicture.Side.values}
    try:
        save_finish(form.save(commit=False), sent_saves(request),
                    {side: file.read() for side, file in sent.items() if file})
    except ChangedMeanwhile as refusal:
        carry_new_saves(request, refusal)
        form.add_error(None, str(refusal))
        return False
    except DaybookError as refusal:
        form.add_error("front" if form.cleaned_data["front"] else "back", str(refusal))
        return False
    return True


@allowed(May.RECIPES)
@require_POST
def new_draft(request: DeskRequest, code: str) -> HttpResponse:
    """Start the next version as a draft, empty or from an earlier one."""
    finish = get_object_or_404(Finish, code=code)
    form = StartDraftForm(request.POST)
    if not form.is_valid():
        raise Http404
    earlier = form.cleaned_data["came_from"]
    came_from = get_object_or_404(RecipeVersion, finish=finish, number=earlier) if earlier else None
    draft = start_draft(finish, came_from=came_from, why=form.cleaned_data["why"])
    remember(recipe_version=draft)
    messages.success(request, f"{draft} is a draft: nothing is quoted from it until it is in use.")
    return redirect("recipes:edit", code, draft.number)


def _page(
    request: DeskRequest, version: RecipeVersion, *, opened: int = 0, sheet: StepSheet | None = None, refusal: str = "",
    form: Any = None, load: LoadForm | None = None,
) -> HttpResponse:
    """Render the draft, or for htmx its steps; one step may be open."""
    version = open_draft(version.finish.code, version.number)
    preference = House.unit_preference()
    if not refusal:
        request.saves_now = version.saves  # what was just done is counted; refused, the forms keep their own count
    facts, shelf = recipe_facts([version.pk], ANY_DAY)
    by_step: dict[int, list[object]] = {}
    found = walk(facts[version.key], shelf)
    for finding in found:
        by_step.setdefault(finding.step, []).append(finding)
    steps = list(version.steps.all())
    step = next((row for row in steps if row.number == opened), None)
    if step is not None and sheet is None:
        sheet = StepSheet(step, preference=preference)
    load = load or LoadForm(preference=preference)
    mixes = _mixes(sheet, load) if sheet is not None else None
    return render_page_or_part(request, "recipes/finishes/edit.html", "steps", {
        "version": version, "steps": steps, "by_step": by_step, "opened": step.number if step else 0, "sheet": sheet,
        "load": load, "kinds": [(kind.value, kind.label) for kind in KINDS.values()],
        "arrangements": ARRANGEMENTS, "refusal": refusal, "may_change": is_open(version),
        "removed": still_removed(version),
        "stops": [finding for finding in found if finding.stops], "mixes": mixes,
        "form": form or version_form(None, preference, {
            "why": version.why, "film_nm": plain(version.film_nm),
            "own_yield_share": f"{version.own_yield_share * 100:f} %" if version.own_yield_share is not None else "",
        }),
    }, status=REFUSED if refusal or (form is not None and form.errors) else 200)


@allowed(May.RECIPES)
@require_safe
def edit(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """The draft with its steps; ?step= opens one."""
    return _page(request, open_draft(code, number), opened=whole_number(request.GET.get("step", "")))


def _step(version: RecipeVersion, pk: str) -> Step:
    return get_object_or_404(Step, recipe_version=version, pk=whole_number(pk))


def _arranged(
    request: DeskRequest, code: str, number: int, arrange: Callable[[RecipeVersion, int], int]
) -> HttpResponse:
    """Change the order of a draft's steps and show them.

    arrange: from the draft and its count of saves when it was opened, to the number of the step to show open, or 0.
    """
    version = open_draft(code, number)
    try:
        opened = arrange(version, sent_saves(request))
    except DaybookError as refusal:
        carry_new_saves(request, refusal)
        return _page(request, version, refusal=str(refusal))
    remember(recipe_version=version)
    if request.htmx:
        return _page(request, version, opened=opened)
    address = reverse("recipes:edit", args=[code, number])
    return redirect(f"{address}?step={opened}#step-{opened}" if opened else f"{address}#steps")


@allowed(May.RECIPES)
@require_POST
def step_added(request: DeskRequest, code: str, number: int) -> HttpResponse:
    kind, after = request.POST.get("kind", ""), request.POST.get("after", "")
    if kind not in KINDS:
        raise Http404
    return _arranged(request, code, number, lambda version, saves: add_step(
        version, saves, kind=kind, after=whole_number(after, version.steps.count())).number)


@allowed(May.RECIPES)
@require_POST
def step_duplicated(request: DeskRequest, code: str, number: int, pk: int) -> HttpResponse:
    return _arranged(request, code, number, lambda version, saves: duplicate_step(
        version, saves, _step(version, str(pk))).number)


@allowed(May.RECIPES)
@require_POST
def step_removed(request: DeskRequest, code: str, number: int, pk: int) -> HttpResponse:
    def arrange(version: RecipeVersion, saves: int) -> int:
        remove_step(version, saves, _step(version, str(pk)), request.user)
        return 0

    return _arranged(request, code, number, arrange)


@allowed(May.RECIPES)
@require_POST
def step_put_back(request: DeskRequest, code: str, number: int, pk: int) -> HttpResponse:
    """Put a removed step back where it was."""
    def arrange(version: RecipeVersion, saves: int) -> int:
        put_back(version, saves, get_object_or_404(RemovedStep, recipe_version=version, pk=pk), request.user)
        return 0

    return _arranged(request, code, number, arrange)


def _moved(
    request: DeskRequest, code: str, number: int, pk: int, place: Callable[[int], int]
) -> HttpResponse:
    """Move a step. place: its number now, to the number it is to have."""
    def arrange(version: RecipeVersion, saves: int) -> int:
        step = _step(version, str(pk))
        move_step(version, saves, step, place(step.number))
        return 0

    return _arranged(request, code, number, arrange)


@allowed(May.RECIPES)
@require_POST
def step_up(request: DeskRequest, code: str, number: int, pk: int) -> HttpResponse:
    return _moved(request, code, number, pk, lambda now: now - 1)


@allowed(May.RECIPES)
@require_POST
def step_down(request: DeskRequest, code: str, number: int, pk: int) -> HttpResponse:
    return _moved(request, code, number, pk, lambda now: now + 1)


@allowed(May.RECIPES)
@require_POST
def step_placed(request: DeskRequest, code: str, number: int, pk: int) -> HttpResponse:
    """Move a step to where it was dragged."""
    to = whole_number(request.POST.get("to", ""))
    return _moved(request, code, number, pk, lambda _: to)


@allowed(May.RECIPES)
@require_POST
def change_step(request: DeskRequest, code: str, number: int, pk: int) -> HttpResponse:
    """Save a step; a refusal stands beside its field and what was typed stays."""
    version = open_draft(code, number)
    step = version.steps.filter(pk=pk).first()
    if step is None:
        typed = ", ".join(str(value) for name, value in request.POST.items()
                          if value and name not in ("csrfmiddlewaretoken", "saves", "key"))
        return _page(request, version, refusal=f"{StepRemoved()} You typed: {typed}.")
    sheet = StepSheet(step, request.POST, preference=House.unit_preference())
    load = LoadForm(request.POST, preference=House.unit_preference())
    if not sheet.is_valid():
        return _page(request, version, opened=step.number, sheet=sheet, load=load, refusal=CORRECT_STEP)
    try:
        save_step(version, sent_saves(request), step, sheet.form.values(), sheet.part_drafts())
    except DaybookError as refusal:
        carry_new_saves(request, refusal)
        return _page(request, version, opened=step.number, sheet=sheet, load=load, refusal=str(refusal))
    except ValidationError as refused:
        _show_refusals(sheet.form, refused)
        return _page(request, version, opened=step.number, sheet=sheet, load=load, refusal=CORRECT_STEP)
    remember(recipe_version=version)
    if request.htmx:
        return _page(request, version)
    return redirect(reverse("recipes:edit", args=[code, number]) + f"#step-{step.number}")


def _show_refusals(form: StepForm, refused: ValidationError) -> None:
    """Put each sentence beside the field that it names, else at the top."""
    refusals = refused.message_dict if hasattr(refused, "error_dict") else {"__all__": refused.messages}
    for name, sentences in refusals.items():
        for sentence in sentences:
            form.add_error(name if name in form.fields else None, sentence)


@allowed(May.RECIPES)
@require_POST
def step_mixes(request: DeskRequest, code: str, number: int, pk: int) -> HttpResponse:
    """What one load of the open step takes, as it is typed: nothing is saved."""
    step = _step(open_draft(code, number), str(pk))
    preference = House.unit_preference()
    sheet, load = StepSheet(step, request.POST, preference=preference), LoadForm(request.POST, preference=preference)
    return render(request, "recipes/finishes/step_mixes.html", {
        "mixes": _mixes(sheet, load), "sheet": sheet, "load": load, "live": True, "version": step.recipe_version,
    })


def _mixes(sheet: StepSheet, load: LoadForm) -> dict[str, Any]:
    """Return what one load of the open step takes, or the sentence that says why that is not known."""
    if sheet.form.is_bound and not sheet.is_valid():
        return {"refusal": "Correct what is marked, then it is worked out."}
    rates = HouseRates.known_on(today())
    try:
        if sheet.form.is_bound:
            facts = sheet.facts()
            shelf = shelf_for([draft.solution_version_id for draft in sheet.part_drafts()], ANY_DAY)
        else:
            version = sheet.step.recipe_version
            recipes, shelf = recipe_facts([version.pk], ANY_DAY)
            facts = next(row for row in recipes[version.key].steps if row.number == sheet.step.number)
        sample = load.load()
        return {
            "load": sample, "step": facts,
            "parts": mixes_for_load(
                facts, sample, shelf, Fraction(rates.increment_ml) if rates else Fraction(10),
                Fraction(rates.balance_readability_g) if rates else Fraction(0),
            ),
        }
    except DaybookError as refusal:
        return {"refusal": str(refusal)}


@allowed(May.RECIPES)
@require_POST
def change_version(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Save what the draft says as a whole."""
    version = open_draft(code, number)
    form = version_form(request.POST, House.unit_preference(), {})
    if not form.is_valid():
        return _page(request, version, form=form, refusal="Correct what is marked to save it.")
    try:
        save_version_values(version, sent_saves(request), **form.cleaned_data)
    except DaybookError as refusal:
        carry_new_saves(request, refusal)
        return _page(request, version, form=form, refusal=str(refusal))
    version.refresh_from_db()
    remember(recipe_version=version)
    messages.success(request, "Saved.")
    return redirect("recipes:edit", code, number)


@allowed(May.RECIPES)
@require_POST
def draft_removed(request: DeskRequest, code: str, number: int) -> HttpResponse:
    version = open_draft(code, number)
    try:
        remove_draft(version, sent_saves(request))
    except DaybookError as refusal:
        carry_new_saves(request, refusal)
        return _page(request, version, refusal=str(refusal))
    messages.success(request, f"{version} is removed.")
    return redirect("recipes:finish", code)
