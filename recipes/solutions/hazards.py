"""Hazards of a mix: those of all that is in it, at any depth, unless its author gave it its own, with the reason.

What it reacts as is never changed: that is the union, whatever its statements say.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from fractions import Fraction

from recipes.chemistry.mixing import MixError, materials_within, measure_batch
from recipes.facts import Shelf
from recipes.models import MadeLot, SolutionVersion
from recipes.reading import ANY_DAY, shelf_for
from recipes.solutions.rules import agents_within, unclassed_within
from studio.kit.asking import among
from studio.stockroom.hazards.statements import Classification, LabelElements, label_elements
from studio.stockroom.hazards.typed_statements import read_hazard_statements
from studio.stockroom.made_here import MadeOf
from studio.stockroom.models import Lot, Material

NONE_LEFT = "none"


def own_classification(text: str) -> Classification:
    """Read the hazard statements that an author gave a mix; “none” is none. Raises StatementRefused."""
    if text.strip().casefold() == NONE_LEFT:
        return Classification()
    typed = read_hazard_statements(text)
    return Classification(statements=typed.codes, categories=typed.categories)


def materials_of(shelf: Shelf) -> dict[str, Material]:
    """Return the rows of all materials of a shelf, by code. One query."""
    return {material.code: material for material in among(Material.objects.all(), "code", shelf.materials)}


def label_of(
    version: SolutionVersion, shelf: Shelf, materials: Mapping[str, Material], *more: Classification
) -> LabelElements:
    """Return the hazards that a mix shows. more: what the owner entered of its place on the shelf."""
    inside = [materials[facts.key].classification for facts in materials_within(version.key, shelf)]
    if version.own_hazard_statements:
        precautions = tuple(code for thing in inside for code in thing.precautions)
        return label_elements([own_classification(version.own_hazard_statements),
                               Classification(precautions=precautions), *more])
    return label_elements([*inside, *more])


def silver_g_per_ml(key: str, shelf: Shelf) -> Fraction | None:
    """Return the silver in a mL of a mix as it is written, at any depth; None where it cannot be worked out."""
    try:
        batch = measure_batch(shelf.solutions[key], Fraction(1000), Fraction(1), shelf)
    except MixError:
        return None
    grams = Fraction(0)
    for measured in batch:
        ingredient = measured.ingredient
        if ingredient.solution is not None:
            inside = silver_g_per_ml(ingredient.solution, shelf)
            if inside is None:
                return None
            grams += measured.amount * inside
        else:
            grams += measured.amount * shelf.materials[ingredient.material or ""].silver_g_per_unit
    return grams / 1000


def what_is_in_lots(lots: Collection[Lot]) -> dict[int, MadeOf]:
    """Return what is in lots made here, by lot id, as their versions and materials are known now."""
    rows = MadeLot.objects.select_related("solution_version__solution", "lot__material")
    made = list(among(rows, "lot_id", [lot.pk for lot in lots]))
    shelf = shelf_for({row.solution_version_id for row in made}, ANY_DAY)
    materials = materials_of(shelf)
    return {
        row.lot_id: MadeOf(
            classes=agents_within(row.solution_version.key, shelf),
            label=label_of(row.solution_version, shelf, materials, row.lot.material.classification),
            silver_g_per_ml=silver_g_per_ml(row.solution_version.key, shelf),
            unknown=tuple(unclassed_within(row.solution_version.key, shelf)),
            changed_because=row.solution_version.hazard_change_reason,
        )
        for row in made
    }
