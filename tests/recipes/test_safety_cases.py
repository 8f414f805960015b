"""The neutral safety cases, answered by the outside door: general chemistry, from memory unless the pair names a source."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.safety_cases import answer

FILE = Path(__file__).with_name("safety_cases.json")
CASES = json.loads(FILE.read_text(encoding="utf-8"))["cases"]
SILVER, CAUSTIC, AMMONIA, AMMONIUM = (
    {"cas": cas, "kind": "chemical", "liquid": liquid} for cas, liquid in (
        ("7761-88-8", False), ("1310-73-2", False), ("1336-21-6", True), ("6484-52-2", False)))
WATER = {"cas": "7732-18-5", "kind": "water", "liquid": True}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["title"])
def test_every_case_is_answered_as_expected(case):
    found = answer(case["given"])
    for name, expected in case["expected"].get("may_keep", {}).items():
        assert found["may_keep"][name] is expected
    if "may_be_used" in case["expected"]:
        assert found["may_be_used"] is case["expected"]["may_be_used"]


def test_the_door_prints_every_case():
    printed = subprocess.run([sys.executable, "-m", "tests.safety_cases", str(FILE)], capture_output=True, text=True,
                             check=True)
    assert [case["title"] for case in json.loads(printed.stdout)["cases"]] == [case["title"] for case in CASES]


def bath(*doses: tuple[str, str, str]) -> dict:
    """A silver bath of doses, each: of what, how much per litre, in which unit."""
    return {
        "materials": {"silver nitrate": SILVER, "caustic": CAUSTIC, "ammonia": AMMONIA, "ammonium nitrate": AMMONIUM,
                      "water": WATER},
        "solutions": {"bath": {"keeps_minutes": None, "ingredients": [
            {"of": of, "amount_per_litre": amount, "unit": unit} for of, amount, unit in doses]}},
        "steps": [],
    }


def test_ammonia_comes_after_the_caustic():
    """Silver, ammonia until nearly clear, caustic, ammonia again: classic practice. Ending on caustic is cautioned."""
    water, silver, caustic = ("water", "900", "mL"), ("silver nitrate", "12", "g"), ("caustic", "4", "g")
    ammonia = ("ammonia", "14", "mL")
    ends = "ends on caustic with no ammonia after it"
    assert any(ends in said for said in answer(bath(water, silver, ammonia, caustic))["cautions"])
    assert not any(ends in said for said in answer(bath(water, silver, caustic, ammonia))["cautions"])
    barry = bath(water, silver, ("ammonium nitrate", "18", "g"), caustic)  # caustic frees the ammonia there
    assert not any(ends in said for said in answer(barry)["cautions"])


def test_strong_acid_and_solid_caustic_go_into_water():
    """Tin(II) chloride wetted with its little acid before the water is the named exception."""
    acid = {"cas": "7647-01-0", "kind": "chemical", "liquid": True, "assay_percent": "37"}
    tin = {"cas": "10025-69-1", "kind": "chemical", "liquid": False}
    oil_of_vitriol = {"cas": "7664-93-9", "kind": "chemical", "liquid": True, "assay_percent": "96", "density": "1.84"}

    def said(*order: str) -> list[str]:
        amounts = {"acid": ("40", "mL"), "tin": ("5", "g"), "water": ("900", "mL"), "caustic": ("4", "g"),
                   "vitriol": ("20", "mL"), "half acid": ("100", "mL"), "weak acid": ("100", "mL")}
        given = {"materials": {
            "acid": acid, "tin": tin, "water": WATER, "caustic": CAUSTIC, "vitriol": oil_of_vitriol,
        }, "steps": [], "solutions": {
            **{name: {"keeps_minutes": None, "ingredients": [
                {"of": "water", "make_up": True}, {"of": "vitriol", "amount_per_litre": most, "unit": "mL"},
            ]} for name, most in (("half acid", "400"), ("weak acid", "40"))},
            "x": {"keeps_minutes": None, "ingredients": [
                {"of": of, "amount_per_litre": amounts[of][0], "unit": amounts[of][1]} for of in order]}}}
        return [caution for caution in answer(given)["cautions"] if "goes into water" in caution]

    assert said("acid", "water") == ["acid goes into water, never water into acid: put water before it in the order."]
    assert said("water", "acid") == []
    assert said("acid", "tin", "water") == []
    assert said("vitriol", "tin", "water"), "tin is wetted with hydrochloric acid alone"
    assert said("weak acid", "acid") == [], "a stock that is mostly water is water"
    assert said("half acid", "water") == [
        "half acid goes into water, never water into half acid: put water before it in the order."]
    assert said("caustic", "water")
