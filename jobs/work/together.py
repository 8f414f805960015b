"""A mix that is made once for two jobs, as the ticket of either says it. Pure: no Django.

The ticket holds its own job's share, which is what is recorded on it and deducted; beside it stands what is weighed for
both, and which of the two tickets makes it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from recipes.chemistry.mixing import HardToMeasure


@dataclass(frozen=True, kw_only=True)
class ForBoth:
    """An ingredient as it is weighed into the one vessel. amount: as the balance or the vessel reads."""

    number: int
    name: str
    amount: Decimal
    unit: str
    make_up: bool
    hard: HardToMeasure | None = None


@dataclass(frozen=True, kw_only=True)
class Together:
    """Which two jobs a mix is made for, which of their tickets makes it, and how much of it is for each, in mL."""

    job: int
    load: int
    share_ml: Fraction
    other_job: int
    other_load: int
    other_share_ml: Fraction
    makes: bool
    rows: list[ForBoth] = field(default_factory=list)

    @property
    def volume_ml(self) -> Fraction:
        return self.share_ml + self.other_share_ml

    @property
    def maker(self) -> int:
        return self.job if self.makes else self.other_job
