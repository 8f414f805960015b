"""Find in the library: finishes, solutions, versions with the values of their steps, trials. By their kept words."""

from __future__ import annotations

from collections.abc import Iterator

from django.urls import reverse

from recipes.finding import found
from recipes.models import SearchWords
from studio.whole.find.asking import Found, named
from studio.whole.find.wanted import Wanted
from studio.whole.find.why import whys

_ABOUT = "about it"


def finishes(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    for row in found("finish", wanted.words):
        finish = row.finish
        assert finish is not None
        yield _found(row, wanted, finish.name, finish.family, reverse("recipes:finish", args=[finish.code]))


def solutions(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    for row in found("solution_version", wanted.words):
        version = row.solution_version
        assert version is not None
        yield _found(row, wanted, str(version), version.why,
                     reverse("recipes:solution", args=[version.solution.code, version.number]))


def versions(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    for row in found("recipe_version", wanted.words):
        version = row.recipe_version
        assert version is not None
        yield _found(row, wanted, str(version), version.why,
                     reverse("recipes:recipe", args=[version.finish.code, version.number]))


def trials(wanted: Wanted, runs_desk: bool) -> Iterator[Found]:
    for row in found("trial", wanted.words):
        trial = row.trial
        assert trial is not None
        yield _found(row, wanted, f"{trial}, {trial.recipe_version.finish.name}", trial.question,
                     reverse("recipes:trial", args=[trial.number]))


def _found(row: SearchWords, wanted: Wanted, name: str, about: str, address: str) -> Found:
    own, _, values = row.words.partition("\n")
    left = [word for word in wanted.words if word not in name.casefold()]
    why = whys([(_ABOUT, about), (_ABOUT, own), ("its values", values)], left)
    said = any(one.where == _ABOUT for one in why)
    return Found(name=named(name, wanted), about="" if said else about, address=address, why=why)
