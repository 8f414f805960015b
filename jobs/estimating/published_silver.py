"""Published figures of silver on glass, to compare a version's silver balance with. Pure.

Historical amounts are offered silver, most of which goes to the rinse; none is an instruction.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

#: silver in silver nitrate by mass: 107.8682 / 169.8731 (IUPAC standard atomic weights)
SILVER_IN_NITRATE = Fraction("107.8682") / Fraction("169.8731")
GRAIN_G = Fraction("0.06479891")


@dataclass(frozen=True, kw_only=True)
class PublishedSilver:
    """One published figure in g of silver per m² of glass: offered to it, or left on it."""

    name: str
    source: str
    g_per_m2: Fraction
    on_glass: bool = False


PUBLISHED: tuple[PublishedSilver, ...] = (
    PublishedSilver(
        name="least silver on commercial mirrors", source="EN 1036-1", g_per_m2=Fraction("0.7"),
        on_glass=True,
    ),
    PublishedSilver(
        name="800 grains of silver nitrate for a disc of 15.5 inches",
        source="Draper, On the Construction of a Silvered Glass Telescope, Fifteen and a Half Inches in Aperture",
        g_per_m2=800 * GRAIN_G * SILVER_IN_NITRATE / Fraction("0.12174"),
    ),
    PublishedSilver(
        name="0.72 g of silver nitrate (12 mL of A) for a disc of 6 inches",
        source="Barry, Silvering Telescope Mirrors",
        g_per_m2=Fraction("0.72") * SILVER_IN_NITRATE / Fraction("0.018241"),
    ),
)
