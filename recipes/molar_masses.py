"""Molar masses and the share of an element, from molmass (IUPAC/CIAAW standard atomic weights). Pure."""

from __future__ import annotations

import re
from fractions import Fraction

from molmass import Formula, FormulaError

from studio.errors import DaybookError

#: Words for the water in a hydrate (IUPAC multiplying prefixes).
WATERS = {"": 0, "anhydrous": 0, "monohydrate": 1, "dihydrate": 2, "trihydrate": 3, "tetrahydrate": 4,
          "pentahydrate": 5, "hexahydrate": 6, "heptahydrate": 7, "octahydrate": 8, "nonahydrate": 9,
          "decahydrate": 10, "dodecahydrate": 12}


class FormulaUnknown(DaybookError):
    """A formula or hydrate that the reference library does not read."""


def _read(formula: str, hydrate: str) -> Formula:
    waters = WATERS.get(hydrate.strip().lower())
    if waters is None:
        raise FormulaUnknown(f"“{hydrate}” is no hydrate that is known by name: write for instance dihydrate.",
                             "hydrate")
    plain = re.sub(r"[·∙*.](\d*)(H2O)", lambda found: f"(H2O){found[1] or 1}", formula.strip())
    try:
        read = Formula(plain + (f"(H2O){waters}" if waters else ""))
        if not plain or read.mass <= 0:
            raise ValueError(plain)
    except (FormulaError, ValueError, KeyError) as unread:
        raise FormulaUnknown(f"“{formula}” was not understood as a formula: write for instance AgNO3 or SnCl2·2H2O.",
                             "formula") from unread
    return read


def molar_mass(formula: str, hydrate: str = "") -> Fraction:
    """Return g/mol, to the four decimals that the atomic weights carry. Raises FormulaUnknown."""
    return Fraction(f"{_read(formula, hydrate).mass:.4f}")


def share_by_mass(element: str, formula: str, hydrate: str = "") -> Fraction:
    """Return an element's share of a compound's mass, to six decimals. Raises FormulaUnknown."""
    composition = _read(formula, hydrate).composition()
    return Fraction(f"{composition[element].fraction:.6f}") if element in composition.keys() else Fraction(0)  # noqa: SIM118
