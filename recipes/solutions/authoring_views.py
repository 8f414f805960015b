"""Pages where solutions are written, and the strengths page."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from recipes.models import RecipeVersion, SolutionVersion
from recipes.solutions.authoring import (
    drafts_behind,
    next_version,
    remove_solution_version,
    save_solution,
    start_solution,
    take_new_version,
)
from recipes.solutions.bench_card import bench_card
from recipes.solutions.forms import MOST_INGREDIENTS, SolutionSheet
from recipes.solutions.rules import findings, unpriced_within
from recipes.solutions.strength_forms import StrengthForm
from studio.house.clock import today
from studio.house.http import (
    REFUSED,
    DeskRequest,
    carry_new_saves,
    render_page_or_part,
    sent_saves,
)
from studio.house.models import House, HouseRates
from studio.kit.access import allowed, at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.kit.typed_numbers import is_whole, whole_number

LITRE_ML = Fraction(1000)


def _version(code: str, number: int) -> SolutionVersion:
    rows = SolutionVersion.objects.select_related("solution").prefetch_related("ingredients")
    return get_object_or_404(rows, solution__code=code, number=number)


def _check(sheet: SolutionSheet) -> dict[str, Any]:
    """Return what one litre of a solution takes as typed, and its findings; or why that is not known yet."""
    if not sheet.is_valid():
        return {"waiting": "Correct what is marked, then it is worked out."}
    if not sheet.drafts():
        return {"waiting": "Add an ingredient."}
    facts, shelf = sheet.facts()
    rates = HouseRates.known_on(today())
    check: dict[str, Any] = {"facts": facts}
    try:
        check["findings"] = findings(facts, shelf)
        check["unpriced"] = unpriced_within(facts.key, shelf)
        check["card"] = bench_card(
            facts.key, LITRE_ML, Fraction(1), shelf, Fraction(rates.balance_readability_g) if rates else Fraction(0)
        )
    except DaybookError as refusal:
        check["refusal"] = str(refusal)
    return check


def _page(request: DeskRequest, sheet: SolutionSheet, status: int = 200, refusal: str = "") -> HttpResponse:
    check = _check(sheet) if sheet.form.is_bound else None
    return render(request, "recipes/solutions/solution_form.html", {
        "sheet": sheet, "version": sheet.version, "check": check, "refusal": refusal,
    }, status=status)


def _show_refusal(sheet: SolutionSheet, refusal: Exception) -> str:
    """Put a refusal beside its field, where it has one; return the sentence for the top of the page."""
    if isinstance(refusal, ValidationError):
        return " ".join(refusal.messages)
    field = getattr(refusal, "field", "")
    if field in sheet.form.fields:
        sheet.form.add_error(field, str(refusal))
        return "Correct what is marked to save it."
    return str(refusal)


@allowed(May.RECIPES)
@require_http_methods(["GET", "HEAD", "POST"])
def new_solution(request: DeskRequest) -> HttpResponse:
    sheet = SolutionSheet(request.POST or None, preference=House.unit_preference())
    if request.method != "POST":
        return _page(request, sheet)
    if not sheet.is_valid():
        return _page(request, sheet, REFUSED)
    try:
        version = start_solution(sheet.form.cleaned_data["name"], sheet.form.values(), sheet.drafts())
    except (DaybookError, ValidationError) as refusal:
        return _page(request, sheet, REFUSED, _show_refusal(sheet, refusal))
    messages.success(request, f"{version} is saved: it can be changed until a recipe in use, a trial or a lot uses it.")
    return redirect("recipes:solution", version.solution.code, version.number)


@allowed(May.RECIPES)
@require_http_methods(["GET", "HEAD", "POST"])
def edit_solution(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Change an open version as a whole; a frozen one leads to its page."""
    version = _version(code, number)
    if version.frozen_at is not None:
        messages.warning(request, f"{version} is frozen: start a new version of it.")
        return redirect("recipes:solution", code, number)
    sheet = SolutionSheet(request.POST or None, version=version, preference=House.unit_preference())
    if request.method != "POST":
        return _page(request, sheet)
    if not sheet.is_valid():
        return _page(request, sheet, REFUSED)
    try:
        with transaction.atomic():
            save_solution(version, sent_saves(request), sheet.form.values(), sheet.drafts())
            _rename(version, sheet.form.cleaned_data["name"])
    except (DaybookError, ValidationError) as refusal:
        carry_new_saves(request, refusal)
        return _page(request, sheet, REFUSED, _show_refusal(sheet, refusal))
    behind = len(drafts_behind(version))
    messages.success(request, f"{version} is saved.{_drafts_left(behind)}")
    return redirect("recipes:solution", code, number)


def _drafts_left(count: int) -> str:
    if not count:
        return ""
    return " 1 draft still uses an earlier version." if count == 1 else f" {count} drafts still use an earlier version."


def _rename(version: SolutionVersion, name: str) -> None:
    if version.solution.name != name:
        version.solution.name = name
        version.solution.save()


def _typed(data: Any) -> SolutionSheet:
    """Return the sheet of what is typed, of a new solution or of the open version that it names."""
    code, _, number = data.get("of", "").rpartition("/")
    version = None
    if code and is_whole(number):
        version = (
            SolutionVersion.objects.select_related("solution")
            .filter(solution__code=code, number=whole_number(number)).first()
        )
    return SolutionSheet(data, version=version, preference=House.unit_preference())


@allowed(May.RECIPES)
@require_POST
def check_solution(request: DeskRequest) -> HttpResponse:
    """Check a solution as it is typed: nothing is saved."""
    sheet = _typed(request.POST)
    return render(request, "recipes/solutions/solution_form.html#check", {
        "check": _check(sheet), "sheet": sheet, "live": True,
    })


@allowed(May.RECIPES)
@require_POST
def check_solution_page(request: DeskRequest) -> HttpResponse:
    """Check it on the whole page, for a browser without JavaScript."""
    return _page(request, _typed(request.POST))


@allowed(May.RECIPES)
@require_POST
def another_ingredient(request: DeskRequest) -> HttpResponse:
    """The same form with one more empty row; nothing is saved."""
    data = request.POST.copy()
    total = whole_number(data.get("in-TOTAL_FORMS", ""))
    data["in-TOTAL_FORMS"] = str(min(total + 1, MOST_INGREDIENTS))
    return _page(request, _typed(data))


@allowed(May.RECIPES)
@require_POST
def another_version(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Start the next version of a solution as a copy of this one."""
    version = next_version(_version(code, number), request.POST.get("why", "")[:300])
    return redirect("recipes:edit_solution", code, version.number)


@allowed(May.RECIPES)
@require_POST
def adopt(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Put this version into the ticked drafts instead of an earlier one."""
    version = _version(code, number)
    ticked = [whole_number(pk) for pk in request.POST.getlist("draft") if is_whole(pk)]
    taken = [draft for draft in drafts_behind(version) if draft.pk in ticked]
    for draft in taken:
        take_new_version(RecipeVersion.objects.select_related("finish").get(pk=draft.pk), version)
    names, verb = ", ".join(map(str, taken)) or "No draft", "uses" if len(taken) < 2 else "use"
    messages.success(request, f"{names} now {verb} it.")
    return redirect("recipes:solution", code, number)


@allowed(May.RECIPES)
@require_POST
def remove_version(request: DeskRequest, code: str, number: int) -> HttpResponse:
    version = _version(code, number)
    try:
        remove_solution_version(version)
    except DaybookError as refusal:
        messages.error(request, str(refusal))
        return redirect("recipes:solution", code, number)
    messages.success(request, f"{version} is removed.")
    return redirect("recipes:solutions")


@at_the_desk
@require_safe
def strengths(request: DeskRequest) -> HttpResponse:
    """Strengths converted one into another, and what to measure to dilute one."""
    form = StrengthForm.asked(request.GET)
    return render_page_or_part(request, "recipes/solutions/strengths.html", "answer", {
        "form": form, "answer": form.answer() if form.is_valid() else None,
    }, status=REFUSED if form.is_bound and form.errors else 200)
