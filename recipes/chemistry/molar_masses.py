"""Molar masses and the share of an element: periodictable reads the formula, IUPAC and NIST give the weights. Pure."""

from __future__ import annotations

import re
from fractions import Fraction

import periodictable
from pyparsing import ParseException

from studio.kit.errors import DaybookError
from studio.kit.rounding import half_up, places

#: Words for the water in a hydrate (IUPAC multiplying prefixes).
WATERS = {"": 0, "anhydrous": 0, "monohydrate": 1, "dihydrate": 2, "trihydrate": 3, "tetrahydrate": 4,
          "pentahydrate": 5, "hexahydrate": 6, "heptahydrate": 7, "octahydrate": 8, "nonahydrate": 9,
          "decahydrate": 10, "dodecahydrate": 12}

#: Elements whose weight varies in nature: the library carries IUPAC's abridged figure (Cl 35.45), which is coarser than
#: the mean over an element's isotopes as NIST tables them (Atomic Weights and Isotopic Compositions). What was typed
#: as mol/L before is read the same: an element's figure here is never changed for another of equal standing.
WEIGHTS = {
    "H": Fraction("1.007941"), "B": Fraction("10.811"), "C": Fraction("12.01074"), "N": Fraction("14.006703"),
    "O": Fraction("15.999405"), "Mg": Fraction("24.3051"), "Si": Fraction("28.0855"), "S": Fraction("32.0648"),
    "Cl": Fraction("35.4529"), "Ar": Fraction("39.948"), "Br": Fraction("79.9035"), "Tl": Fraction("204.3834"),
}

#: What a formula here is written with: element, count, bracket. The library reads isotopes, charges, densities
#: and mixtures besides, which are not reagents on a shelf.
WRITTEN = re.compile(r"([A-Z][a-z]?|[0-9]|[()\s])+")


class FormulaUnknown(DaybookError):
    """A formula or hydrate that the reference library does not read."""


def _masses(formula: str, hydrate: str) -> dict[str, Fraction]:
    """Return g of each element in one mole, by its symbol. Raises FormulaUnknown."""
    waters = WATERS.get(hydrate.strip().lower())
    if waters is None:
        raise FormulaUnknown(f"“{hydrate}” is no hydrate that is known by name: write for instance dihydrate.",
                             "hydrate")
    masses: dict[str, Fraction] = {}
    try:
        for part in [*re.split(r"[·∙*.]", formula), *([f"{waters}H2O"] if waters else [])]:
            for symbol, grams in _part(part.strip().translate(str.maketrans("[]{}", "()()"))):
                masses[symbol] = masses.get(symbol, Fraction(0)) + grams
    except (ParseException, ValueError) as unread:
        raise FormulaUnknown(f"“{formula}” was not understood as a formula: write for instance AgNO3 or SnCl2·2H2O.",
                             "formula") from unread
    return masses


def _part(formula: str) -> list[tuple[str, Fraction]]:
    """Return g a mole of each element of what stands between two dots. Raises ValueError, ParseException."""
    if not WRITTEN.fullmatch(formula):
        raise ValueError(formula)
    atoms = periodictable.formula(formula).atoms
    if not atoms or not all(atoms.values()):
        raise ValueError(formula)
    return [(str(atom), _weight(atom) * Fraction(str(count))) for atom, count in atoms.items()]


def _weight(atom: periodictable.core.Element) -> Fraction:
    """Return an element's standard atomic weight."""
    return WEIGHTS.get(str(atom)) or Fraction(str(atom.mass))


def _mass(masses: dict[str, Fraction]) -> Fraction:
    return sum(masses.values(), Fraction(0))


def molar_mass(formula: str, hydrate: str = "") -> Fraction:
    """Return g/mol, to the four decimals that the atomic weights carry. Raises FormulaUnknown."""
    return half_up(_mass(_masses(formula, hydrate)), places(4))


def share_by_mass(element: str, formula: str, hydrate: str = "") -> Fraction:
    """Return an element's share of a compound's mass, to six decimals. Raises FormulaUnknown."""
    masses = _masses(formula, hydrate)
    return half_up(masses.get(element, Fraction(0)) / _mass(masses), places(6))
