"""What a graduated cylinder reads: an amount to pour is said no finer. Pure.

Graduations after ISO 4788:2005, class B cylinders (capacity and smallest division in mL); from memory.
"""

from __future__ import annotations

from fractions import Fraction

from studio.kit.rounding import half_up

CYLINDERS = tuple((Fraction(capacity), Fraction(division)) for capacity, division in (
    ("5", "0.1"), ("10", "0.2"), ("25", "0.5"), ("50", "1"), ("100", "1"), ("250", "2"), ("500", "5"), ("1000", "10"),
    ("2000", "20"),
))


def as_poured_ml(volume_ml: Fraction) -> Fraction:
    """Return a volume as the smallest cylinder that holds it reads it, half up; above the largest, as that one does."""
    division = next((division for capacity, division in CYLINDERS if volume_ml <= capacity), CYLINDERS[-1][1])
    return half_up(volume_ml, division)
