"""Formulas, molar masses and the share of an element. Pure.

periodictable reads the formula; IUPAC and NIST give the weights.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

import periodictable
from pyparsing import ParseException

from studio.kit.errors import DaybookError
from studio.kit.rounding import half_up, places
from studio.kit.typed_numbers import read_whole, whole_number

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
WRITTEN = re.compile(r"([A-Z][a-z]?|[0-9]|[()])+")
_SUBSCRIPTS = str.maketrans("₀₁₂₃₄₅₆₇₈₉[]{}", "0123456789()()")
_DOTS = re.compile(r"[·∙⋅•‧・*.]")
#: water as suppliers' labels have it: “SnCl2 2H2O”, “SnCl2 2 H2O”, “SnCl2(H2O)2”
_WATER_COUNT = re.compile(r"(?<![A-Za-z0-9)])([0-9]+)\s+H2O")
_WATER_APART = re.compile(r"(?<=[A-Za-z0-9)])\s+(?=[0-9]*H2O\s*$)")
_WATER_BOUND = re.compile(r"(?<=[A-Za-z0-9)])\(H2O\)([0-9]*)\s*$")
_WATER = re.compile(r"([0-9]*)H2O")


class FormulaUnknown(DaybookError):
    """A formula or hydrate that is not understood, or says its water twice."""


@dataclass(frozen=True, kw_only=True)
class Formula:
    """A formula as it was read: its parts without water, the atoms in them, and the water of one unit."""

    parts: tuple[str, ...]
    atoms: Mapping[str, int]
    waters: int

    @property
    def elements(self) -> dict[str, int]:
        """Return all its atoms by symbol, those of its water too."""
        water = {"H": 2 * self.waters, "O": self.waters} if self.waters else {}
        return {symbol: self.atoms.get(symbol, 0) + water.get(symbol, 0) for symbol in {*self.atoms, *water}}

    @property
    def written(self) -> str:
        """Return it in one way, whatever way it was typed: “SnCl2·2H2O”."""
        water = f"{self.waters if self.waters > 1 else ''}H2O"
        return "·".join([*self.parts, *([water] if self.waters else [])])


def _waters_in_words(hydrate: str) -> int:
    """Return the water that a hydrate's name says: “dihydrate”, “2H2O”, “· 2 H2O”. Raises FormulaUnknown."""
    word = hydrate.strip().translate(_SUBSCRIPTS)
    counted = _WATER.fullmatch(_DOTS.sub("", word).replace(" ", ""))
    waters = whole_number(counted[1] or "1") or None if counted else WATERS.get(word.lower())
    if waters is None:
        raise FormulaUnknown(f"“{hydrate}” is no hydrate that is known by name: write for instance dihydrate.",
                             "hydrate")
    return waters


def _split(formula: str) -> tuple[str, str]:
    """Return a formula and the hydrate's name that was typed behind it: “SnCl2 dihydrate”."""
    first, _, last = formula.strip().rpartition(" ")
    return (first, last) if first and last.lower() in WATERS else (formula.strip(), "")


def _with_dots(formula: str) -> str:
    """Return a formula with its water behind a dot: “SnCl2 2 H2O” as “SnCl2·2H2O”."""
    apart = _WATER_APART.sub("·", _WATER_COUNT.sub(r"\1H2O", formula))
    return _WATER_BOUND.sub(r"·\1H2O", apart)


@lru_cache(maxsize=4096)
def read_formula(formula: str, hydrate: str = "") -> Formula:
    """Read a formula with its hydrate, however the water is written. Raises FormulaUnknown, a doubled hydrate too."""
    typed, said = _split(formula.translate(_SUBSCRIPTS))
    parts: list[str] = []
    atoms: dict[str, int] = {}
    stated: list[int] = []
    try:
        for part in _DOTS.split(_with_dots(typed)):
            text = re.sub(r"\s", "", part)
            water = _WATER.fullmatch(text) if parts else None
            if water:
                stated.append(read_whole(water[1] or "1"))
                continue
            for symbol, number in _atoms(text).items():
                atoms[symbol] = atoms.get(symbol, 0) + number
            parts.append(text)
    except (ParseException, ValueError) as unread:
        raise FormulaUnknown(f"“{formula}” was not understood as a formula: write for instance AgNO3 or SnCl2·2H2O.",
                             "formula") from unread
    stated += [_waters_in_words(word) for word in (said, hydrate) if word.strip()]
    if len(stated) > 1:
        raise FormulaUnknown(
            f"The water of “{formula}” is said twice: write it once, in the formula or as the hydrate.", "hydrate")
    return Formula(parts=tuple(parts), atoms=MappingProxyType(atoms), waters=stated[0] if stated else 0)


def _atoms(part: str) -> dict[str, int]:
    """Return the atoms of what stands between two dots, by symbol. Raises ValueError, ParseException."""
    if not WRITTEN.fullmatch(part):
        raise ValueError(part)
    atoms = periodictable.formula(part).atoms
    if not atoms or not all(atoms.values()):
        raise ValueError(part)
    return {str(atom): int(count) for atom, count in atoms.items()}


def _masses(formula: str, hydrate: str) -> dict[str, Fraction]:
    """Return g of each element in one mole, by its symbol. Raises FormulaUnknown."""
    atoms = read_formula(formula, hydrate).elements
    return {symbol: _weight(symbol) * number for symbol, number in atoms.items()}


def _weight(symbol: str) -> Fraction:
    """Return an element's standard atomic weight."""
    return WEIGHTS.get(symbol) or Fraction(str(periodictable.elements.symbol(symbol).mass))


def _mass(masses: dict[str, Fraction]) -> Fraction:
    return sum(masses.values(), Fraction(0))


def molar_mass(formula: str, hydrate: str = "") -> Fraction:
    """Return g/mol, to the four decimals that the atomic weights carry. Raises FormulaUnknown."""
    return half_up(_mass(_masses(formula, hydrate)), places(4))


def share_by_mass(element: str, formula: str, hydrate: str = "") -> Fraction:
    """Return an element's share of a compound's mass, to six decimals. Raises FormulaUnknown."""
    masses = _masses(formula, hydrate)
    return half_up(masses.get(element, Fraction(0)) / _mass(masses), places(6))
