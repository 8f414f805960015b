"""Bars of the shelf: how much of a material is free and promised, and how long its first lot still keeps. Pure.

A bar is 140 wide and 14 high; a life is 100 wide. Figures are shares of that, to a tenth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

BAR, LIFE = 140, 100
HATCH_EVERY = 5
#: a lot turns within so many days
TURNS = timedelta(days=30)


def _width(part: Decimal, whole: Decimal, wide: int) -> float:
    share = Fraction(max(part, Decimal(0))) / Fraction(whole) if whole > 0 else Fraction(0)
    return round(float(min(share, Fraction(1)) * wide), 1)


@dataclass(frozen=True, kw_only=True)
class LevelBar:
    """What is free, then what is promised (hatched), of a whole; reorder: where its stroke stands, None: no stroke."""

    free: float
    promised: float
    hatches: tuple[str, ...]
    reorder: float | None

    @property
    def usable(self) -> float:
        return self.free + self.promised


def level_bar(*, usable: Decimal, promised: Decimal, received: Decimal, reorder: Decimal | None) -> LevelBar:
    """Return the bar of a material. Amounts in its stock unit; received: by the lots that still hold something."""
    whole = max(usable, received, promised, reorder * Decimal("1.25") if reorder else Decimal(0))
    there = _width(usable, whole, BAR)
    hatched = min(_width(promised, whole, BAR), there)
    free = round(there - hatched, 1)
    return LevelBar(
        free=free, promised=hatched, hatches=_hatches(free, hatched),
        reorder=None if reorder is None else _width(reorder, whole, BAR),
    )


def _hatches(start: float, width: float) -> tuple[str, ...]:
    """Return the strokes of a hatched part as path data, none beyond its end."""
    at, paths = start, []
    while at < start + width:
        run = min(HATCH_EVERY, start + width - at)
        paths.append(f"M{at:.1f} 12l{run:.1f} -{2 * run:.1f}")
        at += HATCH_EVERY
    return tuple(paths)


@dataclass(frozen=True, kw_only=True)
class FirstToTurn:
    """The lot of a material that expires first, and how much of its life is left, as a bar and a tone."""

    lot_number: str
    on: date
    left: float
    tone: str

    @property
    def has_expired(self) -> bool:
        return self.tone == EXPIRED


FRESH, TURNING, EXPIRED = "fresh", "turning", "expired"


@dataclass(frozen=True, kw_only=True)
class Life:
    """A lot's life: received on a day, expires on another; over: past its day, or its minute."""

    lot_number: str
    received_on: date
    expires_on: date
    over: bool


def first_to_turn(lives: Sequence[Life], day: date) -> FirstToTurn | None:
    """Return the first of the lots to turn, by its day; None where none does."""
    if not lives:
        return None
    first = min(lives, key=lambda life: (not life.over, life.expires_on))
    if first.over:
        return FirstToTurn(lot_number=first.lot_number, on=first.expires_on, left=LIFE, tone=EXPIRED)
    whole = max((first.expires_on - first.received_on).days, 1)
    left = _width(Decimal((first.expires_on - day).days + 1), Decimal(whole), LIFE)
    tone = TURNING if first.expires_on - day <= TURNS else FRESH
    return FirstToTurn(lot_number=first.lot_number, on=first.expires_on, left=left, tone=tone)
