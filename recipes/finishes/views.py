"""Pages of finishes and their recipe versions, step by step. No costs are shown here."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from recipes.finishes.bench_rules import walk
from recipes.finishes.descent import descent
from recipes.finishes.difference import difference
from recipes.finishes.in_doubt import doubt_of
from recipes.finishes.putting_in_use import put_in_use, withdraw_recipe
from recipes.models import Finish, RecipeVersion, SolutionVersion, Trial, VersionEvent
from recipes.reading import ANY_DAY, recipe_facts
from recipes.solutions.putting_in_use import solutions_with
from studio.house.http import REFUSED, DeskRequest
from studio.house.lists import paged
from studio.house.models import House
from studio.kit.access import allowed, at_the_desk
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.stockroom.models import Material

NEWEST_TRIALS = 8


@at_the_desk
@require_safe
def finishes(request: DeskRequest) -> HttpResponse:
    listing = paged(request, Finish.objects.all())
    rows = fetched(listing.rows, "pictures__file", "versions__events")
    return render(request, "recipes/finishes/finishes.html", {"finishes": rows, "listing": listing})


@at_the_desk
@require_safe
def finish(request: DeskRequest, code: str) -> HttpResponse:
    row = fetched(
        [get_object_or_404(Finish, code=code)],
        "pictures__file", "versions__events__by", "versions__came_from__finish", "versions__came_from_trial",
    )[0]
    trials = Trial.objects.filter(recipe_version__finish=row).select_related("recipe_version")[:NEWEST_TRIALS]
    return render(request, "recipes/finishes/finish.html", {
        "finish": row, "descent": descent(row.versions.all()), "trials": trials,
    })


def _recipe_version(code: str, number: int) -> RecipeVersion:
    rows = RecipeVersion.objects.select_related("finish", "came_from", "came_from_trial")
    found = get_object_or_404(rows, finish__code=code, number=number)
    return fetched([found], "events__by", "steps__parts__solution_version__solution")[0]


def _recipe_page(request: DeskRequest, version: RecipeVersion, refusal: str = "") -> HttpResponse:
    recipes, shelf = recipe_facts([version.pk], ANY_DAY)
    by_step: dict[int, list[object]] = {}
    found = walk(recipes[version.key], shelf)
    for finding in found:
        by_step.setdefault(finding.step, []).append(finding)
    cautions = {finding.rule: finding for finding in found if not finding.stops}
    trial = version.came_from_trial
    return render(request, "recipes/finishes/recipe.html", {
        "version": version, "by_step": by_step, "cautions": cautions.values(), "refusal": refusal,
        "has_stops": any(finding.stops for finding in found),
        "doubt": doubt_of(recipes[version.key], shelf) if version.is_in_use else "",
        "photographs": trial.photographs.select_related("aligned_copy", "print_copy") if trial else (),
        "reasons": trial.notes.select_related("by") if trial else (),
    }, status=REFUSED if refusal else 200)


@at_the_desk
@require_safe
def recipe(request: DeskRequest, code: str, number: int) -> HttpResponse:
    return _recipe_page(request, _recipe_version(code, number))


@at_the_desk
@require_safe
def changes(request: DeskRequest, code: str, old: int, new: int) -> HttpResponse:
    """What differs between two versions of a finish: changed steps and values, side by side."""
    first, second = _recipe_version(code, old), _recipe_version(code, new)
    recipes, shelf = recipe_facts([first.pk, second.pk], ANY_DAY)
    return render(request, "recipes/finishes/changes.html", {
        "finish": first.finish, "old": first, "new": second,
        "difference": difference(recipes[first.key], recipes[second.key], shelf, House.unit_preference()),
        "others": first.finish.versions.exclude(pk=second.pk).order_by("number"),
    })


@allowed(May.RECIPES)
@require_POST
def put_version_in_use(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Put a draft in use: stops refuse, cautions are acknowledged by name."""
    row = _recipe_version(code, number)
    if row.state != "draft":
        return redirect("recipes:recipe", code, number)
    try:
        put_in_use(version=row, by=request.user, acknowledged=request.POST.getlist("acknowledged"),
                   note=request.POST.get("note", "")[:300])
    except DaybookError as refusal:
        return _recipe_page(request, row, str(refusal))
    messages.success(request, f"{row} is in use: it can be quoted from, and is changed no more.")
    return redirect("recipes:recipe", code, number)


@allowed(May.RECIPES)
@require_POST
def withdraw(request: DeskRequest, code: str, number: int) -> HttpResponse:
    row = _recipe_version(code, number)
    note = request.POST.get("note", "").strip()[:300]
    if not note:
        return _recipe_page(request, row, "Write why it is withdrawn.")
    if row.state == VersionEvent.Kind.IN_USE:
        withdraw_recipe(version=row, by=request.user, note=note)
        messages.success(request, f"{row} is withdrawn: nothing new is quoted from it.")
    return redirect("recipes:recipe", code, number)


@at_the_desk
@require_safe
def material_uses(request: DeskRequest, code: str) -> HttpResponse:
    """Where a material is used: the solutions that hold it, at any depth, and the recipes and trials with those."""
    material = get_object_or_404(Material, code=code)
    above = solutions_with(material)
    versions = (
        SolutionVersion.objects.filter(pk__in=above).select_related("solution").order_by("solution__name", "number")
    )
    recipes = RecipeVersion.objects.filter(steps__parts__solution_version__in=above).distinct()
    return render(request, "recipes/finishes/uses.html", {
        "material": material, "versions": versions,
        "recipes": recipes.select_related("finish").prefetch_related("events").order_by("finish__name", "number"),
        "trials": Trial.objects.filter(recipe_version__in=recipes.values("pk"))
        .select_related("recipe_version__finish")[:50],
    })
