"""What the size of a package asks of its label: CLP Annex I, 1.2.1, table 1.3. Pure.

Letter heights are those of Regulation (EU) 2024/2865, binding from 1 January 2028 and kept here already.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

ML = 1000


@dataclass(frozen=True, kw_only=True)
class PackageRule:
    """Packages up to a capacity: their label's sides, the side of a pictogram's red frame, and the height of an “x”.

    least_pictogram: where the usual one is not possible.
    """

    up_to_ml: int | None
    short_side: float
    long_side: float
    pictogram: float
    least_pictogram: float
    x_height: float

    def holds(self, width: float, height: float) -> bool:
        """Say whether a label is at least this large, upright or across."""
        return min(width, height) >= self.short_side and max(width, height) >= self.long_side


#: a pictogram covers at least 1/15 of the least label (16 × 16 of 52 × 74 mm) and never less than 1 cm²
PACKAGES: tuple[PackageRule, ...] = (
    PackageRule(up_to_ml=500, short_side=52, long_side=74, pictogram=16, least_pictogram=10, x_height=1.2),
    PackageRule(up_to_ml=3 * ML, short_side=52, long_side=74, pictogram=16, least_pictogram=10, x_height=1.4),
    PackageRule(up_to_ml=50 * ML, short_side=74, long_side=105, pictogram=23, least_pictogram=23, x_height=1.8),
    PackageRule(up_to_ml=500 * ML, short_side=105, long_side=148, pictogram=32, least_pictogram=32, x_height=2.0),
    PackageRule(up_to_ml=None, short_side=148, long_side=210, pictogram=46, least_pictogram=46, x_height=2.0),
)


def package_rule(capacity_ml: Fraction) -> PackageRule:
    """Return what a package of some capacity asks of its label."""
    return next(rule for rule in PACKAGES if rule.up_to_ml is None or capacity_ml <= rule.up_to_ml)


def capacity_of(amount: Fraction, stock_unit: str, density_g_per_ml: Fraction | None) -> Fraction:
    """Return about how many mL a package of an amount holds: of grams without a density, as many as of water.

    Sheets and pieces have no package of their own: they count as nothing.
    """
    if stock_unit == "mL":
        return amount
    if stock_unit == "g":
        return amount / (density_g_per_ml or 1)
    return Fraction(0)
