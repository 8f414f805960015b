"""The demo's materials, solutions and finishes: an invented studio's, at strengths the trade gives.

Amounts and minutes of mixing are common practice without a source unless one is named. Hazards are those of the
starting shelf where the trade's list has the material (`as_listed`), else suppliers' usual choice, from memory. Nothing
here is an instruction.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

AMMONIACAL = (
    "Ammoniacal silver: mix only for immediate use. Never store it, never let it dry. It can form explosive silver "
    "nitride on standing. Make leftovers and first rinse safe in this shift by the written procedure."
)


def material(name: str, kind: str, unit: str, **more: Any) -> dict[str, Any]:
    return {"name": name, "kind": kind, "stock_unit": unit, "liquid": unit == "mL", **more}


def glass(name: str, tint: str, thickness: str, price: str) -> dict[str, Any]:
    return material(
        name, "glass sheet", "sheet", sheet_width_mm=Decimal(2250), sheet_height_mm=Decimal(1605),
        thickness_mm=Decimal(thickness), tint=tint, treatment="annealed", list_price=Decimal(price),
        storage_place="glass rack", reorder_point=Decimal(1),
    )


def as_listed(values: dict[str, Any]) -> dict[str, Any]:
    """Return a material's values with the classes and hazards of the starting shelf, where it is on it."""
    from studio.stockroom.hazards.trade import trade_materials
    from studio.stockroom.listed import standing_for
    from studio.stockroom.models import Material
    from studio.stockroom.starting.starting_shelf import material_of

    row = Material(**values)
    listed = next((wanted for wanted in trade_materials() if standing_for(wanted, [row]) is row), None)
    if listed is None:
        return values
    told = ("reacts_as", "hazard_statements", "statement_categories", "precautions", "pictograms", "signal_word")
    return values | {name: getattr(material_of(listed), name) for name in told}


#: storage places that are not general, with their type and whether they are dark
PLACES: dict[str, tuple[str, bool]] = {
    "oxidiser cabinet": ("oxidisers", True), "base cabinet, vented": ("caustics", False),
    "acid cabinet": ("acids", False), "flammables cabinet": ("flammables", False),
    "sulfide box, away from acids": ("caustics", False),
}

MATERIALS: list[dict[str, Any]] = [
    material("Distilled water", "water", "mL", density_g_per_ml=Decimal(1), cas_number="7732-18-5", formula="H2O",
             list_price=Decimal("0.0005"), pack_size=Decimal(25000), reorder_point=Decimal(20000),
             storage_place="water bench", opened_life_days=60),
    material("Silver nitrate", "chemical", "g", formula="AgNO3", cas_number="7761-88-8",
             assay_share=Decimal("0.998"), silver_g_per_unit=Decimal("0.63499"), storage_place="oxidiser cabinet",
             shelf_life_days=1095,
             reorder_point=Decimal(150), pack_size=Decimal(250), list_price=Decimal("1.42")),
    material("Ammonia solution 28 %", "chemical", "mL", formula="NH3", cas_number="1336-21-6",
             density_g_per_ml=Decimal("0.90"), assay_share=Decimal("0.28"), storage_place="base cabinet, vented",
             shelf_life_days=540, opened_life_days=180,
             reorder_point=Decimal(500), pack_size=Decimal(1000), list_price=Decimal("0.012")),
    material("Sodium hydroxide", "chemical", "g", formula="NaOH", cas_number="1310-73-2",
             storage_place="base cabinet, vented", shelf_life_days=730, reorder_point=Decimal(250),
             pack_size=Decimal(1000), list_price=Decimal("0.014")),
    material("Dextrose, anhydrous", "chemical", "g", formula="C6H12O6", cas_number="50-99-7",
             storage_place="dry shelf", shelf_life_days=1095, reorder_point=Decimal(500),
             pack_size=Decimal(1000), list_price=Decimal("0.009")),
    material("Rochelle salt", "chemical", "g", formula="KNaC4H4O6", hydrate="tetrahydrate", cas_number="6381-59-5",
             storage_place="dry shelf", shelf_life_days=1095, pack_size=Decimal(500),
             reorder_point=Decimal(200), list_price=Decimal("0.031")),
    material("Tin(II) chloride dihydrate", "chemical", "g", formula="SnCl2", hydrate="dihydrate",
             cas_number="10025-69-1", storage_place="dry shelf, sealed",
             shelf_life_days=365, opened_life_days=120, reorder_point=Decimal(50), pack_size=Decimal(100),
             list_price=Decimal("0.18")),
    material("Hydrochloric acid 37 %", "chemical", "mL", formula="HCl", cas_number="7647-01-0",
             density_g_per_ml=Decimal("1.19"), assay_share=Decimal("0.37"), storage_place="acid cabinet",
             shelf_life_days=1095, reorder_point=Decimal(250),
             pack_size=Decimal(1000), list_price=Decimal("0.019")),
    material("Cerium oxide polish", "chemical", "g", formula="CeO2", cas_number="1306-38-3",
             storage_place="dry shelf", reorder_point=Decimal(300), pack_size=Decimal(1000),
             list_price=Decimal("0.028")),
    material("Copper(II) sulfate pentahydrate", "chemical", "g", formula="CuSO4", hydrate="pentahydrate",
             cas_number="7758-99-8", storage_place="dry shelf",
             shelf_life_days=1825, pack_size=Decimal(500), list_price=Decimal("0.016")),
    material("Iron(III) chloride hexahydrate", "chemical", "g", formula="FeCl3", hydrate="hexahydrate",
             cas_number="10025-77-1", storage_place="acid cabinet", shelf_life_days=730, pack_size=Decimal(500),
             list_price=Decimal("0.021")),
    material("Sodium sulfide", "chemical", "g", formula="Na2S", cas_number="1313-82-2",
             reacts_as=["sulfide", "caustic"], hazard_statements=["H290", "H301", "H311", "H314", "H400"],
             precautions=["P260", "P273", "P280", "P301+P330+P331", "P303+P361+P353", "P305+P351+P338", "P310"],
             pictograms=["GHS05", "GHS06", "GHS09"], signal_word="Danger",
             storage_place="sulfide box, away from acids", shelf_life_days=365, opened_life_days=90,
             pack_size=Decimal(100), list_price=Decimal("0.06")),
    material("Ethanol 96 %", "chemical", "mL", formula="C2H6O", cas_number="64-17-5",
             density_g_per_ml=Decimal("0.81"), assay_share=Decimal("0.96"), storage_place="flammables cabinet",
             shelf_life_days=1095, pack_size=Decimal(1000), list_price=Decimal("0.011")),
    material("Sodium chloride", "chemical", "g", formula="NaCl", cas_number="7647-14-5", storage_place="dry shelf",
             pack_size=Decimal(1000), list_price=Decimal("0.003")),
    material("Antiquing concentrate", "chemical", "mL", density_g_per_ml=Decimal("1.10"), must_be_diluted=True,
             none_apply=True,
             hazard_statements=["H315", "H319"],
             precautions=["P264", "P280", "P302+P352", "P305+P351+P338", "P337+P313"], pictograms=["GHS07"],
             signal_word="Warning",
             storage_place="antiquing shelf", shelf_life_days=365, opened_life_days=180, reorder_point=Decimal(1500),
             pack_size=Decimal(500), list_price=Decimal("0.165")),
    material("Clear back sealer", "sealer", "mL", density_g_per_ml=Decimal("0.95"), reacts_as=["solvent"],
             hazard_statements=["H226", "H336"], precautions=["P210", "P261", "P271", "P280", "P403+P235"],
             pictograms=["GHS02", "GHS07"], signal_word="Warning",
             storage_place="flammables cabinet", shelf_life_days=365, opened_life_days=120,
             reorder_point=Decimal(1000), pack_size=Decimal(2500), list_price=Decimal("0.031")),
    material("Backing paint, slate grey", "backing", "mL", density_g_per_ml=Decimal("1.30"), none_apply=True,
             storage_place="paint shelf", shelf_life_days=540, opened_life_days=240, reorder_point=Decimal(1000),
             pack_size=Decimal(2500), list_price=Decimal("0.022")),
    glass("Clear float 4 mm", "clear", "4", "54"),
    glass("Clear float 6 mm", "clear", "6", "79"),
    glass("Low-iron float 4 mm", "low-iron", "4", "88"),
    glass("Bronze float 4 mm", "tinted", "4", "96"),
    material("Nitrile gloves, pair", "consumable", "each", storage_place="drawer 1", pack_size=Decimal(100),
             reorder_point=Decimal(40), list_price=Decimal("0.12")),
    material("Lint-free wipes", "consumable", "each", storage_place="drawer 2", pack_size=Decimal(300),
             list_price=Decimal("0.04")),
    material("Backing board 3 mm", "backing", "each", storage_place="glass rack", list_price=Decimal("6.50")),
    material("Filter papers", "consumable", "each", storage_place="drawer 2", pack_size=Decimal(100),
             list_price=Decimal("0.09")),
]

DAY = Decimal(1440)


def dose(of: str, amount: str, unit: str, **more: Any) -> dict[str, Any]:
    """An ingredient that scales with strength: an amount of a material per litre."""
    return {"material": of, "amount_per_litre": Decimal(amount), "unit": unit, "scales_with_strength": True, **more}


def fill(of: str = "Distilled water", instruction: str = "Make up to volume.") -> dict[str, Any]:
    return {"material": of, "unit": "mL", "make_up": True, "instruction": instruction}


def holding(of: str, amount: str, **more: Any) -> dict[str, Any]:
    """A nested solution, in mL per litre."""
    return {"solution": of, "amount_per_litre": Decimal(amount), "unit": "mL", **more}


#: Each after the solutions that it holds. Each: name, values, ingredients.
SOLUTIONS: list[tuple[str, dict[str, Any], list[dict[str, Any]]]] = [
    ("Cerium slurry", {"mixing_minutes": Decimal(5), "keeps_minutes": DAY * 30, "minimum_batch_ml": Decimal(100)},
     [dose("Cerium oxide polish", "150", "g", instruction="Wet the powder first, then stir it in."), fill()]),
    ("Tin stock", {"mixing_minutes": Decimal(10), "keeps_minutes": DAY * 14, "minimum_batch_ml": Decimal(100),
                   "reject_if": "cloudy or white at the rim",
                   "cautions": "Acid into water, never water into acid. Goggles, gloves, extraction."},
     [{"material": "Distilled water", "amount_per_litre": Decimal(400), "unit": "mL",
       "instruction": "Start with this water in the beaker."},
      {"material": "Hydrochloric acid 37 %", "amount_per_litre": Decimal(40), "unit": "mL",
       "instruction": "Pour the acid slowly into the water."},
      dose("Tin(II) chloride dihydrate", "60", "g", instruction="Dissolve fully.", end_point="until quite clear"),
      {"material": "Distilled water", "unit": "mL", "make_up": True, "instruction": "Make up to volume."}]),
    ("Sensitiser", {"mixing_minutes": Decimal(5), "keeps_minutes": DAY, "reject_if": "cloudy"},
     [holding("Tin stock", "20", scales_with_strength=True, instruction="Filter it if there is any haze."), fill()]),
    ("Silver part, sprayed", {"mixing_minutes": Decimal(20), "cautions": AMMONIACAL,
                              "reject_if": "dark or specked; a faint straw is right"},
     [{"material": "Distilled water", "amount_per_litre": Decimal(700), "unit": "mL",
       "instruction": "Start with this water."},
      dose("Silver nitrate", "12", "g", instruction="Dissolve. It stains skin and bench."),
      dose("Ammonia solution 28 %", "14", "mL", instruction="Drop by drop: it goes brown, then clears.",
           end_point="until nearly clear"),
      dose("Sodium hydroxide", "4", "g",
           instruction="Dissolve in a little of the water first; caustic into water. It goes brown again."),
      dose("Ammonia solution 28 %", "5", "mL", instruction="Once more, drop by drop.",
           end_point="until a faint straw colour is left"),
      fill()]),
    ("Silver part, poured", {"mixing_minutes": Decimal(20), "cautions": AMMONIACAL, "reject_if": "dark or specked"},
     [{"material": "Distilled water", "amount_per_litre": Decimal(650), "unit": "mL",
       "instruction": "Start with this water."},
      dose("Silver nitrate", "9", "g", instruction="Dissolve. It stains skin and bench."),
      dose("Ammonia solution 28 %", "11", "mL", instruction="Drop by drop: it goes brown, then clears.",
           end_point="until just clear"),
      fill()]),
    ("Dextrose reducer", {"mixing_minutes": Decimal(8), "keeps_minutes": DAY * 5, "minimum_batch_ml": Decimal(250),
                          "reject_if": "cloudy or mouldy"},
     [dose("Dextrose, anhydrous", "9", "g", instruction="Dissolve warm, let it cool."), fill()]),
    ("Rochelle reducer", {"mixing_minutes": Decimal(8), "keeps_minutes": DAY * 3, "minimum_batch_ml": Decimal(250),
                          "reject_if": "cloudy"},
     [dose("Rochelle salt", "14", "g", instruction="Dissolve."), fill()]),
    ("Silvering pour", {"mixing_minutes": Decimal(3), "works_at_once": True,
                        "cautions": AMMONIACAL + " It works as soon as it is combined.",
                        "reject_if": "dark before it is poured"},
     [holding("Silver part, poured", "500", instruction="Pour the silver part into the jug."),
      holding("Rochelle reducer", "500", instruction="Add the reducer and swirl once, then pour.")]),
    ("Antiquing gel, diluted", {"mixing_minutes": Decimal(5), "keeps_minutes": DAY * 30, "reject_if": "separated"},
     [dose("Antiquing concentrate", "20", "mL",
           instruction="About one 15 mL measure to a bottle of 750 mL."), fill()]),
    ("Copper patina, diluted", {"mixing_minutes": Decimal(8), "keeps_minutes": DAY * 60,
                                "minimum_batch_ml": Decimal(100)},
     [dose("Copper(II) sulfate pentahydrate", "25", "g", instruction="Dissolve."), fill()]),
    ("Iron etch", {"mixing_minutes": Decimal(10), "keeps_minutes": DAY * 60, "minimum_batch_ml": Decimal(100),
                   "cautions": "Stains and corrodes. Gloves, goggles, apron."},
     [dose("Iron(III) chloride hexahydrate", "40", "g", instruction="Dissolve slowly; it warms up."), fill()]),
    ("Sealer, neat", {"mixing_minutes": Decimal(1), "keeps_minutes": DAY * 90,
                      "cautions": "Flammable: no flame, extraction on."},
     [fill("Clear back sealer", "Stir, do not shake.")]),
    ("Backing paint, neat", {"mixing_minutes": Decimal(2), "keeps_minutes": DAY * 180},
     [fill("Backing paint, slate grey", "Stir well.")]),
]


@dataclass
class Recipe:
    """One recipe version of a finish as values: its steps, why there is a new version, and whether it is in use."""

    why: str
    steps: list[dict[str, Any]]
    own_yield_share: Decimal | None = None
    state: str = "in use"
    acknowledged: list[str] = field(default_factory=list)


def part(solution: str, strength: str = "1", mixed_for: str = "load", parts: str = "1") -> dict[str, Any]:
    return {"solution": solution, "strength": Decimal(strength), "mixed_for": mixed_for, "parts": Decimal(parts)}


def step(kind: str, name: str, load: str = "0", pane: str = "0", area: str = "0", **more: Any) -> dict[str, Any]:
    return {
        "kind": kind, "name": name, "minutes_per_load": Decimal(load), "minutes_per_pane": Decimal(pane),
        "minutes_per_m2": Decimal(area), **more,
    }


def clean() -> dict[str, Any]:
    return step(
        "clean", "Polish and wash", "3", "2", "6", how="wipe", coverage_ml_per_m2=Decimal(60),
        dwell_minutes=Decimal(0), parts=[part("Cerium slurry", mixed_for="job")],
        instructions="Polish in small circles, then wash the slurry off. Touch the face no more.",
        looks_good="Water runs off as one even film, without a break.",
    )


def rinse(name: str = "Full rinse, distilled") -> dict[str, Any]:
    return step("rinse", name, "1", "1", "2", rinse_full=True, rinse_water="distilled",
                instructions="Flood the whole face and the rims, upright, three times.")


def silver_rinse() -> dict[str, Any]:
    return step("rinse", "Full rinse, collected", "2", "1", "2", rinse_full=True, rinse_collected=True,
                rinse_water="distilled",
                instructions="Rinse fully; the first rinse goes into the silver-bearing rinse bucket.",
                cautions="Silver-bearing rinse is collected, never poured down the drain.")


def sensitise(strength: str = "1") -> dict[str, Any]:
    return step(
        "sensitise", "Sensitise", "2", "1", "2", how="wipe", coverage_ml_per_m2=Decimal(250),
        loss_per_load_ml=Decimal(20), dwell_minutes=Decimal("0.5"), parts=[part("Sensitiser", strength)],
        surface_before="wet", instructions="Flood, keep it moving with a soft brush, count the dwell.",
        looks_good="An even wet film, no dry islands.",
    )


def sprayed_silver(gun: str = "") -> dict[str, Any]:
    return step(
        "silver", "Spray silver and reducer", "4", "2", "3", how="spray", coats=2,
        coverage_ml_per_m2=Decimal(0) if gun else Decimal(900), gun=gun, overspray_mm=Decimal(40),
        loss_per_load_ml=Decimal(60),
        dwell_minutes=Decimal(1), dwell_attended=True, pane_lies="upright", surface_before="wet",
        parts=[part("Silver part, sprayed"), part("Dextrose reducer")], hands="owner",
        temperature_low_c=Decimal(18), temperature_high_c=Decimal(24),
        instructions="Both guns at once, so that the two meet on the glass. Cross the passes.",
        looks_good="Even and bright from the front within a minute; brown means too little reducer.",
        cautions=AMMONIACAL + " Extraction on, breathing protection as chosen for this studio.",
    )


def poured_silver(motion: str) -> dict[str, Any]:
    still = motion == "still"
    return step(
        "silver", "Pour silver and leave it still" if still else "Pour silver and rock it", "3", "4", "2",
        how="pour", coverage_ml_per_m2=Decimal(2000), extra_per_pane_ml=Decimal(10), dwell_minutes=Decimal(5),
        motion=motion, surface_before="wet", parts=[part("Silvering pour", mixed_for="pane")], hands="helper",
        temperature_low_c=Decimal(18), temperature_high_c=Decimal(24),
        instructions="Level the pane first. Pour from one corner in one go."
        + (" Do not touch the table while it stands." if still else " Rock gently, corner to corner, all the time."),
        looks_good="Ridges form where it settles." if still else "Even and bright, without tide lines.",
        cautions=AMMONIACAL,
    )


def dry(how: str = "air") -> dict[str, Any]:
    return step("dry", "Dry", "1", "0.5", "0", drying=how, dwell_minutes=Decimal(30), pane_lies="upright",
                instructions="Stand upright on clean blocks." if how == "air" else "Warm air from 40 cm, moving.")


def antique(name: str, solution: str, harshness: int, **more: Any) -> dict[str, Any]:
    return step(
        "antique", name, "3", "3", "4", harshness=harshness,
        **{"how": "mist", "coverage_ml_per_m2": Decimal(120), "overspray_mm": Decimal(30),
           "dwell_minutes": Decimal(2), "dwell_attended": True, "parts": [part(solution, mixed_for="job")],
           "looks_good": "Stop while it is a little less than wanted: it goes on until rinsed.", **more},
    )


def end(paint: bool = True) -> list[dict[str, Any]]:
    steps = [
        step("inspect", "Look at front and back", "0", "2", "0",
             instructions="Front and back differ: judge the front in raking light, note what you see."),
        step("seal", "Clear seal on the back", "3", "2", "3", how="brush", coverage_ml_per_m2=Decimal(110),
             dwell_minutes=Decimal(60), drying="air", surface_before="dry",
             parts=[part("Sealer, neat", mixed_for="job")], cautions="Flammable: no flame, extraction on."),
    ]
    if paint:
        steps.append(step("back", "Backing paint", "3", "2", "3", how="brush", coverage_ml_per_m2=Decimal(140),
                          dwell_minutes=Decimal(120), drying="air", surface_before="dry",
                          parts=[part("Backing paint, neat", mixed_for="job")]))
    return steps


def make_safe() -> dict[str, Any]:
    return step("make safe", "Make leftovers safe", "6", "0", "0",
                instructions="Leftovers, first rinse, guns and rags by the studio's written procedure, before anything "
                             "else is done.",
                cautions="Dried residue is not moved or scraped: clear the area and call competent help.")


def sprayed(strength: str = "1", gun: str = "") -> list[dict[str, Any]]:
    return [
        clean(), rinse("Full rinse after washing"), sensitise(strength), rinse(), sprayed_silver(gun), silver_rinse(),
        make_safe(),
    ]


def poured(motion: str, strength: str = "1") -> list[dict[str, Any]]:
    return [
        clean(), rinse("Full rinse after washing"), sensitise(strength), rinse(), poured_silver(motion), silver_rinse(),
        make_safe(),
    ]


def antiqued(before: list[dict[str, Any]], *marks: dict[str, Any], wet: bool = False) -> list[dict[str, Any]]:
    """Silver, then marks with a rinse after each, then dry and finish."""
    steps = [*before] if wet else [*before, dry()]
    for mark in marks:
        after = rinse("Full rinse after antiquing")
        if mark["parts"][0]["solution"] == "Iron etch":  # it takes silver off: its first water holds some
            after |= {"name": "Full rinse after antiquing, collected", "rinse_collected": True}
        steps += [mark, after]
    return [*steps, dry(), *end()]


#: finish code → its values and its recipe versions, oldest first
FINISHES: list[tuple[dict[str, Any], list[Recipe]]] = [
    ({"name": "Foxed Harbour", "family": "foxed", "suits_glass": "clear float, 4 and 6 mm",
      "description": "Grey-brown spots gathered along the rim, as in a glass that hung by the sea.",
      "typical_variation": "Spots fall where they will; the rim may be up to a third darker from pane to pane."},
     [Recipe("First working recipe.", antiqued(sprayed(), antique("Mist the rim", "Antiquing gel, diluted", 2))),
      Recipe("Longer on the rim: the first was too shy at a distance.", antiqued(
          sprayed(), antique("Mist the rim", "Antiquing gel, diluted", 2, dwell_minutes=Decimal(4)))),
      Recipe("Iron first for the depth, gel after for the spots.", antiqued(
          sprayed(), antique("Iron on the rim", "Iron etch", 4, dwell_minutes=Decimal(1)),
          antique("Mist the rim", "Antiquing gel, diluted", 2, dwell_minutes=Decimal(3))))]),
    ({"name": "Ridge Water", "family": "poured", "has_direction": True, "suits_glass": "low-iron float, 4 mm",
      "description": "Silver left to settle by itself: long low ridges, like a tide going out.",
      "typical_variation": "The ridges follow the level of the table on the day; no two panes carry the same line."},
     [Recipe("Poured and left still.", [*poured("still"), dry(), *end()]),
      Recipe("Double-strength sensitiser: the ridges stand up more.", [*poured("still", "2"), dry(), *end()])]),
    ({"name": "Quiet Silver", "family": "plain", "suits_glass": "clear or low-iron float",
      "description": "Plain hand silver, bright and soft, without any marks.",
      "typical_variation": "Faint clouds within the silver are part of hand work."},
     [Recipe("Poured and rocked.", [*poured("rocked"), dry(), *end()]),
      Recipe("Sprayed: evener on large panes.",
             [*sprayed(gun="silver pair, 1.2 mm"), dry(), *end()], own_yield_share=Decimal("0.92"))]),
    ({"name": "Smoke Veil", "family": "smoked", "suits_glass": "clear float",
      "description": "A brown-blue veil that drifts across the upper half.",
      "typical_variation": "Where the veil thins out is different on every pane."},
     [Recipe("Copper over silver.", antiqued(sprayed(), antique("Veil", "Copper patina, diluted", 3))),
      Recipe("Half strength, twice as long: softer.", antiqued(sprayed(), antique(
          "Veil", "Copper patina, diluted", 3, dwell_minutes=Decimal(4),
          parts=[part("Copper patina, diluted", "0.5", "job")]))),
      Recipe("Trying one and a half strength.", antiqued(sprayed(), antique(
          "Veil", "Copper patina, diluted", 3, parts=[part("Copper patina, diluted", "1.5", "job")])),
          state="draft")]),
    ({"name": "Winter Salt", "family": "foxed", "suits_glass": "clear float",
      "description": "Fine pale grain, as frost on a dry pane.",
      "typical_variation": "The grain is finer in dry weather and coarser in wet."},
     [Recipe("Gel on dry silver, hot air.", antiqued(sprayed(), antique(
         "Mist on dry silver", "Antiquing gel, diluted", 2, surface_before="dry", drying="hot air"))),
      Recipe("Less gel: the first covered too much.", antiqued(sprayed(), antique(
          "Mist on dry silver", "Antiquing gel, diluted", 2, surface_before="dry", drying="hot air",
          coverage_ml_per_m2=Decimal(80))))]),
    ({"name": "Drowned Leaf", "family": "translucent", "suits_glass": "clear float, 4 mm",
      "description": "Silver gone translucent in patches, with a green-gold edge.",
      "typical_variation": "Patches let light through; what stands behind the mirror will be seen in them."},
     [Recipe("Gel on wet silver, dried flat.", antiqued(sprayed(), antique(
         "Gel on wet silver", "Antiquing gel, diluted", 4, how="brush", overspray_mm=Decimal(0),
         coverage_ml_per_m2=Decimal(160), surface_before="wet", pane_lies="flat", dwell_minutes=Decimal(12)),
         wet=True)),
      Recipe("Shorter: the first lost too much silver.", antiqued(sprayed(), antique(
          "Gel on wet silver", "Antiquing gel, diluted", 4, how="brush", overspray_mm=Decimal(0),
          coverage_ml_per_m2=Decimal(160), surface_before="wet", pane_lies="flat", dwell_minutes=Decimal(8)),
          wet=True)),
      Recipe("Quarter more gel.", antiqued(sprayed(), antique(
          "Gel on wet silver", "Antiquing gel, diluted", 4, how="brush", overspray_mm=Decimal(0),
          coverage_ml_per_m2=Decimal(200), surface_before="wet", pane_lies="flat", dwell_minutes=Decimal(8)),
          wet=True), state="withdrawn")]),
    ({"name": "Bronze Tide", "family": "foxed", "suits_glass": "bronze float, 4 mm",
      "description": "Warm bronze glass with dark salt marks.",
      "typical_variation": "The bronze of the glass differs between makings: one job is cut from one delivery."},
     [Recipe("On bronze glass.", antiqued(sprayed(), antique("Mist", "Antiquing gel, diluted", 2))),
      Recipe("Poured and rocked under the marks.", antiqued(poured("rocked"), antique(
          "Mist", "Antiquing gel, diluted", 2)))]),
    ({"name": "Ember Edge", "family": "etched", "suits_glass": "clear float",
      "description": "A rust-red rim burning in towards a clear middle.",
      "typical_variation": "The rim runs in between 3 and 9 cm, more at the corners."},
     [Recipe("Iron on the rim.", antiqued(sprayed(), antique("Iron on the rim", "Iron etch", 4))),
      Recipe("Twice, with a rinse between.", antiqued(
          sprayed(), antique("Iron on the rim", "Iron etch", 4), antique("Iron again", "Iron etch", 4))),
      Recipe("Copper last, for the red.", antiqued(
          sprayed(), antique("Iron on the rim", "Iron etch", 4),
          antique("Copper on the rim", "Copper patina, diluted", 3))),
      Recipe("Longer copper.", antiqued(
          sprayed(), antique("Iron on the rim", "Iron etch", 4),
          antique("Copper on the rim", "Copper patina, diluted", 3, dwell_minutes=Decimal(5))), state="draft")]),
]
