"""Price cases of the neutral form with the product's own computation and print the results.

    python -m tests.worked_cases FILE

prints {"cases": [{"title", "result"}]}, or {"title", "refused"} with the sentence. Mixing minutes, `mix_min` of the house
and of a solution, are none where a case names none.
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from datetime import date
from fractions import Fraction
from typing import Any

from jobs.estimating.basis import Basis, BoughtInFacts, Discount, EdgeFacts, GlassFacts, House, LineFacts
from jobs.estimating.estimate import Estimate, estimate_basis
from recipes.facts import IngredientFacts, MaterialFacts, PartFacts, RecipeFacts, Shelf, SolutionFacts, StepFacts
from studio.kit.errors import DaybookError
from studio.kit.rounding import decimal_string

Given = dict[str, Any]


def house_of(given: Given) -> House:
    def take(key: str, default: str = "0") -> Fraction:
        return Fraction(str(given.get(key, default)))

    return House(
        currency="", minor_digits=int(given["minor_digits"]), tax_share=take("tax"),
        helper_per_hour=take("helper_per_h"), owner_per_hour=take("owner_per_h"),
        overhead_per_bench_hour=take("overhead_per_h"), margin_share=take("margin"),
        minimum_charge=take("minimum_charge"), price_step=take("price_step"), plan=given["plan"],
        cover_share=take("cover"), glass_loss_share=take("glass_loss"), bench_width_mm=take("bench_w_mm"),
        bench_height_mm=take("bench_h_mm"), bench_usable_share=take("bench_share"), increment_ml=take("increment_ml"),
        largest_vessel_ml=take("vessel_ml"), deposit_share=take("deposit"), setup_minutes=take("setup_min"),
        mixing_minutes_per_batch=take("mix_min"), cutting_minutes_per_pane=take("cut_min"),
        packing_minutes_per_pane=take("pack_min"),
    )


def shelf_of(given: Given) -> Shelf:
    materials = {
        name: MaterialFacts(
            key=name, name=name, stock_unit=entry["unit"], liquid=entry["liquid"],
            density_g_per_ml=Fraction(entry["density"]) if "density" in entry else None,
            unit_cost=Fraction(entry["unit_cost"]) if "unit_cost" in entry else None,
            silver_g_per_unit=Fraction(entry.get("silver", 0)),
        )
        for name, entry in given["materials"].items()
    }
    solutions = {
        name: SolutionFacts(
            key=name, name=name, keeps_minutes=Fraction(10**6) if entry["keeps"] else None,
            mixing_minutes=Fraction(entry["mix_min"]) if "mix_min" in entry else None,
            minimum_batch_ml=Fraction(entry["min_ml"]), works_at_once=entry.get("works_at_once", False),
            ingredients=tuple(
                IngredientFacts(
                    number=number, amount_per_litre=Fraction(i["amount"]), unit=i["unit"],
                    scales_with_strength=i["active"],
                    make_up=i["make_up"],
                    **({"solution": i["of"]} if i["of"] in given["solutions"] else {"material": i["of"]}),
                )
                for number, i in enumerate(entry["ingredients"], start=1)
            ),
        )
        for name, entry in given["solutions"].items()
    }
    return Shelf(materials=materials, solutions=solutions)


def step_of(number: int, entry: Given) -> StepFacts:
    return StepFacts(
        number=number, kind="silver", how=entry["how"], coats=Fraction(entry["coats"]),
        coverage_ml_per_m2=Fraction(entry["coverage"]), overspray_mm=Fraction(entry["border_mm"]),
        overspill_share=Fraction(entry["overspill"]), extra_per_pane_ml=Fraction(entry["extra_ml"]),
        loss_per_load_ml=Fraction(entry["loss_ml"]), dwell_minutes=Fraction(entry["dwell_min"]),
        dwell_attended=entry["attended"], minutes_per_load=Fraction(entry["a"]), minutes_per_pane=Fraction(entry["b"]),
        minutes_per_m2=Fraction(entry["d"]), hands=entry["hands"],
        parts=tuple(
            PartFacts(solution=p["solution"], strength=Fraction(p["strength"]), parts=Fraction(p["share"]),
                      mixed_for=p["mixed"])
            for p in entry["parts"]
        ),
    )


def recipe_of(name: str, entry: Given) -> RecipeFacts:
    own = entry["own_yield"]
    return RecipeFacts(
        key=name, finish=name, good=entry["good"], started=entry["started"],
        own_yield=None if own is None else Fraction(own),
        steps=tuple(step_of(number, step) for number, step in enumerate(entry["steps"], start=1)),
    )


def line_of(number: int, entry: Given) -> LineFacts:
    return LineFacts(
        number=number, shape=entry["shape"], width_mm=Fraction(entry["w_mm"]), height_mm=Fraction(entry["h_mm"]),
        quantity=entry["quantity"], recipe=entry["issue"], glass=entry["glass"], edge=entry["edge"], route=entry["route"],
        area_m2=Fraction(entry["area_m2"]) if "area_m2" in entry else None, plan=entry.get("plan"),
        perimeter_mm=Fraction(entry["perimeter_mm"]) if "perimeter_mm" in entry else None,
        cut_price_per_m2=Fraction(entry.get("price_per_m2", 0)), cut_minimum_each=Fraction(entry.get("minimum_each", 0)),
        own_panes_to_start=entry.get("own_n"), oversize_method=entry.get("oversize", ""),
        match_group=entry.get("group", ""),
    )


def basis_of(given: Given) -> Basis:
    """Return the product's own basis for a case of the neutral form."""
    house = given["house"]
    glasses = {
        name: GlassFacts(key=name, name=name, sheet_cost=Fraction(entry["cost_each"]), given_sheets=entry["sheets"])
        for name, entry in given["sheets"].items()
    }
    for line in given["lines"]:
        glasses.setdefault(line["glass"], GlassFacts(key=line["glass"], name=line["glass"]))
    bought_in = Fraction(str(given["bought_in"]))
    return Basis(
        as_of=date(2026, 1, 1), house=house_of(house), shelf=shelf_of(given),
        recipes={name: recipe_of(name, entry) for name, entry in given["issues"].items()}, glasses=glasses,
        edges={n: EdgeFacts(name=n, minutes_per_m=Fraction(m)) for n, m in house["edge_min_per_m"].items()},
        lines=tuple(line_of(number, entry) for number, entry in enumerate(given["lines"], start=1)),
        bought_in=(BoughtInFacts(name="bought in", cost=bought_in),) if bought_in else (),
        discount=Discount(
            share=Fraction(house.get("discount_share", "0")), amount=Fraction(house.get("discount_amount", "0"))
        ),
    )


def result_of(estimate: Estimate) -> Given:
    """Return an estimate in the shape of `expected`."""
    chemistry = sum((cost.chemistry for cost in estimate.costs), Fraction(0))
    batches = [
        (mix.solution.name, mix.strength, batch.volume_ml) for mix in estimate.mixes for batch in mix.batches
    ]
    amounts: dict[str, Fraction] = defaultdict(Fraction)
    for key, amount in estimate.amounts.items():
        amounts[key] += amount
    price = estimate.price
    return {
        "lines": [
            {
                "area_m2": decimal_string(size.area_m2),
                "yield_share": decimal_string(estimate.panes[size.line.number].yield_share),
                "panes_to_start": estimate.panes[size.line.number].panes_to_start,
                "chemistry": decimal_string(cost.chemistry),
                "minutes": decimal_string(estimate.labour[size.line.number].all.total),
                "labour": decimal_string(cost.labour), "glass": decimal_string(cost.glass),
                "bought_in": decimal_string(cost.bought_in), "overhead": decimal_string(cost.overhead),
                "rework": decimal_string(cost.rework), "cost": decimal_string(cost.total),
                "line_price": decimal_string(line_price),
            }
            for size, cost, line_price in zip(estimate.sizes, estimate.costs, price.line_prices, strict=True)
        ],
        "loads": {
            recipe: [[pane.line_number for pane in load.panes] for load in loads]
            for recipe, loads in estimate.loads.items()
        },
        "batches": [[name, decimal_string(strength), decimal_string(ml)] for name, strength, ml in sorted(batches)],
        "amounts": {key: decimal_string(amount) for key, amount in amounts.items()},
        "silver_g": decimal_string(estimate.silver.into_job_g), "chemistry": decimal_string(chemistry),
        "minutes": decimal_string(estimate.minutes), "cost": decimal_string(price.cost),
        "price_before_rounding": decimal_string(price.before_rounding), "price": decimal_string(price.price),
        "discount": decimal_string(price.discount), "net": decimal_string(price.net),
        "tax": decimal_string(price.tax), "total": decimal_string(price.total),
        "deposit": decimal_string(price.deposit),
    }


def work(document: Given) -> Given:
    """Return the result, or the refusal, of every case."""
    cases = []
    for case in document["cases"]:
        try:
            cases.append({"title": case["title"], "result": result_of(estimate_basis(basis_of(case["given"])))})
        except DaybookError as refusal:
            cases.append({"title": case["title"], "refused": str(refusal)})
    return {"cases": cases}


if __name__ == "__main__":
    with open(sys.argv[1], encoding="utf-8") as file:
        print(json.dumps(work(json.load(file)), indent=1, ensure_ascii=False))
