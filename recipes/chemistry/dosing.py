"""An ingredient's amount as people write it: “1.2 g/L”, “1:32”, “2 % w/v”, “0.1 mol/L”, “1 us tbsp per litre”. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from recipes.chemistry.concentration import CannotBeKnown, Known, grams_per_litre, parse_ratio
from studio.kit.rounding import decimal_string
from studio.kit.typed_numbers import is_whole
from studio.kit.units import NotUnderstood, TwoMeanings, amount_in, plain_number


@dataclass(frozen=True, kw_only=True)
class Substance:
    """What is known of an ingredient: liquid or solid, density in g/mL, molar mass in g/mol, assay by mass.

    dissolves: grams of a solid in a litre of water; None where that is not known, or any amount does.
    """

    name: str
    liquid: bool
    density: Fraction | None = None
    molar_mass: Fraction | None = None
    assay: Fraction | None = None
    dissolves: Fraction | None = None


@dataclass(frozen=True, kw_only=True)
class Dose:
    """An amount per litre made, in g or mL, and how it was understood."""

    per_litre: Fraction
    unit: Literal["g", "mL"]
    understood: str


_PERCENT = re.compile(r"([\d.,/ ]+?)\s*%\s*(w\s*/\s*v|v\s*/\s*v|w\s*/\s*w)?")
_MOLAR = re.compile(r"([\d.,/ ]+?)\s*(mmol|mol|m)(?:\s*(?:/|per)\s*(?:l|litre|liter))?")
_PER = re.compile(r"(.*[a-z])\s*(?:/|\bper\b|\bin\b|\bto\b)\s*(.+)")


def read_dose(text: str, substance: Substance) -> Dose:
    """Read an amount per litre made; without a volume it is per litre.

    Raises NotUnderstood or CannotBeKnown with a sentence that says what to write instead.
    """
    wanted = " ".join(text.strip().lower().replace("⁄", "/").split())
    ratio = parse_ratio(wanted)
    if ratio is not None:
        if not substance.liquid:
            raise NotUnderstood(f"{substance.name} is a solid: a ratio of volumes does not say how much. Write g/L.")
        return Dose(per_litre=ratio.share * 1000, unit="mL", understood=ratio.in_words())
    percent = _PERCENT.fullmatch(wanted)
    if percent:
        return _percent(percent[1], (percent[2] or "").replace(" ", ""), substance, text)
    molar = _MOLAR.fullmatch(wanted)
    if molar and not (molar[2] == "m" and text.strip()[-1] != "M"):
        moles = plain_number(molar[1]) / (1000 if molar[2] == "mmol" else 1)
        return _molar(moles, substance)
    return _amount(wanted, text)


def _dose(per_litre: Fraction, unit: Literal["g", "mL"], more: str = "") -> Dose:
    if per_litre <= 0:
        raise NotUnderstood("The amount must be above zero.")
    return Dose(per_litre=per_litre, unit=unit, understood=f"{decimal_string(per_litre, 6)} {unit} per litre{more}")


def _percent(number: str, way: str, substance: Substance, text: str) -> Dose:
    figure = plain_number(number)
    if way == "w/v":
        return _dose(figure * 10, "g", ", grams in 100 mL")
    if way == "v/v" and substance.liquid:
        return _dose(figure * 10, "mL", ", mL in 100 mL")
    if way == "v/v":
        raise NotUnderstood(f"{substance.name} is a solid: percent by volume does not say how much.")
    if way == "w/w":
        raise CannotBeKnown("Percent by mass needs the density of the finished mix, which is not known: "
                            "write g/L or % w/v.")
    raise NotUnderstood(f"“{text.strip()}” can be grams or mL in 100 mL: write “{figure} % w/v” or “{figure} % v/v”.")


def _molar(moles: Fraction, substance: Substance) -> Dose:
    known = Known(name=substance.name, molar_mass=substance.molar_mass)
    pure = grams_per_litre(moles, "mol/L", known)
    if substance.liquid and substance.assay is None:
        raise CannotBeKnown(f"The assay of {substance.name} is not known: give the share of the pure substance in it.")
    grams = pure / (substance.assay or 1)
    if not substance.liquid:
        return _dose(grams, "g", f": {decimal_string(moles, 6)} mol/L")
    if substance.density is None:
        raise CannotBeKnown(f"The density of {substance.name} is not known: give it, or write g/L.")
    return _dose(grams / substance.density, "mL", f": {decimal_string(moles, 6)} mol/L")


def _amount(wanted: str, text: str) -> Dose:
    found = _PER.fullmatch(wanted)
    left, right = (found[1], found[2]) if found else (wanted, "1 l")
    right = right if is_whole(right[0]) else f"1 {right}"
    volume_ml = amount_in(right, "volume")
    if volume_ml <= 0:
        raise NotUnderstood(f"“{text.strip()}” is made into nothing.")
    readings: tuple[tuple[str, Literal["g", "mL"]], ...] = (("mass", "g"), ("volume", "mL"))
    for kind, unit in readings:
        try:
            amount = amount_in(left, kind)
        except TwoMeanings:
            raise
        except NotUnderstood:
            continue
        return _dose(amount * 1000 / volume_ml, unit)
    raise NotUnderstood(
        f"“{text.strip()}” was not understood as an amount per litre: write for instance “1.2 g/L”, “30 mL/L”, "
        "“1:32”, “2 % w/v”, “0.1 mol/L” or “15 mL per 750 mL”."
    )
