"""Pages of the recipe library: finishes, their recipe issues step by step, and solutions. No costs stand here."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from recipes.bench_card import BenchCard, bench_card
from recipes.bench_rules import walk
from recipes.descent import descent
from recipes.difference import difference
from recipes.facts import Shelf
from recipes.forms import MeasureForm
from recipes.issuing import issue_recipe, solutions_with, withdraw_recipe
from recipes.mixing import materials_within
from recipes.models import Finish, IssueEvent, RecipeIssue, Solution, SolutionIssue, Trial
from recipes.reading import EVER, recipe_facts, shelf_for
from recipes.solution_authoring import drafts_behind, solutions_behind
from recipes.solution_rules import findings, is_never_stored, unpriced_within
from studio.access import at_the_desk, owner_only
from studio.clock import now, today
from studio.errors import DaybookError
from studio.http import REFUSED, DeskRequest, pdf_response, render_page_or_part
from studio.inventory.hazards import label_elements
from studio.inventory.models import Material
from studio.kit.asking import fetched
from studio.models import House, HouseRates
from studio.paper import render_pdf

NEWEST_TRIALS = 8


@at_the_desk
@require_safe
def finishes(request: DeskRequest) -> HttpResponse:
    rows = fetched(Finish.objects.all(), "pictures__file", "issues__events")
    return render(request, "recipes/finishes.html", {"finishes": rows})


@at_the_desk
@require_safe
def finish(request: DeskRequest, code: str) -> HttpResponse:
    row = fetched(
        [get_object_or_404(Finish, code=code)],
        "pictures__file", "issues__events__by", "issues__came_from__finish", "issues__came_from_trial",
    )[0]
    trials = Trial.objects.filter(recipe_issue__finish=row).select_related("recipe_issue")[:NEWEST_TRIALS]
    return render(request, "recipes/finish.html", {
        "finish": row, "descent": descent(row.issues.all()), "trials": trials,
    })


def _recipe_issue(code: str, number: int) -> RecipeIssue:
    rows = RecipeIssue.objects.select_related("finish", "came_from", "came_from_trial")
    found = get_object_or_404(rows, finish__code=code, number=number)
    return fetched([found], "events__by", "steps__parts__solution_issue__solution")[0]


def _recipe_page(request: DeskRequest, issue: RecipeIssue, refusal: str = "") -> HttpResponse:
    recipes, shelf = recipe_facts([issue.pk], EVER)
    by_step: dict[int, list[object]] = {}
    found = walk(recipes[issue.key], shelf)
    for finding in found:
        by_step.setdefault(finding.step, []).append(finding)
    cautions = {finding.rule: finding for finding in found if not finding.stops}
    trial = issue.came_from_trial
    return render(request, "recipes/recipe.html", {
        "issue": issue, "by_step": by_step, "cautions": cautions.values(), "refusal": refusal,
        "has_stops": any(finding.stops for finding in found),
        "photographs": trial.photographs.select_related("aligned_copy", "print_copy") if trial else (),
        "reasons": trial.notes.select_related("by") if trial else (),
    }, status=REFUSED if refusal else 200)


@at_the_desk
@require_safe
def recipe(request: DeskRequest, code: str, number: int) -> HttpResponse:
    return _recipe_page(request, _recipe_issue(code, number))


@at_the_desk
@require_safe
def changes(request: DeskRequest, code: str, old: int, new: int) -> HttpResponse:
    """What differs between two issues of a finish: changed steps and values, side by side."""
    first, second = _recipe_issue(code, old), _recipe_issue(code, new)
    recipes, shelf = recipe_facts([first.pk, second.pk], EVER)
    return render(request, "recipes/changes.html", {
        "finish": first.finish, "old": first, "new": second,
        "difference": difference(recipes[first.key], recipes[second.key], shelf, House.unit_preference()),
        "others": first.finish.issues.order_by("number"),
    })


@owner_only
@require_POST
def issue(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Issue a draft: stops refuse, cautions are acknowledged by name."""
    row = _recipe_issue(code, number)
    if row.state != "draft":
        return redirect("recipes:recipe", code, number)
    try:
        issue_recipe(issue=row, by=request.user, acknowledged=request.POST.getlist("acknowledged"),
                     note=request.POST.get("note", "")[:300])
    except DaybookError as refusal:
        return _recipe_page(request, row, str(refusal))
    messages.success(request, f"{row} is issued and frozen.")
    return redirect("recipes:recipe", code, number)


@owner_only
@require_POST
def withdraw(request: DeskRequest, code: str, number: int) -> HttpResponse:
    row = _recipe_issue(code, number)
    note = request.POST.get("note", "").strip()[:300]
    if not note:
        return _recipe_page(request, row, "Say why it is withdrawn.")
    if row.state == IssueEvent.Kind.ISSUED:
        withdraw_recipe(issue=row, by=request.user, note=note)
        messages.success(request, f"{row} is withdrawn: nothing new is quoted from it.")
    return redirect("recipes:recipe", code, number)


@at_the_desk
@require_safe
def solutions(request: DeskRequest) -> HttpResponse:
    rows = fetched(Solution.objects.all(), "issues__ingredients__material", "issues__ingredients__nested__solution")
    return render(request, "recipes/solutions.html", {"solutions": rows})


@at_the_desk
@require_safe
def solution(request: DeskRequest, code: str, number: int) -> HttpResponse:
    row = fetched(
        [get_object_or_404(SolutionIssue.objects.select_related("solution"), solution__code=code, number=number)],
        "ingredients__material", "ingredients__nested__solution", "used_in__step__recipe_issue__finish",
    )[0]
    shelf = shelf_for([row.pk], today())
    used_in = {part.step.recipe_issue for part in row.used_in.all()}
    form = MeasureForm.asked(request.GET)
    return render_page_or_part(request, "recipes/solution.html", "measure", {
        "form": form, "card": _card(form, row, shelf), "query": request.GET.urlencode(),
        "issue": row, "findings": findings(shelf.solutions[row.key], shelf),
        "never_stored": is_never_stored(row.key, shelf),
        "used_in": sorted(used_in, key=lambda one: (one.finish.name, one.number)),
        "unpriced": unpriced_within(row.key, shelf) if request.user.is_owner else (),
        "behind": drafts_behind(row), "behind_solutions": solutions_behind(row),
        "made_lots": row.made_lots.filter(lot__level__on_hand__gt=0).select_related("lot__material", "lot__level"),
        "others": row.solution.issues.select_related("solution"),
        "next_number": row.solution.issues.count() + 1,
    }, status=200 if form.is_valid() else REFUSED)


def _card(form: MeasureForm, issue: SolutionIssue, shelf: Shelf) -> BenchCard | None:
    """Measure a solution out as asked; a refusal goes beside its field."""
    if not form.is_valid():
        return None
    rates = HouseRates.known_on(today())
    readability = Fraction(rates.balance_readability_g) if rates else Fraction(0)
    try:
        return bench_card(issue.key, form.cleaned_data["volume"], form.cleaned_data["strength"], shelf, readability)
    except DaybookError as refusal:
        form.put(refusal)
        return None


@at_the_desk
@require_safe
def bench_card_pdf(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """The bench card to print: what to measure, in order, with cautions."""
    issue = get_object_or_404(SolutionIssue.objects.select_related("solution"), solution__code=code, number=number)
    form = MeasureForm.asked(request.GET)
    card = _card(form, issue, shelf_for([issue.pk], today()))
    if card is None:
        return redirect(reverse("recipes:solution", args=[code, number]) + f"?{request.GET.urlencode()}")
    house = House.objects.first()
    pdf = render_pdf("recipes/documents/bench_card.html", {
        "card": card, "house": house, "paper_size": house.paper if house else "A4", "made_on": today(),
    })
    return pdf_response(pdf, f"bench-card-{code}-{number}.pdf")


#: label by the vessel it goes on (CLP Annex I, 1.2.1, table 1.3), and how many letters of hazards it has room for
_LABELS = ((Fraction(3000), 130, "small"), (Fraction(50_000), 420, "medium"))


@at_the_desk
@require_safe
def bottle_label_pdf(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """The label of the vessel it is mixed in: what it is, until when it is good, its hazards, where it is read up."""
    issue = get_object_or_404(SolutionIssue.objects.select_related("solution"), solution__code=code, number=number)
    form, shelf = MeasureForm.asked(request.GET), shelf_for([issue.pk], today())
    card = _card(form, issue, shelf)
    if card is None:
        return redirect(reverse("recipes:solution", args=[code, number]) + f"?{request.GET.urlencode()}")
    held = Material.objects.filter(code__in={one.key for one in materials_within(issue.key, shelf)})
    hazards = label_elements(
        [code for one in held for code in one.pictograms], [one.signal_word for one in held],
        [code for one in held for code in one.hazard_statements],
    )
    letters = sum(map(len, hazards.statements)) + (60 if card.ammoniacal else 0)
    house, made, keeps = House.objects.first(), now(), issue.keeps_minutes
    pdf = render_pdf("recipes/documents/bottle_label.html", {
        "card": card, "house": house, "made": made, "issue": issue,
        "discard_by": made + timedelta(minutes=float(keeps)) if keeps else None,
        "ready_from": made + timedelta(minutes=float(issue.ready_after_minutes)) if issue.ready_after_minutes else None,
        "label": next((name for most, room, name in _LABELS if card.volume_ml <= most and letters <= room), "large"),
        "hazards": hazards,
        "address": settings.PUBLIC_URL + reverse("recipes:solution", args=[code, number]),
    })
    return pdf_response(pdf, f"label-{code}-{number}.pdf")


@at_the_desk
@require_safe
def material_uses(request: DeskRequest, code: str) -> HttpResponse:
    """Where a material is used: the solutions it stands in, at any depth, and the recipes and trials they are in."""
    material = get_object_or_404(Material, code=code)
    above = solutions_with(material)
    issues = SolutionIssue.objects.filter(pk__in=above).select_related("solution").order_by("solution__name", "number")
    recipes = RecipeIssue.objects.filter(steps__parts__solution_issue__in=above).distinct()
    return render(request, "recipes/uses.html", {
        "material": material, "issues": issues,
        "recipes": recipes.select_related("finish").prefetch_related("events").order_by("finish__name", "number"),
        "trials": Trial.objects.filter(recipe_issue__in=recipes.values("pk"))
        .select_related("recipe_issue__finish")[:50],
    })
