"""Answer safety cases of the neutral form with the product's own rules and print the answers.

    python -m tests.safety_cases FILE

prints {"cases": [{"title", "may_keep": {solution: true or false}, "may_be_used": true or false, "stops": [sentence],
"cautions": [sentence]}]}.
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from fractions import Fraction
from typing import Any

from recipes.facts import IngredientFacts, MaterialFacts, PartFacts, RecipeFacts, Shelf, SolutionFacts, StepFacts
from recipes.finishes.bench_rules import walk
from recipes.solutions.rules import NeverStored, check_may_be_stored, findings
from studio.kit.errors import DaybookError
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.hazards.identity import WET_KINDS, Identity, told_by
from studio.stockroom.hazards.silvering import is_of_silvering

Given = dict[str, Any]

#: what the neutral form calls some classes
_CLASSES = {"silver": "silver_salt", "tin": "tin_salt", "copper": "copper_salt", "nitrate_ammonium": "ammonium_nitrate"}
A_DAY = Fraction(1440)


def material_of(name: str, given: Given) -> MaterialFacts:
    assay = given.get("assay_percent")
    identity = Identity(
        name=name, kind=given.get("kind", "chemical"), cas=given.get("cas", ""), formula=given.get("formula", ""),
        liquid=given.get("liquid", False), assay_share=None if assay is None else Fraction(str(assay)) / 100,
        statements=tuple(given.get("statements", ())),
    )
    added = {_CLASSES.get(code, code) for code in given.get("classes", ())}
    if unknown := added - set(REACTS_AS):
        raise DaybookError(f"{name}: unknown class {', '.join(sorted(unknown))}.")
    classes = told_by(identity).classes | added
    return MaterialFacts(
        key=name, name=name, stock_unit="mL" if identity.liquid else "g", liquid=identity.liquid, reacts_as=classes,
        density_g_per_ml=Fraction(str(given["density"])) if given.get("density") else None,
        assay_share=identity.assay_share, of_silvering=is_of_silvering(identity),
        unclassed=identity.kind in WET_KINDS and not classes and not given.get("none_apply", False),
    )


def shelf_of(given: Given) -> Shelf:
    materials = {name: material_of(name, entry) for name, entry in given["materials"].items()}
    solutions = {}
    for name, entry in given["solutions"].items():
        ingredients = tuple(
            IngredientFacts(
                number=number, material=None if row["of"] in given["solutions"] else row["of"],
                solution=row["of"] if row["of"] in given["solutions"] else None,
                amount_per_litre=Fraction(str(row.get("amount_per_litre", 0))), unit=row.get("unit", "mL"),
                make_up=row.get("make_up", False),
            )
            for number, row in enumerate(entry["ingredients"], start=1)
        )
        keeps = entry.get("keeps_minutes")
        solutions[name] = SolutionFacts(
            key=name, name=name, ingredients=ingredients, works_at_once=entry.get("works_at_once", False),
            keeps_minutes=None if keeps is None else Fraction(str(keeps)),
        )
    return Shelf(materials=materials, solutions=solutions)


def recipe_of(given: Given, shelf: Shelf) -> RecipeFacts:
    def part(name: str) -> PartFacts:
        return PartFacts(solution=name, mixed_for="pane" if shelf.solutions[name].works_at_once else "load")

    return RecipeFacts(key="case", finish="the recipe", steps=tuple(
        StepFacts(
            number=number, kind=step["kind"], name=step["kind"], parts=tuple(map(part, step.get("parts", ()))),
            how=step.get("how", ""), dwell_minutes=Fraction(str(step.get("dwell_minutes", 0))),
            rinse_full=step.get("full_rinse", False), rinse_collected=step.get("collected", False),
            surface_before=step.get("surface", "either"), drying=step.get("drying", ""),
        )
        for number, step in enumerate(given["steps"], start=1)
    ))


def may_keep(solution: SolutionFacts, shelf: Shelf) -> bool:
    """Say whether a solution may have the keeping time it asks for; one that asks for none is tried with a day."""
    kept = solution if solution.keeps else replace(solution, keeps_minutes=A_DAY)
    there = Shelf(materials=shelf.materials, solutions={**shelf.solutions, kept.key: kept})
    try:
        check_may_be_stored(kept, there)
    except NeverStored:
        return False
    return not any(finding.stops for finding in findings(kept, there))


def answer(given: Given) -> Given:
    shelf = shelf_of(given)
    said = [
        (finding.stops, finding.sentence)
        for solution in shelf.solutions.values() for finding in findings(solution, shelf)
    ]
    recipe = recipe_of(given, shelf)
    walked = walk(recipe, shelf) if recipe.steps else []
    said += [(finding.stops, f"Step {finding.step}: {finding.sentence}") for finding in walked]
    return {
        "may_keep": {name: may_keep(solution, shelf) for name, solution in shelf.solutions.items()},
        "may_be_used": bool(recipe.steps) and not any(finding.stops for finding in walked),
        "stops": [sentence for stops, sentence in said if stops],
        "cautions": [sentence for stops, sentence in said if not stops],
    }


def work(document: Given) -> Given:
    """Return the answer to every case."""
    return {"cases": [{"title": case["title"], **answer(case["given"])} for case in document["cases"]]}


if __name__ == "__main__":
    with open(sys.argv[1], encoding="utf-8") as file:
        print(json.dumps(work(json.load(file)), indent=1, ensure_ascii=False))
