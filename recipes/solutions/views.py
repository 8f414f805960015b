"""Pages of solutions: what is in them, measured out, on a mixing card and on the vessel's label."""

from __future__ import annotations

from fractions import Fraction

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.defaultfilters import date
from django.urls import reverse
from django.utils.timezone import localtime
from django.views.decorators.http import require_safe

from recipes.chemistry.mixing import strength_changes_nothing
from recipes.clocks import limit_of
from recipes.facts import Shelf
from recipes.models import Solution, SolutionVersion
from recipes.reading import shelf_for
from recipes.solutions.authoring import drafts_behind, solutions_behind
from recipes.solutions.bench_card import BenchCard, bench_card
from recipes.solutions.hazards import label_of, materials_of
from recipes.solutions.measure_form import MeasureForm
from recipes.solutions.rules import findings, is_never_stored, unclassed_within, unpriced_within
from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, pdf_response, render_page_or_part
from studio.house.lists import ordered
from studio.house.models import House, HouseRates
from studio.house.paper import render_pdf
from studio.house.templatetags.figures import amount, at_strength, duration
from studio.kit.access import at_the_desk
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.keeping_times import lasting
from studio.kit.roles import May
from studio.kit.rounding import plain
from studio.kit.typed_numbers import whole_number
from studio.stockroom.labels.fitting import LabelTooSmall, Wording, smallest
from studio.stockroom.labels.sizes import VESSEL_SIZES
from studio.stockroom.labels.wording import BLANK, sentences
from studio.stockroom.models import Lot


@at_the_desk
@require_safe
def solutions(request: DeskRequest) -> HttpResponse:
    listing = ordered(request, Solution.objects.all(), {"solution": ("name",)})
    rows = fetched(listing.rows, "versions__ingredients__material", "versions__ingredients__nested__solution")
    return render(request, "recipes/solutions/solutions.html", {"solutions": rows, "listing": listing})


@at_the_desk
@require_safe
def solution(request: DeskRequest, code: str, number: int) -> HttpResponse:
    row = fetched(
        [get_object_or_404(SolutionVersion.objects.select_related("solution"), solution__code=code, number=number)],
        "ingredients__material", "ingredients__nested__solution", "used_in__step__recipe_version__finish",
    )[0]
    shelf = shelf_for([row.pk], today())
    used_in = {part.step.recipe_version for part in row.used_in.all()}
    form = MeasureForm.asked(request.GET)
    return render_page_or_part(request, "recipes/solutions/solution.html", "measure", {
        "form": form, "card": _card(form, row, shelf), "query": request.GET.urlencode(),
        "version": row, "findings": findings(shelf.solutions[row.key], shelf),
        "strength_changes_nothing": strength_changes_nothing(shelf.solutions[row.key]),
        "never_stored": is_never_stored(row.key, shelf), "unclassed": unclassed_within(row.key, shelf),
        "hazards": label_of(row, shelf, materials_of(shelf)),
        "used_in": sorted(used_in, key=lambda recipe: (recipe.finish.name, recipe.number)),
        "unpriced": unpriced_within(row.key, shelf) if request.user.may(May.ORDERS) else (),
        "behind": drafts_behind(row), "behind_solutions": solutions_behind(row),
        "made_lots": row.made_lots.filter(lot__level__on_hand__gt=0).select_related("lot__material", "lot__level"),
        "others": row.solution.versions.select_related("solution"),
        "next_number": row.solution.versions.count() + 1,
    }, status=200 if form.is_valid() else REFUSED)


def _card(form: MeasureForm, version: SolutionVersion, shelf: Shelf) -> BenchCard | None:
    """Measure a solution out as asked; a refusal is shown beside its field."""
    if not form.is_valid():
        return None
    rates = HouseRates.known_on(today())
    readability = Fraction(rates.balance_readability_g) if rates else Fraction(0)
    try:
        return bench_card(version.key, form.cleaned_data["volume"], form.cleaned_data["strength"], shelf, readability)
    except DaybookError as refusal:
        form.put(refusal)
        return None


@at_the_desk
@require_safe
def bench_card_pdf(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """The mixing card to print: what to measure, in order, with cautions."""
    version = get_object_or_404(SolutionVersion.objects.select_related("solution"), solution__code=code, number=number)
    form = MeasureForm.asked(request.GET)
    card = _card(form, version, shelf_for([version.pk], today()))
    if card is None:
        return redirect(reverse("recipes:solution", args=[code, number]) + f"?{request.GET.urlencode()}")
    house = House.objects.first()
    pdf = render_pdf("recipes/solutions/documents/bench_card.html", {
        "card": card, "house": house, "paper_size": house.paper if house else "A4", "made_on": today(),
        "safe_by": limit_of(house or House()).in_words(),
    })
    return pdf_response(pdf, f"mixing-card-{code}-{number}.pdf")


def _use_by(card: BenchCard, lot: Lot | None) -> str:
    """Return until when a mix may be used: “Discard by 3 May 2026, 14:30”; to be written where no lot says it."""
    if card.ammoniacal:
        return "USE AT ONCE. NEVER STORED."
    if card.solution.keeps_minutes is None:
        return "Use at once, within the shift"
    return f"Discard by {lot.until if lot else BLANK} (keeps {duration(card.solution.keeps_minutes)})"


def _mixed(version: SolutionVersion, lot: Lot | None) -> str:
    """Return when a mix was made and from when it is ready. Printed again it says the same: no label says “now”."""
    if lot is None or lot.made_at is None:
        after = f", ready after {duration(version.ready_after_minutes)}" if version.ready_after_minutes else ""
        return f"Mixed {BLANK}{after}"
    ready = lot.made_at + lasting(Fraction(version.ready_after_minutes)) if version.ready_after_minutes else None
    mixed = f"Lot {lot.lot_number}, mixed {date(localtime(lot.made_at), 'j M Y, H:i')}"
    return mixed + (f", ready from {date(localtime(ready), 'j M, H:i')}" if ready else "")


def _vessel_wording(card: BenchCard, version: SolutionVersion, shelf: Shelf, lot: Lot | None, house: str) -> Wording:
    """Return what a vessel's label says: content, strength, when it was made, until when it is good, its hazards.

    They are those of what is in it, which diluted may need less, or those that its author gave it. No precautions of
    the trade: what to wear instead.
    """
    hazards = label_of(version, shelf, materials_of(shelf))
    strength = f"{amount(card.volume_to_read)} mL{at_strength(card.strength)}, version {version.number}"
    lines = [(strength, True), (_mixed(version, lot), False), (_use_by(card, lot), True)]
    if version.reject_if:
        lines.append((f"Reject if {version.reject_if}", False))
    whose = "Hazards of the mix, by its author" if version.own_hazard_statements else "Hazards of what is in it"
    words = [*hazards.statements, whose] if hazards else []
    return Wording(
        name=card.solution.name, lines=tuple(lines), explosive=card.ammoniacal, pictograms=hazards.pictograms,
        signal_word=hazards.signal_word, statements=sentences(words),
        unknown=tuple(unclassed_within(version.key, shelf)),
        foot=" · ".join(filter(None, (house, ", ".join(card.protection)))),
    )


@at_the_desk
@require_safe
def bottle_label_pdf(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """The label of the vessel it is mixed in, as large as its volume and what it must say ask for.

    ?lot= of a lot mixed ahead prints the times of its making; without it they are written by hand.
    """
    version = get_object_or_404(SolutionVersion.objects.select_related("solution"), solution__code=code, number=number)
    asked = request.GET.get("lot", "")
    lot = Lot.objects.select_related("material").filter(
        made__solution_version=version, pk=whole_number(asked)).first()
    measured = {"volume": f"{plain(lot.quantity_received)} mL"} if lot else request.GET
    form, shelf = MeasureForm.asked(measured), shelf_for([version.pk], today())
    card, page = _card(form, version, shelf), reverse("recipes:solution", args=[code, number])
    if card is None:
        return redirect(f"{page}?{request.GET.urlencode()}")
    house = House.objects.first()
    wording = _vessel_wording(card, version, shelf, lot, house.name if house else "")
    try:
        size, setting = smallest(wording, VESSEL_SIZES, card.volume_ml)
    except LabelTooSmall as refusal:
        messages.error(request, str(refusal))
        return redirect(f"{page}?{request.GET.urlencode()}")
    pdf = render_pdf("recipes/solutions/documents/bottle_label.html", {
        "wording": wording, "size": size, "setting": setting, "house": house,
        "address": settings.PUBLIC_URL + page,
    })
    return pdf_response(pdf, f"label-{code}-{number}.pdf")
