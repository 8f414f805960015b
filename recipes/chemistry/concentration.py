"""How strong a solution is, in the ways people state it, converted one into another. Pure.

Everything goes through grams of the pure substance per litre of solution:
mol/L × molar mass (IUPAC); % w/v × 10; % w/w × 10 × the solution's density;
% v/v × 10 × the pure liquid's density. What cannot be worked out is refused, with what is missing.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.errors import DaybookError
from studio.kit.rounding import decimal_string
from studio.kit.units import NotUnderstood, plain_number


class CannotBeKnown(DaybookError):
    """A conversion that needs a density, a molar mass or an assay that is not known."""


class NoDilution(DaybookError):
    """A strength that diluting cannot reach."""


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known of a substance and its solution. Densities in g/mL, molar mass in g/mol."""

    name: str = "the substance"
    molar_mass: Fraction | None = None
    solution_density: Fraction | None = None
    pure_density: Fraction | None = None

    def need(self, value: Fraction | None, what: str, field: str) -> Fraction:
        """Return a value. Raises CannotBeKnown where it is None; what: its name, {} standing for the substance."""
        if value is None:
            missing = what.format(self.name)
            raise CannotBeKnown(f"The {missing} is not known: give it, or state the strength another way.", field)
        return value


@dataclass(frozen=True, kw_only=True)
class WayOfStating:
    """One way in which people state a strength.

    of_one: grams of the pure substance per litre that one unit of it stands for; raises CannotBeKnown. at_most: the
    highest figure that makes sense.
    """

    label: str
    of_one: Callable[[Known], Fraction]
    at_most: Fraction | None = None


class UnknownWay(DaybookError):
    """A way of stating strength that no row of the table knows."""


#: adding a way: one row here, and how it is typed in `dosing.py` if ingredients may be written in it
TABLE: dict[str, WayOfStating] = {
    "g/L": WayOfStating(label="grams per litre", of_one=lambda known: Fraction(1)),
    "mol/L": WayOfStating(label="moles per litre", of_one=lambda known: known.need(
        known.molar_mass, "molar mass of {}", "molar_mass")),
    "% w/v": WayOfStating(label="percent, grams in 100 mL", of_one=lambda known: Fraction(10)),
    "% w/w": WayOfStating(label="percent by mass", at_most=Fraction(100), of_one=lambda known: 10 * known.need(
        known.solution_density, "density of the solution of {}", "solution_density")),
    "% v/v": WayOfStating(label="percent by volume", at_most=Fraction(100), of_one=lambda known: 10 * known.need(
        known.pure_density, "density of {} as a pure liquid", "pure_density")),
}
Way = str
WAYS: dict[Way, str] = {way: row.label for way, row in TABLE.items()}


def way_of(way: Way) -> WayOfStating:
    """Return a way's row. Raises UnknownWay: nothing is silently taken for grams per litre."""
    if way not in TABLE:
        problem = f"“{way}” is not a way of stating a strength" if way else "The way of stating the strength is missing"
        raise UnknownWay(f"{problem}: choose one of {', '.join(TABLE)}.", "way")
    return TABLE[way]


def grams_per_litre(amount: Fraction, way: Way, known: Known) -> Fraction:
    """Return grams of the pure substance per litre of solution. Raises CannotBeKnown or UnknownWay."""
    row = way_of(way)
    if amount < 0 or (row.at_most is not None and amount > row.at_most):
        raise CannotBeKnown("A strength is above zero, and a percentage at most 100.", "amount")
    return amount * row.of_one(known)


def strength_as(grams: Fraction, way: Way, known: Known) -> Fraction:
    """Return grams per litre stated another way. Raises CannotBeKnown or UnknownWay."""
    return grams / way_of(way).of_one(known)


def in_every_way(grams: Fraction, known: Known) -> dict[Way, Fraction | str]:
    """Return the strength in each way: its figure, or the sentence that says what is missing for it."""
    strengths: dict[Way, Fraction | str] = {}
    for way in WAYS:
        try:
            strengths[way] = strength_as(grams, way, known)
        except CannotBeKnown as missing:
            strengths[way] = str(missing)
    return strengths


@dataclass(frozen=True, kw_only=True)
class Dilution:
    """How many mL of the stock and of the diluent make a dilution (volumes taken to add)."""

    stock_ml: Fraction
    diluent_ml: Fraction


def dilute(stock: Fraction, wanted: Fraction, volume_ml: Fraction) -> Dilution:
    """Dilute a stock to a wanted strength (both in the same measure): c₁V₁ = c₂V₂.

    Raises NoDilution when the wanted strength is above the stock's.
    """
    if stock <= 0 or wanted <= 0:
        raise NoDilution("Both strengths must be above zero.", "wanted")
    if wanted > stock:
        raise NoDilution("That is stronger than the stock: diluting only makes it weaker.", "wanted")
    used = volume_ml * wanted / stock
    return Dilution(stock_ml=used, diluent_ml=volume_ml - used)


def made_up_from(stock: Fraction, stock_ml: Fraction, volume_ml: Fraction) -> Fraction:
    """Return the strength of an amount of stock made up to a volume. Raises NoDilution."""
    if not 0 < stock_ml <= volume_ml:
        raise NoDilution("The stock used must be above zero and no more than the volume made.", "stock_ml")
    return stock * stock_ml / volume_ml


@dataclass(frozen=True, kw_only=True)
class Ratio:
    """One liquid in another by parts. share: of the whole; other_share: what the other reading would make it."""

    parts: Fraction
    whole: Fraction
    other_whole: Fraction

    @property
    def share(self) -> Fraction:
        return self.parts / self.whole

    @property
    def other_share(self) -> Fraction:
        return self.parts / self.other_whole

    def in_words(self) -> str:
        """Return both readings' amounts per litre, since people mean either."""
        def per_litre(share: Fraction) -> str:
            return f"{decimal_string(share * 1000, 3)} mL per litre"

        rest, other = decimal_string(self.whole - self.parts, 3), decimal_string(self.other_whole, 3)
        parts = decimal_string(self.parts, 3)
        if self.whole > self.other_whole:
            return (f"{per_litre(self.share)}: {parts} to {rest} of the other. "
                    f"Read as {parts} in {other} it would be {per_litre(self.other_share)}.")
        added = decimal_string(self.other_whole - self.parts, 3)
        return (f"{per_litre(self.share)}: {parts} in {decimal_string(self.whole, 3)} of the whole. "
                f"Read as {parts} to {added} it would be {per_litre(self.other_share)}.")


_RATIO = re.compile(r"\s*([\d.,/ ]+?)\s*(:|\+|\bto\b|\bin\b)\s*([\d.,/ ]+?)\s*(?:parts?)?\s*", re.IGNORECASE)


def parse_ratio(text: str) -> Ratio | None:
    """Read “1:32”, “1 + 32” or “1 to 32” (a part made into 1 + 32) and “1 in 32” (a part in 32 in all).

    Returns None when the text is no ratio. Raises NotUnderstood for one that makes no sense.
    """
    found = _RATIO.fullmatch(text.replace("∶", ":"))
    if not found:
        return None
    first, second = plain_number(found[1]), plain_number(found[3])
    together, inside = first + second, second
    if found[2].lower() == "in":
        together, inside = second, first + second
        if first > second:
            raise NotUnderstood(f"“{text.strip()}” asks for more than the whole.")
    if first <= 0 or second <= 0:
        raise NotUnderstood(f"“{text.strip()}” needs parts above zero.")
    return Ratio(parts=first, whole=together, other_whole=inside)
