"""Pages of trials: start one, work on it with one hand, close it, compare it, promote it."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Case, F, IntegerField, Value, When
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from recipes.clocks import standing
from recipes.finishes.bench_rules import clock_starts, walk
from recipes.finishes.wearing import worn_at
from recipes.making_safe_form import DoneAtForm, MakingSafeForm
from recipes.models import Finish, FinishPicture, MakingSafe, RecipeVersion, Trial, TrialPhotograph, TrialUse
from recipes.reading import ANY_DAY, recipe_facts
from recipes.trials.conducting import (
    Taken,
    add_note,
    add_photograph,
    add_timing,
    amounts_still_needed,
    change_trial,
    close_trial,
    crop_photograph,
    give_back,
    make_trial_safe,
    mixes_of,
    promote,
    say_not_mixed,
    start_trial,
    start_trial_clock,
    take_stock,
    untold,
    waiting_of,
)
from recipes.trials.forms import ChangesSheet, CloseForm, ConditionsForm, CropForm, OtherLotForm, PaneForm, TakeForm
from recipes.trials.reading import changes_of, facts_of, trials_with_all
from studio.house.clock import today
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.house.lists import ROWS_A_PAGE, ordered
from studio.house.models import House
from studio.kit.access import allowed, at_the_desk
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.kit.rounding import as_decimal, plain
from studio.kit.typed_numbers import whole_number
from studio.kit.units import amount_in
from studio.stockroom.models import Lot, Material
from studio.stockroom.picking import pick
from studio.stockroom.shelf import as_on_shelf


def _trial(number: int) -> Trial:
    return get_object_or_404(trials_with_all(), number=number)


#: what is liked first, what is still open last, whatever it is thought of so far
_CAME_OUT = Case(When(closed_at=None, then=Value(len(Trial.Verdict))),
                 *(When(verdict=verdict, then=Value(at)) for at, verdict in enumerate(Trial.Verdict.values)),
                 output_field=IntegerField())
#: the heads of the list of trials; the newest first where none is asked, one without a score after those with one
SORTS: dict[str, Sequence[Any]] = {
    "newest": ("-number",), "trial": ("number",), "came-out": (_CAME_OUT, "-number"),
    "score": (F("score").asc(nulls_last=True), "-number"),
}


@at_the_desk
@require_safe
def trials(request: DeskRequest) -> HttpResponse:
    """Every trial, newest first; of one finish, of one verdict, or still open."""
    rows = trials_with_all()
    finish, verdict = request.GET.get("finish", ""), request.GET.get("verdict", "")
    if finish:
        rows = rows.filter(recipe_version__finish__code=finish)
    if verdict == "open":
        rows = rows.filter(closed_at=None)
    elif verdict in Trial.Verdict.values:
        rows = rows.filter(verdict=verdict)
    listing = ordered(request, rows, SORTS)
    facts, preference = facts_of(list(listing.rows)), House.unit_preference()
    finishes = list(Finish.objects.all())
    return render(request, "recipes/trials/trials.html", {
        "listing": listing, "changes": {row.pk: facts.changes_in_words(row, preference) for row in listing.rows},
        "finish": finish, "verdict": verdict, "known": any(choice.code == finish for choice in finishes),
        "finishes": finishes, "verdicts": [("open", "still open"), *Trial.Verdict.choices],
    })


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def try_version(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Start a trial from a version."""
    version = get_object_or_404(
        RecipeVersion.objects.select_related("finish").prefetch_related("steps", "events"), finish__code=code,
        number=number,
    )
    return _start(request, version, None)


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def further(request: DeskRequest, number: int) -> HttpResponse:
    """Start a trial from another: with its changes, which may be changed further."""
    parent = _trial(number)
    version = RecipeVersion.objects.select_related("finish").prefetch_related("steps", "events").get(
        pk=parent.recipe_version_id
    )
    return _start(request, version, parent)


def _pane_initial(request: DeskRequest, parent: Trial | None, preference: str) -> dict[str, Any]:
    """Start with the pane of the trial before: this one's parent, else the person's last."""
    last = parent or Trial.objects.filter(made_by=request.user).first()
    standard = "150 x 150 mm" if preference == "metric" else "6 x 6 in"
    return {"size_text": last.size_text if last and last.size_text else standard,
            "glass": last.glass_id if last else None}


def _start(request: DeskRequest, version: RecipeVersion, parent: Trial | None) -> HttpResponse:
    preference, data = House.unit_preference(), request.POST or None
    base = recipe_facts([version.pk], ANY_DAY)[0][version.key]
    sheet = ChangesSheet(version, base, changes_of(parent) if parent else (), data, preference)
    pane = PaneForm(data, preference=preference, initial=_pane_initial(request, parent, preference))
    refusal = ""
    if request.method == "POST":
        key = sent_key(request)
        if pane.is_valid() & sheet.is_valid():
            try:
                trial = start_trial(
                    key=key, by=request.user, recipe_version=version, parent=parent,
                    changes=sheet.changes(), against_because=request.POST.get("against_because", ""), **pane.values(),
                )
                return redirect("recipes:trial", trial.number)
            except DaybookError as refused:
                refusal = str(refused)
            except ValidationError as refused:
                refusal = " ".join(refused.messages)
        refusal = refusal or "Correct what is marked to start the trial."
    return render(request, "recipes/trials/try.html", {
        "version": version, "parent": parent, "sheet": sheet, "pane": pane, "refusal": refusal,
        "against_because": request.POST.get("against_because", ""),
    }, status=REFUSED if refusal else 200)


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def change(request: DeskRequest, number: int) -> HttpResponse:
    """Change what an open trial changes, before it is closed."""
    trial = _trial(number)
    version = RecipeVersion.objects.select_related("finish").prefetch_related("steps").get(pk=trial.recipe_version_id)
    preference, data = House.unit_preference(), request.POST or None
    sheet = ChangesSheet(
        version, recipe_facts([version.pk], ANY_DAY)[0][version.key], changes_of(trial), data, preference
    )
    pane = PaneForm(data, preference=preference, initial={
        "key": trial.form_key, "question": trial.question, "size_text": trial.size_text, "glass": trial.glass_id,
    })
    refusal = ""
    if request.method == "POST":
        if pane.is_valid() & sheet.is_valid():
            try:
                change_trial(trial, sent_saves(request), changes=sheet.changes(), by=request.user,
                             against_because=request.POST.get("against_because", ""), **pane.values())
                return redirect("recipes:trial", number)
            except DaybookError as refused:
                carry_new_saves(request, refused)
                refusal = str(refused)
        refusal = refusal or "Correct what is marked to save it."
    return render(request, "recipes/trials/try.html", {
        "version": version, "parent": trial.parent, "sheet": sheet, "pane": pane, "refusal": refusal, "trial": trial,
        "against_because": request.POST.get("against_because", ""),
    }, status=REFUSED if refusal else 200)


def _take_forms(needed: dict[str, Fraction], data: Any = None) -> list[TakeForm]:
    """Return a row for each material that the trial uses: how much is worked out, from which lot first."""
    day = today()
    materials = list(Material.objects.filter(code__in=needed).order_by("name"))
    lots: dict[int, list[Lot]] = {material.pk: [] for material in materials}
    for lot in Lot.objects.filter(material__in=materials, level__on_hand__gt=0).select_related("material", "level"):
        lots[lot.material_id].append(lot)
    forms = []
    for material in materials:
        mine, wanted = lots[material.pk], as_decimal(needed[material.code], 3)
        picks, _ = pick(wanted, [as_on_shelf(lot) for lot in mine], day)
        first = picks[0].lot_id if picks else None
        mine.sort(key=lambda lot: lot.pk != first)
        forms.append(TakeForm(data, prefix=f"take-{material.pk}", material=material, lots=mine, day=day, needed=wanted,
                              initial={
            "lot": str(first) if first else None, "amount": f"{plain(wanted)} {material.stock_unit}",
        }))
    return forms


def _page(request: DeskRequest, trial: Trial, *, refusal: str = "", conditions: ConditionsForm | None = None,
          takes: list[TakeForm] | None = None, closing: CloseForm | None = None, scanned: str = "",
          other: OtherLotForm | None = None, safe: MakingSafeForm | None = None,
          started: DoneAtForm | None = None) -> HttpResponse:
    trial = _trial(trial.number)
    preference = House.unit_preference()
    facts = facts_of([trial])
    recipe, shelf = facts.tried[trial.pk], facts.shelf
    uses = fetched(
        trial.uses.select_related("posting__by"),
        "posting__movements__lot__material", "posting__movements__reversed_by",
    )
    is_open = trial.closed_at is None
    mixes = mixes_of(trial, recipe, shelf) if is_open else {}
    needed = amounts_still_needed(trial, mixes)
    house = House.objects.first() or House()
    stands = standing(trial.clocks.filter(made_safe=None), house)
    found, starts = walk(recipe, shelf), clock_starts(recipe, shelf)
    unsaid = untold(trial, starts)
    timings: dict[int, list[object]] = {}
    for timing in trial.timings.all():
        timings.setdefault(timing.step, []).append(timing)
    by_step: dict[int, list[object]] = {}
    for finding in found:
        by_step.setdefault(finding.step, []).append(finding)
    return render(request, "recipes/trials/trial.html", {
        "trial": trial, "recipe": recipe, "shelf": shelf, "changes": facts.changes_in_words(trial, preference),
        "is_open": is_open, "refusal": refusal, "timings": timings, "by_step": by_step,
        "wear": worn_at(recipe, shelf),
        "conditions": conditions or ConditionsForm(trial=trial, steps=recipe.steps, preference=preference),
        "takes": takes if takes is not None else _take_forms(needed), "mixes": mixes, "waiting": waiting_of(trial),
        "other": other or OtherLotForm(needed={}, initial={"other_lot": scanned}),
        "closing": closing or CloseForm(initial={"kept_where": trial.kept_where}), "uses": uses,
        "notes": trial.notes.select_related("by"), "led_to": trial.led_to.select_related("finish"),
        "tried_further": trial.tried_further.all(), "standing": stands,
        "tried_against": trial.tried_against.select_related("by"),
        "starts": [
            (start, started if started and started.prefix == start.key else DoneAtForm(prefix=start.key),
             start in unsaid) for start in starts
        ],
        "not_mixed": trial.not_mixed.select_related("by"),
        "safe_form": safe or MakingSafeForm(rows=(), standing=stands, house=house),
        "makings_safe": MakingSafe.objects.filter(clocks__trial=trial).distinct().select_related(
            "by").prefetch_related("clocks"),
        "sides": [(side, label, [photograph for photograph in trial.photographs.all() if photograph.side == side])
                  for side, label in FinishPicture.Side.choices],
    }, status=REFUSED if refusal else 200)


@at_the_desk
@require_safe
def trial(request: DeskRequest, number: int) -> HttpResponse:
    return _page(request, _trial(number), scanned=request.GET.get("lot", "")[:200])


def _back(trial_number: int, anchor: str) -> HttpResponse:
    return redirect(reverse("recipes:trial", args=[trial_number]) + f"#{anchor}")


@at_the_desk
@require_POST
def conditions(request: DeskRequest, number: int) -> HttpResponse:
    row = _trial(number)
    steps = facts_of([row]).tried[row.pk].steps
    form = ConditionsForm(request.POST, trial=row, steps=steps, preference=House.unit_preference())
    if not form.is_valid():
        return _page(request, row, conditions=form, refusal="Correct the conditions to save them.")
    try:
        change_trial(row, sent_saves(request), by=request.user, **form.values())
    except DaybookError as refusal:
        carry_new_saves(request, refusal)
        return _page(request, row, conditions=form, refusal=str(refusal))
    return _back(number, "conditions")


@at_the_desk
@require_POST
def note(request: DeskRequest, number: int) -> HttpResponse:
    row = _trial(number)
    try:
        add_note(key=sent_key(request), trial=row, by=request.user, text=request.POST.get("text", "")[:4000])
    except DaybookError as refusal:
        return _page(request, row, refusal=str(refusal))
    return _back(number, "notes")


@at_the_desk
@require_POST
def timing(request: DeskRequest, number: int) -> HttpResponse:
    """Record how long a step took: the timer's seconds, or a time typed with its unit."""
    row, step = _trial(number), request.POST.get("step", "")
    try:
        took = amount_in(request.POST.get("took", ""), "time") * 60
        add_timing(key=sent_key(request), trial=row, by=request.user, step=whole_number(step),
                   seconds=min(max(round(took), 1), 10**7))
    except DaybookError as refusal:
        return _page(request, row, refusal=str(refusal))
    return _back(number, f"step-{step}")


@at_the_desk
@require_POST
def photograph(request: DeskRequest, number: int) -> HttpResponse:
    row, sent, side = _trial(number), request.FILES.get("photograph"), request.POST.get("side", "")
    if side not in FinishPicture.Side.values:
        raise Http404
    if sent is None:
        return _page(request, row, refusal="Choose or take a photograph first.")
    try:
        add_photograph(key=sent_key(request), trial=row, by=request.user, side=side, content=sent.read())
    except DaybookError as refusal:
        return _page(request, row, refusal=str(refusal))
    if request.POST.get("at") == "bench":
        return redirect(reverse("recipes:trial_steps", args=[number]) + "#photographs")
    return _back(number, "photographs")


@at_the_desk
@require_http_methods(["GET", "HEAD", "POST"])
def crop(request: DeskRequest, pk: int) -> HttpResponse:
    """Choose the square of a photograph that comparisons show."""
    row = get_object_or_404(TrialPhotograph.objects.select_related("trial", "screen_copy", "original"), pk=pk)
    form = CropForm(request.POST or None, initial={
        name: plain(getattr(row, f"crop_{name}") * 100) for name in ("left", "top", "side")
    })
    if form.is_valid():
        crop_photograph(row, form.crop)
        return _back(row.trial.number, "photographs")
    return render(request, "recipes/trials/crop.html", {"photograph": row, "form": form},
                  status=REFUSED if form.is_bound else 200)


@at_the_desk
@require_POST
def remove_photograph(request: DeskRequest, pk: int) -> HttpResponse:
    """Remove a photograph of an open trial."""
    row = get_object_or_404(TrialPhotograph.objects.select_related("trial"), pk=pk)
    if row.trial.closed_at is not None:
        return _page(request, row.trial, refusal="A photograph of a closed trial stays with it.")
    row.delete()
    return _back(row.trial.number, "photographs")


@at_the_desk
@require_POST
def stock(request: DeskRequest, number: int) -> HttpResponse:
    """Deduct what the trial took from the lots it was taken from."""
    key, row = sent_key(request), _trial(number)
    facts = facts_of([row])
    needed = amounts_still_needed(row, mixes_of(row, facts.tried[row.pk], facts.shelf))
    takes = _take_forms(needed, request.POST)
    other = OtherLotForm(request.POST, needed={code: as_decimal(amount, 3) for code, amount in needed.items()})
    refusal, taken = "", []
    for form in (*takes, other):
        if form.is_valid() and form.cleaned_data["taken"]:
            lot, quantity = form.cleaned_data["taken"]
            taken.append(Taken(lot=lot, amount=quantity))
        elif form.errors:
            refusal = "Correct what is marked: nothing was taken yet."
    if not refusal:
        try:
            take_stock(key=key, trial=row, by=request.user, taken=taken, day=today(),
                       because=request.POST.get("because", "").strip())
        except DaybookError as refused:
            refusal = str(refused)
    if refusal:
        return _page(request, row, takes=takes, other=other, refusal=refusal)
    return _back(number, "stock")


@at_the_desk
@require_POST
def undo_stock(request: DeskRequest, number: int, pk: int) -> HttpResponse:
    """Give back what was taken by mistake."""
    use = get_object_or_404(TrialUse.objects.select_related("trial", "posting"), trial__number=number, pk=pk)
    try:
        give_back(key=sent_key(request), use=use, by=request.user, why=request.POST.get("why", "").strip()[:200])
    except DaybookError as refusal:
        return _page(request, use.trial, refusal=str(refusal))
    return _back(number, "stock")


@at_the_desk
@require_POST
def start_silver(request: DeskRequest, number: int, subject: str) -> HttpResponse:
    """Record that ammoniacal silver was mixed, or that stocks were first sprayed: its clock starts."""
    key, row = sent_key(request), _trial(number)
    form = DoneAtForm(request.POST, prefix=subject)
    if not form.is_valid():
        return _page(request, row, refusal=form.refusal, started=form)
    try:
        start_trial_clock(key=key, trial=row, by=request.user, subject=subject, done_at=form.cleaned_data["done_at"])
    except DaybookError as refusal:
        return _page(request, row, refusal=str(refusal), started=form)
    return _back(number, "made-safe")


@at_the_desk
@require_POST
def not_mixed(request: DeskRequest, number: int, subject: str) -> HttpResponse:
    """Record that ammoniacal silver of the trial's recipe was not mixed, or not sprayed."""
    key, row = sent_key(request), _trial(number)
    try:
        say_not_mixed(key=key, trial=row, by=request.user, subject=subject)
    except DaybookError as refusal:
        return _page(request, row, refusal=str(refusal))
    return _back(number, "made-safe")


@at_the_desk
@require_POST
def made_safe(request: DeskRequest, number: int) -> HttpResponse:
    """Record which ammoniacal silver of the trial was made safe."""
    key, row = sent_key(request), _trial(number)
    form = MakingSafeForm(request.POST, rows=list(row.clocks.all()), standing=(),
                          house=House.objects.first() or House())
    if not form.is_valid():
        return _page(request, row, refusal="Correct what is marked: nothing was saved yet.", safe=form)
    try:
        make_trial_safe(key=key, trial=row, by=request.user, **form.values())
    except DaybookError as refusal:
        form.refuse(refusal)
        return _page(request, row, refusal=str(refusal), safe=form)
    return _back(number, "made-safe")


@at_the_desk
@require_POST
def close(request: DeskRequest, number: int) -> HttpResponse:
    row, form = _trial(number), CloseForm(request.POST)
    if not form.is_valid():
        return _page(request, row, closing=form, refusal="Choose a verdict before closing the trial.")
    try:
        close_trial(row, sent_saves(request), **form.cleaned_data)
    except DaybookError as refusal:
        carry_new_saves(request, refusal)
        return _page(request, row, closing=form, refusal=str(refusal))
    messages.success(request, f"{row} is closed: notes and photographs can still be added.")
    return redirect("recipes:trial", number)


@allowed(May.RECIPES)
@require_POST
def promote_trial(request: DeskRequest, number: int) -> HttpResponse:
    """Make the next draft version of the finish from a trial."""
    row = _trial(number)
    changes = "; ".join(facts_of([row]).changes_in_words(row, House.unit_preference()))
    why = request.POST.get("why", "").strip() or f"From trial {row.number}: {changes}"
    draft = promote(row, why=why[:300])
    messages.success(request, f"{draft} is a draft with {row}'s changes: check it, then put it in use.")
    return redirect("recipes:recipe", draft.finish.code, draft.number)


@at_the_desk
@require_safe
def take_lot(request: DeskRequest, pk: int) -> HttpResponse:
    """From a lot's label to the trial that takes from it: the open trials, newest first."""
    lot = get_object_or_404(Lot.objects.select_related("material", "level"), pk=pk)
    still_open = trials_with_all().filter(closed_at=None)[:ROWS_A_PAGE]
    return render(request, "recipes/trials/take_lot.html", {"lot": lot, "trials": still_open})
