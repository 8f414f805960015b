"""Values in words, as people at the bench say and search them: “double strength”, “left still”, “5 min”. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from recipes.facts import LEFT_OUT, YES, RecipeFacts, Shelf, StepFacts
from recipes.step_kinds import kind_of
from studio.kit.rounding import decimal_string
from studio.kit.typed_values import show_time
from studio.kit.units import show_coverage, show_length, show_temperature, show_volume

HOW = {"spray": "sprayed", "pour": "poured", "wipe": "wiped", "dip": "dipped", "mist": "misted", "brush": "brushed"}
ZONES = {"whole": "the whole face", "rim": "a rim", "part": "corners or a mask"}
STRENGTHS = {
    Fraction(1, 4): "quarter strength", Fraction(1, 3): "a third of the strength", Fraction(1, 2): "half strength",
    Fraction(1): "as written", Fraction(2): "double strength", Fraction(3): "triple strength",
    Fraction(4): "four times the strength",
}
#: the name of a step's value as people read it; its kind says how it is shown
VALUES: dict[str, tuple[str, str]] = {
    "name": ("name", ""), "how": ("how applied", "how"), "coats": ("coats", "number"),
    "coverage_ml_per_m2": ("coverage", "coverage"), "coverage_source": ("coverage from", ""),
    "overspray_mm": ("overspray beyond the edge", "length"),
    "zone": ("zone", "zone"), "rim_width_mm": ("rim width", "length"), "zone_share": ("share of the face", "share"),
    "extra_per_pane_ml": ("extra per pane", "volume"),
    "overspill_share": ("overspill", "share"), "loss_per_load_ml": ("loss per load", "volume"),
    "dwell_minutes": ("dwell", "time"), "dwell_attended": ("attended", ""),
    "dwell_counted": ("dwell counted", "counted"), "motion": ("motion", "motion"),
    "pane_lies": ("pane lies", ""), "drying": ("drying", ""), "rinse_full": ("full rinse", ""),
    "rinse_collected": ("first water collected", ""),
    "rinse_water": ("rinse water", ""), "surface_before": ("surface before", ""), "harshness": ("harshness", "number"),
    "minutes_per_load": ("time per load", "time"), "minutes_per_pane": ("time per pane", "time"),
    "minutes_per_m2": ("time per m²", "time"), "hands": ("done by", ""),
    "temperature_low_c": ("not below", "temperature"),
    "temperature_high_c": ("not above", "temperature"), "instructions": ("instructions", ""),
    "looks_good": ("looks good", ""), "cautions": ("cautions", ""), "strength": ("strength", "strength"),
    "parts": ("parts", "number"), "mixed_for": ("mixed for", ""), "solution": ("solution", "solution"),
    "film_nm": ("film", "film"), LEFT_OUT: ("the whole step", ""),
}


def strength_words(strength: Fraction) -> str:
    """Return “double strength”, or “1.5 × strength” where there is no word for it."""
    return STRENGTHS.get(strength, f"{decimal_string(strength, 6)} × strength")


def value_words(what: str, value: object, shelf: Shelf, preference: str = "metric") -> str:
    """Return a value as read: with its unit, in the studio's preference, “none” where there is none."""
    if what == LEFT_OUT:
        return "left out" if value in (True, YES) else "done"
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    kind = VALUES[what][1] if what in VALUES else ""
    if isinstance(value, Fraction):
        return _figure(kind, value, preference)
    if kind == "solution" and str(value) in shelf.solutions:
        solution = shelf.solutions[str(value)]
        return f"{solution.name}, version {solution.version_number}"
    if kind == "motion":
        return "left still" if value == "still" else str(value)
    if kind == "zone":
        return ZONES.get(str(value), str(value))
    if kind == "counted":
        return "for each pane" if value == "pane" else "for the load"
    if kind == "how":
        return HOW.get(str(value), str(value))
    return str(value)


def _figure(kind: str, value: Fraction, preference: str) -> str:
    if kind == "strength":
        return strength_words(value)
    if kind == "share":
        return f"{decimal_string(value * 100, 4)} %"
    shown = {"coverage": show_coverage, "length": show_length, "volume": show_volume, "time": show_time,
             "temperature": show_temperature}
    if kind in shown:
        return shown[kind](value, preference)
    return f"{decimal_string(value, 6)} nm" if kind == "film" else decimal_string(value, 6)


def step_words(step: StepFacts, shelf: Shelf) -> Iterator[str]:
    """Yield what a step is found by: its names, what it applies and at what strength, and what decides the effect."""
    yield from (step.kind, step.name)
    for part in step.parts:
        yield shelf.solutions[part.solution].name if part.solution in shelf.solutions else part.solution
        yield strength_words(part.strength)
    if step.parts:
        yield f"{HOW.get(step.how, '')} {step.pane_lies}"
        if kind_of(step.kind).decided_by_motion:
            yield "left still" if step.motion == "still" else step.motion
        yield f"on {step.surface_before} surface" if step.surface_before != "either" else ""
    if step.dwell_minutes:
        yield f"dwell {show_time(step.dwell_minutes)}{' each pane' if step.dwell_counted == 'pane' else ''}"
    if step.coats > 1:
        yield f"{decimal_string(step.coats)} coats"
    if step.drying:
        yield f"dried in {step.drying}"
    if step.rinse_water:
        yield f"{step.rinse_water} water"
    yield from (step.instructions, step.looks_good)


def recipe_words(recipe: RecipeFacts, shelf: Shelf) -> str:
    """Return everything that a recipe's values are found by."""
    return " ".join(word for step in recipe.steps for word in step_words(step, shelf) if word)
