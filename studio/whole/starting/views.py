"""The guided start: one page of stages, one of them open; each saved alone, left and taken up again at any time."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from recipes.starting_point import STARTING_POINT
from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest
from studio.house.models import House, HouseRates
from studio.house.saving import as_opened, save_house
from studio.house.starting_rates import STARTING_RATES
from studio.kit.access import allowed
from studio.kit.currencies import sign
from studio.kit.errors import DaybookError
from studio.kit.locks import ChangedMeanwhile
from studio.kit.roles import May
from studio.kit.working_hours import DAYS
from studio.stockroom.deliveries.note_forms import NoteForm
from studio.whole.starting.forms import HandsForm, PutInUseForm, StartRatesForm
from studio.whole.starting.library import FINISHES, SOLUTIONS
from studio.whole.starting.rates import NEVER, save_rates_of_today
from studio.whole.starting.shelf import PAINTS, enter, rows_for
from studio.whole.starting.stages import KEYS, stages
from studio.whole.starting.starter_set import (
    add_starter_set,
    drafts_waiting,
    found_materials,
    is_added,
    put_set_in_use,
)

#: what a stage's form did: the context of a page that refuses or shows it, or None once it is saved
Context = dict[str, Any]


@allowed(May.STUDIO)
@require_safe
def start(request: DeskRequest) -> HttpResponse:
    """Go on where the studio stands: the first stage that is not done; the order, once all are."""
    return redirect("studio:start_stage", next((stage.key for stage in stages() if not stage.is_done), KEYS[-1]))


@allowed(May.STUDIO)
@require_http_methods(["GET", "HEAD", "POST"])
def stage_page(request: DeskRequest, stage: str) -> HttpResponse:
    """All stages with how they stand, and the form of one."""
    if stage not in KEYS:
        raise Http404
    if HouseRates.known_on(today()) is None:
        messages.warning(request, "No rates count today: enter the first, then go on setting up.")
        return redirect("studio:rates")
    form = _FORMS.get(stage)
    context = form(request) if form else {}
    if context is None:
        return redirect("studio:start_stage", _after(stage))
    all_stages = stages()
    opened = next(row for row in all_stages if row.key == stage)
    done = sum(row.is_done for row in all_stages)
    return render(request, "whole/starting/start.html", {
        "stages": all_stages, "opened": opened, "done": done, "later": _next(stage), "stage_form":
        f"whole/starting/{stage}.html", **context,
    }, status=REFUSED if context.get("refused") else 200)


def _next(stage: str) -> str:
    at = KEYS.index(stage) + 1
    return KEYS[at] if at < len(KEYS) else ""


def _after(stage: str) -> str:
    """Return where to go once a stage is saved: there again while there is more of it to do, else to what is next."""
    if stage == "finishes" and drafts_waiting():
        return stage
    waiting = [row.key for row in stages() if not row.is_done]
    return next((key for key in waiting if KEYS.index(key) > KEYS.index(stage)), waiting[0] if waiting else KEYS[-1])


class Opened:
    """What the forms of a stage were opened with: marks that the page carries and sends again.

    Once a refusal has shown what somebody else saved, the page carries the mark of that.
    """

    def __init__(self, request: DeskRequest) -> None:
        self.sent, self.carried = request.POST, dict[str, str]()

    def mark(self, name: str, row: Model, columns: Iterable[str]) -> None:
        """Carry the mark that was sent; where none was, of the columns as they are."""
        self.carried[name] = self.sent.get(name, "") if self.sent else as_opened(row, columns)

    def refused(self, name: str, row: Model, columns: Iterable[str]) -> None:
        self.carried[name] = as_opened(row, columns)


_RATES = ("helper_per_hour", "owner_per_hour", "overhead_per_bench_hour", "margin_share", "minimum_charge", "tax_name",
          "tax_share")
_HANDS = ("hands", "benches", "bench_width_mm", "bench_height_mm", "bench_day_minutes")
_HOURS = tuple(f"hours_{day}" for day in DAYS)


def _rates(request: DeskRequest) -> Context | None:
    rates, opened = HouseRates.on(today()), Opened(request)
    opened.mark("opened_rates", rates, _RATES)
    form = StartRatesForm(request.POST or None, rates=rates)
    if form.is_valid() and _saved(form, lambda: _save_rates(opened, form.cleaned_data, _RATES)):
        messages.success(request, "The rates are saved. They count from today; quotes made before keep theirs.")
        return None
    others = [(rate, getattr(rates, rate.field)) for rate in STARTING_RATES]
    return {"form": form, "others": others, "refused": form.is_bound, "opened_as": opened.carried}


def _save_rates(opened: Opened, values: dict[str, Any], columns: tuple[str, ...]) -> None:
    try:
        save_rates_of_today(values, opened.carried["opened_rates"])
    except ChangedMeanwhile:
        opened.refused("opened_rates", HouseRates.on(today()), columns)
        raise


def _hands(request: DeskRequest) -> Context | None:
    rates, house, opened = HouseRates.on(today()), House.objects.get(), Opened(request)
    opened.mark("opened_rates", rates, _HANDS)
    opened.mark("opened_house", house, _HOURS)
    form = HandsForm(request.POST or None, rates=rates, house=house)
    if form.is_valid() and _saved(form, lambda: _save_hands(opened, form)):
        messages.success(request, "Hands, bench and working days are saved.")
        return None
    return {"form": form, "refused": form.is_bound, "opened_as": opened.carried}


@transaction.atomic
def _save_hands(opened: Opened, form: HandsForm) -> None:
    """Save hands, bench and days. Raises ChangedMeanwhile with all that somebody else saved of them."""
    refused: list[ChangedMeanwhile] = []
    try:
        _save_rates(opened, form.of_rates, _HANDS)
    except ChangedMeanwhile as refusal:
        refused.append(refusal)
    house = House.objects.select_for_update().get()
    if any(getattr(house, name) != value for name, value in form.of_house.items()):
        try:
            save_house(NEVER, form.of_house, opened.carried["opened_house"])
        except ChangedMeanwhile as refusal:
            opened.refused("opened_house", house, _HOURS)
            refused.append(refusal)
    if refused:
        raise ChangedMeanwhile(" ".join(map(str, refused)), refused[0].saves)


def _saved(form: Any, save: Callable[[], object]) -> bool:
    try:
        save()
    except ValidationError as refused:
        form.add_error(None, " ".join(refused.messages))
    except DaybookError as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
    else:
        return True
    return False


def _materials(request: DeskRequest) -> Context | None:
    currency = HouseRates.on(today()).currency
    sent = request.POST if request.method == "POST" else None
    rows, paint = rows_for(sent, currency), request.POST.get("paint", "")
    refused = ""
    if sent is not None:
        valid = not [row for row in rows if not row.is_valid()] and paint in PAINTS
        if valid and not any(row.cleaned_data["tick"] for row in rows):
            refused = "Nothing is ticked: tick what you keep, then press again."
        elif valid and [row for row in rows if row.refuse_changed()]:
            refused = "Somebody changed the stockroom meanwhile, or you in another window: see the rows below."
        elif valid:
            entered, said = enter(rows, paint)
            for sentence in said:
                messages.warning(request, sentence)
            messages.success(request, f"{len(entered)} material{'' if len(entered) == 1 else 's'} entered. The "
                                      "supplier's own safety data sheet comes first: compare each with it.")
            return None
    return {"rows": [row for row in rows if not row.is_glass], "glass": [row for row in rows if row.is_glass],
            "paints": list(PAINTS.items()), "paint": paint, "nothing": refused, "sign": sign(currency),
            "refused": sent is not None}


def _delivery(request: DeskRequest) -> Context | None:
    return {"form": NoteForm()}


def _finishes(request: DeskRequest) -> Context | None:
    if request.method == "POST" and "add" in request.POST:
        try:
            add_starter_set()
        except DaybookError as refusal:
            return {**_set(PutInUseForm(house=House.objects.get())), "why_not": str(refusal), "refused": True}
        messages.success(request, "The starter set is in the library as drafts. Read its cautions, then put it in use.")
        return None
    house = House.objects.get()
    form = PutInUseForm(request.POST or None, house=house)
    if request.method == "POST" and form.is_valid() and _saved(form, lambda: _put_in_use(request, form)):
        messages.success(request, f"{' and '.join(finish.name for finish in FINISHES)} are in use. {STARTING_POINT}")
        return None
    return {**_set(form), "refused": form.is_bound}


@transaction.atomic
def _put_in_use(request: DeskRequest, form: PutInUseForm) -> None:
    procedure = form.cleaned_data.get("making_safe_procedure")
    if procedure:
        save_house(House.objects.get().saves, {"making_safe_procedure": procedure})
    put_set_in_use(request.user, cautions_read=form.cleaned_data["cautions_read"])


def _set(form: PutInUseForm) -> Context:
    waiting = drafts_waiting()
    cautions: dict[str, list[str]] = {}
    for draft in waiting:
        for caution in draft.cautions:
            where = cautions.setdefault(caution.sentence, [])
            where.append(f"{draft.version.finish.name}, step {caution.step}")
    return {
        "form": form, "added": is_added(), "waiting": waiting, "missing": found_materials()[1],
        "cautions": list(cautions.items()), "starting_point": STARTING_POINT, "set_finishes": FINISHES,
        "set_solutions": SOLUTIONS,
        "unpriced": list(dict.fromkeys(name for draft in waiting for name in draft.unpriced)),
    }


_FORMS: dict[str, Callable[[DeskRequest], Context | None]] = {
    "rates": _rates, "hands": _hands, "materials": _materials, "delivery": _delivery, "finishes": _finishes,
}
