"""The starter set: solutions and two finishes after the classic published formulas, as values. No Django.

**A starting point to be tried on samples, never a recommendation.** What is published: of the sprayed one the
proportions of Common's process (Wilkinson, *Photo-Engraving, Photo-Etching and Photo-Lithography*): silver nitrate 1,
caustic potash 1, glucose ½, by weight, here thinned for spraying; of the poured one the formula in *Henley's
Twentieth Century Formulas*: 8 US fluid ounces of water, 19 and 16 grains of silver nitrate with ammonia just to
clearing, and a reducer of 12 grains each of silver nitrate and Rochelle salt, boiled in 8 ounces. Everything else
(thinning, sensitiser, coverage, minutes) is common practice without a source.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from recipes.starting_point import STARTING_POINT

AMMONIACAL = (
    "Ammoniacal silver: mix only what is needed, use it at once. Never store it, never let it dry: on standing it can "
    "form explosive silver nitride. Make leftovers and the first rinse safe in this shift by the written procedure."
)

GRAIN_G = Fraction("0.06479891")
US_FLUID_OUNCE_ML = Fraction("29.5735295625")


def per_litre(grains: int, ounces: int = 8) -> Decimal:
    """Return grams in a litre for grains in US fluid ounces of water, to a hundredth."""
    grams = grains * GRAIN_G / (ounces * US_FLUID_OUNCE_ML) * 1000
    return Decimal(round(grams * 100)) / 100


#: keys of the trade's list that the set needs; of a row of several, the first that stands in the stockroom is taken
NEEDED: tuple[tuple[str, ...], ...] = (
    ("distilled_water",), ("silver_nitrate",), ("ammonia_25", "ammonia_28_30"), ("potassium_hydroxide",),
    ("dextrose",), ("rochelle_salt",), ("tin_chloride_dihydrate",), ("cerium_oxide",),
)
BACKING_KEY = "backing_paint"

WATER, SILVER, AMMONIA, POTASH, DEXTROSE, ROCHELLE, TIN, CERIA = (keys[0] for keys in NEEDED)


@dataclass(frozen=True, kw_only=True)
class Dose:
    """An ingredient: of a material by its key, or of a solution of the set by its name; nothing makes up to volume."""

    of: str
    amount: Decimal = Decimal(0)
    unit: str = "g"
    scales: bool = True
    instruction: str = ""
    end_point: str = ""

    @property
    def makes_up(self) -> bool:
        return not self.amount


@dataclass(frozen=True, kw_only=True)
class StarterSolution:
    name: str
    why: str
    doses: tuple[Dose, ...]
    values: dict[str, Any] = field(default_factory=dict)


def _water_first(millilitres: int) -> Dose:
    return Dose(of=WATER, amount=Decimal(millilitres), unit="mL", scales=False, instruction="Start with this water.")


def _up(of: str = WATER, instruction: str = "Make up to volume.") -> Dose:
    return Dose(of=of, unit="mL", instruction=instruction)


CERIUM, SENSITISER = "Cerium slurry", "Tin sensitiser, starter"
SPRAYED, SUGAR = "Silver part, sprayed, starter", "Dextrose reducer, starter"
POURED, BOILED, POUR = "Silver part, poured, starter", "Rochelle reducer, boiled, starter", "Silvering pour, starter"
BACKING = "Backing paint, neat"
_PRACTICE = "Common practice, no source: " + STARTING_POINT[0].lower() + STARTING_POINT[1:]

SOLUTIONS: tuple[StarterSolution, ...] = (
    StarterSolution(
        name=CERIUM, why=_PRACTICE,
        values={"keeps_minutes": Decimal(30 * 1440), "minimum_batch_ml": Decimal(100), "mixing_minutes": Decimal(5)},
        doses=(Dose(of=CERIA, amount=Decimal(150), instruction="Wet the powder first, then stir it in."), _up()),
    ),
    StarterSolution(
        name=SENSITISER, why=_PRACTICE,
        values={"minimum_batch_ml": Decimal(500), "mixing_minutes": Decimal(8), "reject_if": "cloudy"},
        doses=(Dose(of=TIN, amount=Decimal(2), instruction="Dissolve in a little cold water: made fresh, it is clear."),
               _up()),
    ),
    StarterSolution(
        name=SPRAYED,
        why="Proportions of Common's process (see Sources), thinned for spraying. " + STARTING_POINT,
        values={"mixing_minutes": Decimal(20), "cautions": AMMONIACAL,
                "reject_if": "dark or specked; a faint straw is right"},
        doses=(
            _water_first(700),
            Dose(of=SILVER, amount=Decimal(12), instruction="Dissolve. It stains skin and bench."),
            Dose(of=AMMONIA, amount=Decimal(16), unit="mL", instruction="Drop by drop: it goes brown, then clears.",
                 end_point="until nearly clear"),
            Dose(of=POTASH, amount=Decimal(12),
                 instruction="Dissolved in a little of the water first: caustic into water. It goes brown again."),
            Dose(of=AMMONIA, amount=Decimal(10), unit="mL", instruction="Once more, drop by drop.",
                 end_point="until a faint straw colour is left"),
            _up(),
        ),
    ),
    StarterSolution(
        name=SUGAR, why="Proportions of Common's process (see Sources), thinned for spraying. " + STARTING_POINT,
        values={"keeps_minutes": Decimal(3 * 1440), "minimum_batch_ml": Decimal(250), "mixing_minutes": Decimal(8),
                "reject_if": "cloudy or mouldy"},
        doses=(Dose(of=DEXTROSE, amount=Decimal(6), instruction="Dissolve warm, let it cool."), _up()),
    ),
    StarterSolution(
        name=POURED, why="After Henley's Twentieth Century Formulas (see Sources). " + STARTING_POINT,
        values={"mixing_minutes": Decimal(20), "cautions": AMMONIACAL, "reject_if": "dark or specked"},
        doses=(
            _water_first(700),
            Dose(of=SILVER, amount=per_litre(19), instruction="Dissolve. It stains skin and bench."),
            Dose(of=AMMONIA, amount=Decimal(6), unit="mL", instruction="Drop by drop: it goes brown, then clears.",
                 end_point="until just clear"),
            Dose(of=SILVER, amount=per_litre(16), instruction="The rest of the silver, dissolved in a little water: a "
                                                              "faint haze is left."),
            _up(),
        ),
    ),
    StarterSolution(
        name=BOILED, why="After Henley's Twentieth Century Formulas (see Sources). " + STARTING_POINT,
        values={"mixing_minutes": Decimal(25), "reject_if": "cloudy after filtering"},
        doses=(
            _water_first(800),
            Dose(of=SILVER, amount=per_litre(12), instruction="Dissolve, then bring to the boil."),
            Dose(of=ROCHELLE, amount=per_litre(12), instruction="Add to the boil, let it cool, filter."),
            _up(),
        ),
    ),
    StarterSolution(
        name=POUR, why="Equal volumes, after Henley's Twentieth Century Formulas (see Sources). " + STARTING_POINT,
        values={"works_at_once": True, "mixing_minutes": Decimal(3), "reject_if": "dark before it is poured",
                "cautions": AMMONIACAL + " It works as soon as it is combined."},
        doses=(
            Dose(of=POURED, amount=Decimal(500), unit="mL", scales=False,
                 instruction="Pour the silver part into the jug."),
            Dose(of=BOILED, amount=Decimal(500), unit="mL", scales=False,
                 instruction="Add the reducer, swirl once, pour."),
        ),
    ),
)

BACKING_SOLUTION = StarterSolution(
    name=BACKING, why="The studio's own paint.",
    values={"keeps_minutes": Decimal(90 * 1440), "mixing_minutes": Decimal(2)},
    doses=(_up(BACKING_KEY, "Stir well."),),
)


@dataclass(frozen=True, kw_only=True)
class StarterStep:
    """A step: its kind, its values by column, and its parts: solution, mixed for, equal shares."""

    kind: str
    values: dict[str, Any]
    parts: tuple[tuple[str, str], ...] = ()


def _step(kind: str, name: str, minutes: tuple[str, str, str], *parts: tuple[str, str], **more: Any) -> StarterStep:
    load, pane, area = minutes
    return StarterStep(kind=kind, parts=parts, values={
        "name": name, "minutes_per_load": Decimal(load), "minutes_per_pane": Decimal(pane),
        "minutes_per_m2": Decimal(area), **more,
    })


_BEFORE_SILVER = (
    _step("clean", "Polish and wash", ("3", "2", "6"), (CERIUM, "job"), how="wipe", coverage_ml_per_m2=Decimal(60),
          instructions="Polish in small circles, then wash the slurry off. Touch the face no more.",
          looks_good="Water runs off as one even film, without a break."),
    _step("rinse", "Full rinse after washing", ("1", "1", "2"), rinse_full=True, rinse_water="distilled",
          instructions="Flood the whole face and the rims, upright, three times."),
    _step("sensitise", "Sensitise", ("2", "1", "2"), (SENSITISER, "load"), how="wipe",
          coverage_ml_per_m2=Decimal(250), loss_per_load_ml=Decimal(20), dwell_minutes=Decimal("0.5"),
          surface_before="wet", instructions="Flood, keep it moving with a soft brush, count the dwell.",
          looks_good="An even wet film, no dry islands."),
    _step("rinse", "Full rinse before the silver", ("1", "1", "2"), rinse_full=True, rinse_water="distilled",
          instructions="Flood the whole face and the rims, upright, three times."),
)
_AFTER_SILVER = (
    _step("rinse", "Full rinse, collected", ("2", "1", "2"), rinse_full=True, rinse_collected=True,
          rinse_water="distilled", instructions="Rinse fully; the first rinse goes into the silver-bearing bucket.",
          cautions="Silver-bearing rinse is collected, never poured down the drain."),
    _step("make safe", "Make leftovers safe", ("6", "0", "0"),
          instructions="Leftovers, first rinse, guns and rags by the studio's written procedure, before anything else.",
          cautions="Dried residue is not moved or scraped: clear the area and call competent help."),
    _step("dry", "Dry", ("1", "0.5", "0"), drying="air", dwell_minutes=Decimal(30), pane_lies="upright",
          instructions="Stand upright on clean blocks."),
    _step("inspect", "Look at front and back", ("0", "2", "0"),
          instructions="Judge the front in raking light; write down what you see."),
)
_SPRAY = _step(
    "silver", "Spray silver and reducer", ("4", "2", "3"), (SPRAYED, "load"), (SUGAR, "load"), how="spray", coats=2,
    coverage_ml_per_m2=Decimal(600), overspray_mm=Decimal(40), loss_per_load_ml=Decimal(60), dwell_minutes=Decimal(1),
    dwell_attended=True, pane_lies="upright", surface_before="wet", hands="owner", temperature_low_c=Decimal(18),
    temperature_high_c=Decimal(24), looks_good="Even and bright from the front.",
    instructions="Both guns at once, so that the two meet on the glass. Cross the passes.",
    cautions=AMMONIACAL + " Extraction on, breathing protection as chosen for this studio.",
)
_POUR = _step(
    "silver", "Pour silver and rock it", ("3", "4", "2"), (POUR, "pane"), how="pour",
    coverage_ml_per_m2=Decimal(2000), extra_per_pane_ml=Decimal(10), dwell_minutes=Decimal(10), motion="rocked",
    pane_lies="flat", surface_before="wet", hands="owner", temperature_low_c=Decimal(18),
    temperature_high_c=Decimal(24), looks_good="Even and bright, without tide lines.", cautions=AMMONIACAL,
    instructions="Level the pane first. Pour from one corner in one go; rock gently, corner to corner, all the time.",
)


def backing_step(is_named: bool) -> StarterStep:
    """Return the step that backs a pane: with the paint of the stockroom, or with none named yet."""
    return _step(
        "back", "Backing paint", ("3", "2", "3"), *(((BACKING, "job"),) if is_named else ()), how="brush",
        coverage_ml_per_m2=Decimal(140), drying="air", dwell_minutes=Decimal(120), surface_before="dry",
        instructions="As the paint's own sheet says: extraction on, no flame near a solvent.",
    )


@dataclass(frozen=True, kw_only=True)
class StarterFinish:
    """A finish of the set, and its steps up to the backing."""

    name: str
    family: str
    description: str
    typical_variation: str
    why: str
    steps: tuple[StarterStep, ...]


_VARIES = "Faint clouds within the silver are part of hand work."

FINISHES: tuple[StarterFinish, ...] = (
    StarterFinish(
        name="Starter silver, sprayed", family="plain", typical_variation=_VARIES,
        description="Plain hand silver, sprayed with two guns. " + STARTING_POINT,
        why="After Common's process, in Wilkinson, thinned for spraying: see Sources. " + STARTING_POINT,
        steps=(*_BEFORE_SILVER, _SPRAY, *_AFTER_SILVER),
    ),
    StarterFinish(
        name="Starter silver, poured", family="plain", typical_variation=_VARIES,
        description="Plain hand silver, poured and rocked. " + STARTING_POINT,
        why="After Henley's Twentieth Century Formulas: see Sources. " + STARTING_POINT,
        steps=(*_BEFORE_SILVER, _POUR, *_AFTER_SILVER),
    ),
)
