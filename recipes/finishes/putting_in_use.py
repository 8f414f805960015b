"""Put recipes in use and withdraw them: no stop of the bench rules may stand, and what is in use is frozen."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from recipes.facts import RecipeFacts, Shelf
from recipes.finishes.bench_rules import Finding, holds_ammoniacal_silver, refuse_stops
from recipes.models import RecipeVersion, SolutionVersion, VersionEvent
from recipes.reading import ANY_DAY, recipe_facts
from recipes.solutions.putting_in_use import freeze_solutions
from recipes.solutions.rules import unpriced_within
from studio.house.changes import note_change
from studio.house.clock import now
from studio.house.models import ChangeRecord, House, Person
from studio.kit.errors import DaybookError


class NotAcknowledged(DaybookError):
    """A caution stands that nobody has acknowledged by name."""

    def __init__(self, cautions: Iterable[Finding]) -> None:
        sentences = " ".join(f"Step {caution.step}: {caution.sentence} ({caution.rule})" for caution in cautions)
        super().__init__(f"Acknowledge these cautions by name before you put it in use. {sentences}", "acknowledged")


class Unpriced(DaybookError):
    """An ingredient that nobody knows the cost of: a recipe in use is quoted from."""

    def __init__(self, materials: Iterable[str]) -> None:
        super().__init__(
            f"The cost of {', '.join(materials)} is not known: it was never received and has no list price. "
            "Receive it, or give it a list price, then put the recipe in use."
        )


class NoProcedure(DaybookError):
    """A recipe with ammoniacal silver, and no written way of making it safe."""

    def __init__(self) -> None:
        super().__init__(
            "This recipe holds ammoniacal silver. Write the studio's making-safe procedure first, under Studio "
            "settings: without one it is not put in use."
        )


def check_by_the_house(recipe: RecipeFacts, shelf: Shelf, house: House | None = None) -> None:
    """Refuse a recipe with ammoniacal silver that nobody has written how to make safe.

    house: the studio's settings, where somebody read them already. Raises NoProcedure.
    """
    if not holds_ammoniacal_silver(recipe, shelf):
        return
    house = house or House.objects.first()
    if house is None or not house.making_safe_procedure.strip():
        raise NoProcedure


def check_priced(recipe: RecipeFacts, shelf: Shelf) -> None:
    """Refuse a recipe with an ingredient, at any depth, that has no cost. Raises Unpriced."""
    names = [name for step in recipe.steps for part in step.parts for name in unpriced_within(part.solution, shelf)]
    if names:
        raise Unpriced(dict.fromkeys(names))


@transaction.atomic
def put_in_use(
    *, version: RecipeVersion, by: Person, acknowledged: Iterable[str] = (), note: str = "", at: datetime | None = None
) -> VersionEvent:
    """Put a draft in use: every stop refuses it, every caution is acknowledged by its rule's name, then it is frozen.

    Raises BenchRulesStop, NoProcedure, Unpriced or NotAcknowledged.
    """
    if (done := _event_of(version, VersionEvent.Kind.IN_USE)) is not None:
        return done
    moment, known = at or now(), set(acknowledged)
    recipes, shelf = recipe_facts([version.pk], ANY_DAY)
    cautions = refuse_stops(recipes[version.key], shelf)
    check_by_the_house(recipes[version.key], shelf)
    check_priced(recipes[version.key], shelf)
    unknown = [finding for finding in cautions if finding.rule not in known]
    if unknown:
        raise NotAcknowledged(unknown)
    freeze_solutions(
        SolutionVersion.objects.filter(used_in__step__recipe_version=version).values_list("pk", flat=True), moment
    )
    note_change(ChangeRecord.Kind.RECIPES, str(version), "put in use", by=by)
    return VersionEvent.objects.create(
        recipe_version=version, kind=VersionEvent.Kind.IN_USE, at=moment, by=by, note=note,
        acknowledged=sorted({finding.rule for finding in cautions}),
    )


def _event_of(version: RecipeVersion, kind: str) -> VersionEvent | None:
    """Return what was done with a version already, by two who press at one moment: the second waits for the first."""
    RecipeVersion.objects.select_for_update().get(pk=version.pk)
    return VersionEvent.objects.filter(recipe_version=version, kind=kind).first()


@transaction.atomic
def withdraw_recipe(*, version: RecipeVersion, by: Person, note: str, at: datetime | None = None) -> VersionEvent:
    """Withdraw a recipe in use, once: nothing new is quoted from it; what was quoted stays."""
    if (known := _event_of(version, VersionEvent.Kind.WITHDRAWN)) is not None:
        return known
    note_change(ChangeRecord.Kind.RECIPES, str(version), "withdrawn", by=by)
    return VersionEvent.objects.create(
        recipe_version=version, kind=VersionEvent.Kind.WITHDRAWN, at=at or now(), by=by, note=note
    )
