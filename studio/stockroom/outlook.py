"""How long stock lasts at the pace of its use, what it is worth, what expires soon, and levels over time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db.models import Sum

from studio.stockroom.models import Lot, StockMovement

WINDOW = timedelta(days=90)
OVER_A_YEAR = "over a year"
_USED = (StockMovement.Kind.USE, StockMovement.Kind.MAKE_UP_OUT)


def used_a_day(moment: datetime) -> dict[int, Fraction]:
    """Return what was used of each material a day over the last 90 days, less what was reversed. One query."""
    rows = StockMovement.objects.filter(
        kind__in=_USED, posting__at__gt=moment - WINDOW, posting__at__lte=moment
    ).order_by().values_list("lot__material").annotate(total=Sum("quantity"))
    return {material: -Fraction(total) / WINDOW.days for material, total in rows if total < 0}


def days_of_cover(free: Decimal, a_day: Fraction | None) -> int | None:
    """Return how many whole days the free amount lasts at the pace of the last 90; None where nothing was used."""
    return None if not a_day else max(int(Fraction(free) / a_day), 0)


def in_words(days: int | None) -> str:
    """Return how long stock lasts, as a person reads it; nothing where it is not known."""
    if days is None:
        return ""
    return OVER_A_YEAR if days > 365 else f"{days} day{'' if days == 1 else 's'}"


def worth(lots: Iterable[Lot]) -> dict[int, Decimal]:
    """Return what lots are worth at their unit costs with carriage, by material. lots: with their levels fetched."""
    worth_of: dict[int, Decimal] = defaultdict(Decimal)
    for lot in lots:
        worth_of[lot.material_id] += lot.level.on_hand * lot.unit_cost
    return dict(worth_of)


@dataclass(frozen=True, kw_only=True)
class LevelChart:
    """A material's level over time as a stepped line, 100 wide and 30 high, with its highest level and its days."""

    line: tuple[tuple[Fraction, Fraction], ...]
    reorder: Fraction | None
    highest: Decimal
    first: date
    last: date

    @property
    def points(self) -> str:
        """Return the line as a drawing writes it, to a thousandth: years of days are thousands of points."""
        return " ".join(f"{_to_a_thousandth(x)},{_to_a_thousandth(y)}" for x, y in self.line)


def _to_a_thousandth(value: Fraction) -> str:
    """Return a length half up to three decimals, without trailing zeros."""
    thousandths = (2000 * value.numerator + value.denominator) // (2 * value.denominator)
    return f"{thousandths // 1000}.{thousandths % 1000:03}".rstrip("0").rstrip(".")


LEFT, RIGHT, TOP, BOTTOM, HIGH = 12, 98, 2, 25, 23


def level_chart(moved: Iterable[tuple[date, Decimal]], today: date, reorder: Decimal | None) -> LevelChart | None:
    """Return the chart of signed amounts by day, oldest first; None where nothing ever moved."""
    by_day: dict[date, Decimal] = defaultdict(Decimal)
    for on, amount in moved:
        by_day[on] += amount
    if not by_day:
        return None
    first, last = min(by_day), max(today, max(by_day))
    span = Fraction(max((last - first).days, 1))
    level, levels = Decimal(0), []
    for on in sorted(by_day):
        level += by_day[on]
        levels.append((on, level))
    highest = max(max(level for _, level in levels), reorder or Decimal(0), Decimal(1))

    def height(amount: Decimal) -> Fraction:
        return BOTTOM - HIGH * Fraction(amount) / Fraction(highest)

    line: list[tuple[Fraction, Fraction]] = []
    for on, at in levels:
        x = LEFT + (RIGHT - LEFT) * Fraction((on - first).days) / span
        line += [(x, line[-1][1] if line else Fraction(BOTTOM)), (x, height(at))]
    line.append((Fraction(RIGHT), line[-1][1]))
    return LevelChart(line=tuple(line), reorder=None if reorder is None else height(reorder), highest=highest,
                      first=first, last=last)
