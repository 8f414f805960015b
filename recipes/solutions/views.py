"""Pages of solutions: what is in them, measured out, on a mixing card and on the vessel's label."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from fractions import Fraction

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.defaultfilters import date
from django.urls import reverse
from django.views.decorators.http import require_safe

from recipes.chemistry.mixing import materials_within
from recipes.facts import Shelf
from recipes.models import Solution, SolutionVersion
from recipes.reading import shelf_for
from recipes.solutions.authoring import drafts_behind, solutions_behind
from recipes.solutions.bench_card import BenchCard, bench_card
from recipes.solutions.measure_form import MeasureForm
from recipes.solutions.rules import findings, is_never_stored, unpriced_within
from studio.house.clock import now, today
from studio.house.http import REFUSED, DeskRequest, pdf_response, render_page_or_part
from studio.house.models import House, HouseRates
from studio.house.paper import render_pdf
from studio.kit.access import at_the_desk
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.stockroom.hazards.statements import label_elements
from studio.stockroom.models import Material


@at_the_desk
@require_safe
def solutions(request: DeskRequest) -> HttpResponse:
    rows = fetched(Solution.objects.all(), "versions__ingredients__material", "versions__ingredients__nested__solution")
    return render(request, "recipes/solutions/solutions.html", {"solutions": rows})


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
        "never_stored": is_never_stored(row.key, shelf),
        "used_in": sorted(used_in, key=lambda recipe: (recipe.finish.name, recipe.number)),
        "unpriced": unpriced_within(row.key, shelf) if request.user.is_owner else (),
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
    })
    return pdf_response(pdf, f"mixing-card-{code}-{number}.pdf")


#: label by the vessel it goes on (CLP Annex I, 1.2.1, table 1.3), and how many letters of hazards it has room for
_LABELS = ((Fraction(3000), 130, "small"), (Fraction(50_000), 420, "medium"))


def _use_by(card: BenchCard, made: datetime) -> str:
    """Return until when a mix may be used: “Discard by 3 May 2026, 14:30”."""
    if card.ammoniacal:
        return "USE AT ONCE. NEVER STORED."
    if card.solution.keeps_minutes is None:
        return "Use at once, within the shift"
    return f"Discard by {date(made + timedelta(minutes=float(card.solution.keeps_minutes)), 'j M Y, H:i')}"


def _statements(card: BenchCard, hazards: Sequence[str]) -> str:
    """Return the hazard statements of a vessel's label, each a sentence."""
    explosive = ["Explosive if it stands or dries: make leftovers safe in this shift"] if card.ammoniacal else []
    return ". ".join([*hazards, *explosive, "Hazards of what is in it; the safety data sheets come first."])


@at_the_desk
@require_safe
def bottle_label_pdf(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """The label of the vessel it is mixed in: what it is, until when it is good, its hazards, where to read more."""
    version = get_object_or_404(SolutionVersion.objects.select_related("solution"), solution__code=code, number=number)
    form, shelf = MeasureForm.asked(request.GET), shelf_for([version.pk], today())
    card = _card(form, version, shelf)
    if card is None:
        return redirect(reverse("recipes:solution", args=[code, number]) + f"?{request.GET.urlencode()}")
    held = Material.objects.filter(code__in={material.key for material in materials_within(version.key, shelf)})
    hazards = label_elements(material.classification for material in held)
    letters = sum(map(len, hazards.statements)) + (60 if card.ammoniacal else 0)
    house, made = House.objects.first(), now()
    pdf = render_pdf(
        "recipes/solutions/documents/bottle_label.html",
        {
            "card": card,
            "house": house,
            "made": made,
            "version": version,
            "use_by": _use_by(card, made),
            "statements": _statements(card, hazards.statements),
            "ready_from": made + timedelta(minutes=float(version.ready_after_minutes))
            if version.ready_after_minutes
            else None,
            "label": next(
                (name for most, room, name in _LABELS if card.volume_ml <= most and letters <= room), "large"
            ),
            "hazards": hazards,
            "address": settings.PUBLIC_URL + reverse("recipes:solution", args=[code, number]),
        },
    )
    return pdf_response(pdf, f"label-{code}-{number}.pdf")
