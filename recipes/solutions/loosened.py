"""What would become permitted if a material reacted as less: said before a class is taken away from it."""

from __future__ import annotations

from dataclasses import replace

from recipes.facts import Shelf
from recipes.models import SolutionVersion
from recipes.reading import shelf_for
from recipes.solutions.putting_in_use import solutions_with
from recipes.solutions.rules import findings, is_never_stored
from studio.house.clock import today
from studio.stockroom.models import Material


def solutions_loosened_by(material: Material, classes: frozenset[str]) -> list[str]:
    """Return in sentences which solutions a rule would no longer refuse, if a material in them only reacted as classes.
    """
    versions = list(SolutionVersion.objects.filter(pk__in=solutions_with(material)).select_related("solution"))
    before = shelf_for([version.pk for version in versions], today())
    if material.code not in before.materials:
        return []
    less = replace(before.materials[material.code], reacts_as=classes)
    after = replace(before, materials={**before.materials, material.code: less})
    said = []
    for version in versions:
        if is_never_stored(version.key, before) and not is_never_stored(version.key, after):
            said.append(f"{version} would no longer count as ammoniacal silver: it could be kept, and starts no clock")
        elif _stops(version.key, before) - _stops(version.key, after):
            said.append(f"{version} would no longer be refused")
    return said


def _stops(key: str, shelf: Shelf) -> set[str]:
    return {found.sentence for found in findings(shelf.solutions[key], shelf) if found.stops}
