"""Pages where solutions are written, and the calculator of strengths."""

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
    drop_solution_version,
    next_version,
    save_solution,
    start_solution,
    take_new_version,
)
from recipes.solutions.bench_card import bench_card
from recipes.solutions.forms import MOST_INGREDIENTS, SolutionSheet
from recipes.solutions.rules import findings, unpriced_within
from recipes.solutions.strength_forms import StrengthForm
from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, render_page_or_part, sent_saves, whole_number
from studio.house.models import House, HouseRates
from studio.kit.access import at_the_desk, owner_only
from studio.kit.errors import DaybookError

LITRE_ML = Fraction(1000)


def _version(code: str, number: int) -> SolutionVersion:
    rows = SolutionVersion.objects.select_related("solution").prefetch_related("ingredients")
    return get_object_or_404(rows, solution__code=code, number=number)


def _looked_at(sheet: SolutionSheet) -> dict[str, Any]:
    """Return what is to be said of a solution as typed: its litre, its findings, or why it cannot be told yet."""
    if not sheet.is_valid():
        return {"waiting": "Mend what is marked, then it is reckoned."}
    if not sheet.drafts():
        return {"waiting": "Give it an ingredient."}
    facts, shelf = sheet.facts()
    rates = HouseRates.known_on(today())
    looked: dict[str, Any] = {"facts": facts}
    try:
        looked["findings"] = findings(facts, shelf)
        looked["unpriced"] = unpriced_within(facts.key, shelf)
        looked["card"] = bench_card(
            facts.key, LITRE_ML, Fraction(1), shelf, Fraction(rates.balance_readability_g) if rates else Fraction(0)
        )
    except DaybookError as refusal:
        looked["refusal"] = str(refusal)
    return looked


def _page(request: DeskRequest, sheet: SolutionSheet, status: int = 200, refusal: str = "") -> HttpResponse:
    looked = _looked_at(sheet) if sheet.form.is_bound else None
    return render(request, "recipes/solutions/solution_form.html", {
        "sheet": sheet, "version": sheet.version, "looked": looked, "refusal": refusal,
    }, status=status)


def _put(sheet: SolutionSheet, refusal: Exception) -> str:
    """Put a refusal beside its field, where it has one; return what stands at the top."""
    if isinstance(refusal, ValidationError):
        return " ".join(refusal.messages)
    field = getattr(refusal, "field", "")
    if field in sheet.form.fields:
        sheet.form.add_error(field, str(refusal))
        return "Mend what is marked to save it."
    return str(refusal)


@owner_only
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
        return _page(request, sheet, REFUSED, _put(sheet, refusal))
    messages.success(request, f"{version} is kept; it stays open until a recipe that is in use or tried uses it.")
    return redirect("recipes:solution", version.solution.code, version.number)


@owner_only
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
        return _page(request, sheet, REFUSED, _put(sheet, refusal))
    behind = drafts_behind(version).count()
    messages.success(request, f"{version} is kept." + (
        f" {behind} draft{'s' if behind > 1 else ''} still use{'' if behind > 1 else 's'} an earlier version." if behind
        else ""
    ))
    return redirect("recipes:solution", code, number)


def _rename(version: SolutionVersion, name: str) -> None:
    if version.solution.name != name:
        version.solution.name = name
        version.solution.save()


def _typed(data: Any) -> SolutionSheet:
    """Return the sheet of what is typed, of a new solution or of the open version that it names."""
    code, _, number = data.get("of", "").rpartition("/")
    version = None
    if code and number.isdecimal():
        version = (
            SolutionVersion.objects.select_related("solution").filter(solution__code=code, number=int(number)).first()
        )
    return SolutionSheet(data, version=version, preference=House.unit_preference())


@owner_only
@require_POST
def look(request: DeskRequest) -> HttpResponse:
    """A solution as typed, looked at: nothing is saved."""
    sheet = _typed(request.POST)
    return render(request, "recipes/solutions/solution_form.html#looked", {
        "looked": _looked_at(sheet), "sheet": sheet, "live": True,
    })


@owner_only
@require_POST
def look_whole(request: DeskRequest) -> HttpResponse:
    """The same on the whole page, for a browser without JavaScript."""
    return _page(request, _typed(request.POST))


@owner_only
@require_POST
def another_ingredient(request: DeskRequest) -> HttpResponse:
    """The same form with one more empty row; nothing is saved."""
    data = request.POST.copy()
    total = whole_number(data.get("in-TOTAL_FORMS", ""))
    data["in-TOTAL_FORMS"] = str(min(total + 1, MOST_INGREDIENTS))
    return _page(request, _typed(data))


@owner_only
@require_POST
def another_version(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Start the next version of a solution, like this one."""
    version = next_version(_version(code, number), request.POST.get("why", "")[:300])
    return redirect("recipes:edit_solution", code, version.number)


@owner_only
@require_POST
def adopt(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Let the ticked drafts use this version instead of an earlier one."""
    version = _version(code, number)
    wanted = [int(pk) for pk in request.POST.getlist("draft") if pk.isdecimal()]
    taken = list(drafts_behind(version).filter(pk__in=wanted))
    for draft in taken:
        take_new_version(RecipeVersion.objects.select_related("finish").get(pk=draft.pk), version)
    messages.success(request, f"{', '.join(map(str, taken)) or 'No draft'} now use{'s' if len(taken) < 2 else ''} it.")
    return redirect("recipes:solution", code, number)


@owner_only
@require_POST
def drop(request: DeskRequest, code: str, number: int) -> HttpResponse:
    version = _version(code, number)
    try:
        drop_solution_version(version)
    except DaybookError as refusal:
        messages.error(request, str(refusal))
        return redirect("recipes:solution", code, number)
    messages.success(request, f"{version} is thrown away.")
    return redirect("recipes:solutions")


@at_the_desk
@require_safe
def strengths(request: DeskRequest) -> HttpResponse:
    """Strengths converted one into another, and what to measure to dilute one."""
    form = StrengthForm.asked(request.GET)
    return render_page_or_part(request, "recipes/solutions/strengths.html", "answer", {
        "form": form, "answer": form.answer() if form.is_valid() else None,
    }, status=REFUSED if form.is_bound and form.errors else 200)
