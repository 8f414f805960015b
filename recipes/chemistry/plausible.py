"""Amounts and strengths that cannot be, and those that are asked about once. Pure.

Solubilities are those of `studio/stockroom/hazards/trade.json`, in water at about 20 °C; a warm or another solvent
holds more, and what is meant to stay a slurry does: so they are asked about, never refused.
"""

from __future__ import annotations

from fractions import Fraction

from recipes.chemistry.dosing import Dose, Substance
from studio.kit.errors import CannotBe
from studio.kit.rounding import decimal_string

#: g/mL, of a solid whose density nobody gave: silver, than which nothing of the trade is heavier (CRC Handbook)
DENSEST = Fraction("10.49")
WEAKEST, STRONGEST = Fraction(5, 1000), Fraction(5)

def dose_question(dose: Dose, substance: Substance) -> str:
    """Return what to ask of an amount per litre, or "". Raises CannotBe for more than a litre holds."""
    name, density = substance.name, substance.density
    millilitres = dose.per_litre if dose.unit == "mL" else dose.per_litre / (density or DENSEST)
    if dose.unit == "g" and substance.liquid and density is None:
        millilitres = Fraction(0)  # its volume is not known
    if millilitres > 1000:
        shown = f"{decimal_string(dose.per_litre, 3)} {dose.unit}"
        raise CannotBe(f"A litre cannot hold {shown} of {name}: that alone is more than a litre.", "amount")
    if dose.unit == "g" and not substance.liquid and substance.dissolves is not None \
            and dose.per_litre > substance.dissolves:
        return (f"About {decimal_string(substance.dissolves, 3)} g of {name} dissolve in a litre of water at 20 °C, "
                f"and this is {decimal_string(dose.per_litre, 3)} g: the rest would stay undissolved.")
    return ""


def strength_question(strength: Fraction) -> str:
    """Return what to ask of a strength beyond 0.005 to 5 times as written; else ""."""
    if WEAKEST <= strength <= STRONGEST:
        return ""
    written = decimal_string(strength, 6)
    limit = decimal_string(STRONGEST if strength > STRONGEST else WEAKEST, 3)
    return f"That is {written} times as written, {'above' if strength > STRONGEST else 'below'} {limit} times."
