"""The agreed worked cases, every figure: by the computation that prices orders in the app."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

from jobs.estimating.basis import Basis, BoughtInFacts, EdgeFacts, GlassFacts, House, LineFacts
from jobs.estimating.estimate import estimate_basis
from jobs.frozen import freeze, thaw
from recipes.facts import IngredientFacts, MaterialFacts, PartFacts, RecipeFacts, Shelf, SolutionFacts, StepFacts
from tests.worked_cases import basis_of, work

CASES = Path(__file__).with_name("worked_cases.json")
DOCUMENT = json.loads(CASES.read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", DOCUMENT["cases"], ids=lambda case: case["title"][:40])
def test_every_figure_of_the_case(case):
    assert work({"cases": [case]})["cases"][0]["result"] == case["expected"]


def test_command_prints_results_and_refusals(tmp_path):
    case = json.loads(json.dumps(DOCUMENT["cases"][2]))
    case["given"]["lines"][0]["w_mm"] = "9000"
    path = tmp_path / "cases.json"
    path.write_text(json.dumps({"cases": [DOCUMENT["cases"][2], case]}), encoding="utf-8")
    printed = subprocess.run(
        [sys.executable, "-m", "tests.worked_cases", str(path)], check=True, capture_output=True, text=True
    ).stdout
    good, refused = json.loads(printed)["cases"]
    assert good["result"] == case["expected"]
    assert "Line 1" in refused["refused"]
    assert "does not fit the bench" in refused["refused"]


@pytest.mark.parametrize("case", DOCUMENT["cases"], ids=lambda case: case["title"][:40])
def test_frozen_basis_reads_back_the_same(case):
    basis = basis_of(case["given"])
    assert thaw(json.loads(json.dumps(freeze(basis))), Basis) == basis


def _by_hand(how: str = "pour", border: int = 0) -> Basis:
    """Return the case worked by hand at the end of the estimating page, chemistry and glass as 41.90 in all."""
    water = MaterialFacts(key="water", name="water", stock_unit="mL", liquid=True, unit_cost=Fraction(0))
    salt = MaterialFacts(key="salt", name="salt", stock_unit="g", unit_cost=Fraction(0))
    fill = IngredientFacts(number=2, material="water", make_up=True)
    active = IngredientFacts(number=1, material="salt", amount_per_litre=Fraction("1.2"), unit="g", scales_with_strength=True)
    sensitiser = SolutionFacts(key="sensitiser", name="sensitiser", keeps_minutes=Fraction(1440),
                               ingredients=(active, fill))
    pour = SolutionFacts(key="pour", name="pour", works_at_once=True, ingredients=(active, fill))
    wipe = StepFacts(
        number=1, kind="sensitise", how="wipe", coverage_ml_per_m2=Fraction(300), overspill_share=Fraction(1, 10),
        loss_per_load_ml=Fraction(20), dwell_minutes=Fraction(1, 2), minutes_per_load=Fraction(12),
        minutes_per_pane=Fraction(4), minutes_per_m2=Fraction(10),
        parts=(PartFacts(solution="sensitiser", strength=Fraction(2), mixed_for="load"),),
    )
    poured = StepFacts(
        number=2, kind="silver", how=how, coverage_ml_per_m2=Fraction(2000), extra_per_pane_ml=Fraction(5),
        overspray_mm=Fraction(border), dwell_minutes=Fraction(5), motion="rocked",
        parts=(PartFacts(solution="pour", mixed_for="pane"),),
    )
    house = House(
        helper_per_hour=Fraction(24), overhead_per_bench_hour=Fraction(12), margin_share=Fraction(35, 100),
        tax_share=Fraction(1, 5), cover_share=Fraction(9, 10), deposit_share=Fraction(1, 2),
        balance_readability_g=Fraction(1, 10),
    )
    line = LineFacts(number=1, shape="rectangle", width_mm=Fraction(305), height_mm=Fraction(305), quantity=4,
                     recipe="r", glass="g", edge="e", route="own")
    return Basis(
        as_of=date(2026, 1, 1), house=house,
        shelf=Shelf(materials={"water": water, "salt": salt}, solutions={"sensitiser": sensitiser, "pour": pour}),
        recipes={"r": RecipeFacts(key="r", finish="finish", steps=(wipe, poured))},
        glasses={"g": GlassFacts(key="g", name="glass")}, edges={"e": EdgeFacts(name="e")}, lines=(line,),
        bought_in=(BoughtInFacts(name="chemistry and glass", cost=Fraction("41.90")),),
    )


def test_the_case_worked_by_hand():
    estimate = estimate_basis(_by_hand())
    assert estimate.panes[1].panes_to_start == 5
    assert estimate.panes[1].chance_met == Fraction("0.91854")
    (load,) = estimate.loads["r"]
    assert load.area_m2 == Fraction("0.465125")
    wiped, poured = estimate.applied
    assert wiped.volume_ml == Fraction("173.49125")
    sensitiser = next(mix for mix in estimate.mixes if mix.solution.key == "sensitiser")
    assert sensitiser.made_ml == 180
    assert sensitiser.batches[0].ingredients[0].amount == Fraction("0.432")
    pours = [mix for mix in estimate.mixes if mix.solution.key == "pour"]
    assert [mix.made_ml for mix in pours] == [200] * 5
    assert {mix.needed_ml for mix in pours} == {Fraction("191.05")}
    assert poured.volume_ml == 5 * Fraction("191.05")
    assert estimate.minutes == Fraction("61.65125")
    price = estimate.price
    assert (estimate.costs[0].labour, estimate.costs[0].overhead) == (Fraction("24.6605"), Fraction("12.33025"))
    assert price.cost == Fraction("78.89075")
    assert (price.price, price.tax, price.total, price.deposit) == (122, Fraction("24.4"), Fraction("146.4"),
                                                                    Fraction("73.2"))


def test_a_border_wets_more_than_the_glass():
    estimate = estimate_basis(_by_hand("spray", border=50))
    assert estimate.applied[1].wetted_m2 == 5 * Fraction("0.164025")
    large = replace(_by_hand("spray", 50).lines[0], width_mm=Fraction(1200), height_mm=Fraction(2000),
                    oversize_method="on trestles")
    wide = estimate_basis(replace(_by_hand("spray", 50), lines=(large,)))
    wiped = next(applied_step for applied_step in wide.applied if applied_step.step == 1)
    sprayed = next(applied_step for applied_step in wide.applied if applied_step.step == 2)
    assert round(sprayed.wetted_m2 / wiped.wetted_m2, 2) == Fraction("1.14")
