"""Compare trials and versions: side by side, and one change at a time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from recipes.facts import Shelf
from recipes.models import Finish, FinishPicture, RecipeVersion, Trial, TrialPhotograph
from recipes.reading import ANY_DAY, recipe_facts
from recipes.trials.comparing import (
    Compared,
    Key,
    Pair,
    SharedValues,
    differing,
    key_in_words,
    one_change_pairs,
    score_chart,
    value_in_words,
)
from recipes.trials.forms import ConditionsForm
from recipes.trials.reading import facts_of, trials_with_all
from studio.house.http import DeskRequest
from studio.house.models import House
from studio.kit.access import at_the_desk
from studio.kit.asking import among
from studio.kit.typed_numbers import is_whole, whole_number

MOST_COMPARED = 8
MOST_PAIRS = 12
MOST_OTHERS = 40


def as_compared(rows: Sequence[Trial]) -> tuple[list[Compared], Shelf]:
    """Return trials as they are compared, and the shelf of what they name."""
    facts = facts_of(rows)
    shared = SharedValues()
    return [
        shared.add_to(Compared(
            name=str(row), address=reverse("recipes:trial", args=[row.number]), recipe=facts.tried[row.pk],
            width_mm=Fraction(row.width_mm), height_mm=Fraction(row.height_mm),
            glass=row.glass.name if row.glass else "not noted", score=row.score, number=row.number,
        ))
        for row in rows
    ], facts.shelf


def _asked(request: DeskRequest) -> tuple[list[Trial], list[RecipeVersion]]:
    """Return the trials (“12”) and versions (“foxed-harbour/3”) that are to be compared."""
    numbers, keys = [], []
    for text in request.GET.getlist("of")[:MOST_COMPARED]:
        code, _, number = text.rpartition("/")
        if is_whole(text):
            numbers.append(whole_number(text))
        elif code and is_whole(number):
            keys.append((code, whole_number(number)))
    trials = list(trials_with_all().filter(number__in=numbers))
    versions = [version for code, number in keys
              if (version := RecipeVersion.objects.select_related("finish", "came_from_trial")
                  .filter(finish__code=code, number=number).first())]
    return sorted(trials, key=lambda trial: numbers.index(trial.number)), versions


@at_the_desk
@require_safe
def compare(request: DeskRequest) -> HttpResponse:
    """Trials and versions side by side: only what differs, and the photographs, aligned."""
    trials, versions = _asked(request)
    compared, shelf = as_compared(trials)
    recipes, more = recipe_facts([version.pk for version in versions], ANY_DAY)
    compared += [
        SharedValues().add_to(
            Compared(
                name=str(version),
                address=reverse("recipes:recipe", args=[version.finish.code, version.number]),
                recipe=recipes[version.key],
            )
        )
        for version in versions
    ]
    preference = House.unit_preference()
    pictures = [(row, {side: _newest(row, side) for side in FinishPicture.Side.values}) for row in trials]
    shown = [(row, sides) for row, sides in pictures if any(sides.values())]
    around = Trial.objects.select_related("recipe_version__finish")
    if trials:
        around = around.filter(recipe_version__finish=trials[0].recipe_version.finish_id)
    return render(request, "recipes/trials/compare.html", {
        "trials": trials, "compared": compared, "rows": differing(compared, shelf.with_all_of(more), preference),
        "pictures": shown,
        "pair": shown if len(shown) == 2 else [], "conditions": _conditions(trials, preference),
        "asked": request.GET.getlist("of"), "others": [trial for trial in around[:MOST_OTHERS] if trial not in trials],
        "versions": versions,
    })


def _newest(row: Trial, side: str) -> TrialPhotograph | None:
    mine = [photograph for photograph in row.photographs.all() if photograph.side == side]
    return mine[-1] if mine else None


def _conditions(rows: Sequence[Trial], preference: str) -> list[tuple[str, list[str]]]:
    """Return the conditions that differ, each with how it was in each trial."""
    rows_shown = []
    for name, field in ConditionsForm.base_fields.items():
        forms = [ConditionsForm(trial=row, preference=preference) for row in rows]
        values = [str(form.initial[name] or "not noted") for form in forms]
        if len(set(values)) > 1:
            rows_shown.append((str(field.label), values))
    return rows_shown


@at_the_desk
@require_safe
def one_change(request: DeskRequest, code: str) -> HttpResponse:
    """What each single change did: the pairs that differ in one value alone, with their scores, and a chart of each."""
    finish = get_object_or_404(Finish, code=code)
    rows = list(Trial.objects.filter(recipe_version__finish=finish).select_related(
        "glass").prefetch_related("changes"))
    compared, shelf = as_compared(rows)
    preference = House.unit_preference()
    sections: list[dict[str, Any]] = []
    found = one_change_pairs(compared)
    fronts = _fronts_of({entry.number for pairs in found.values() for pair in pairs[:MOST_PAIRS]
                         for entry in (pair.before, pair.after)})
    for key, pairs in found.items():
        sections.append({
            "name": key_in_words(key, key.part > 1), "pairs": [_shown(key, pair, fronts, shelf, preference)
                                                           for pair in pairs[:MOST_PAIRS]],
            "more": len(pairs) - MOST_PAIRS, "largest_gain": max((abs(pair.gain or 0) for pair in pairs), default=0),
            "chart": score_chart(key, compared, shelf, preference), "anchor": f"change-{len(sections) + 1}",
        })
    sections.sort(key=lambda section: -section["largest_gain"])
    return render(
        request, "recipes/trials/one_change.html", {"finish": finish, "sections": sections, "trials": len(rows)}
    )


def _fronts_of(numbers: Iterable[int]) -> dict[int, TrialPhotograph]:
    """Return the newest photograph of the front of each of some trials, by their numbers."""
    rows = TrialPhotograph.objects.filter(side=FinishPicture.Side.FRONT).select_related("aligned_copy", "trial")
    return {row.trial.number: row for row in among(rows.order_by("pk"), "trial__number", numbers)}


def _shown(
    key: Key, pair: Pair, fronts: Mapping[int, TrialPhotograph], shelf: Shelf, preference: str,
) -> dict[str, Any]:
    return {
        "pair": pair, "before": value_in_words(key, pair.before, shelf, preference),
        "after": value_in_words(key, pair.after, shelf, preference),
        "pictures": [fronts.get(entry.number) for entry in (pair.before, pair.after)],
    }
