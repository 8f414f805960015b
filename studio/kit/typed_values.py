"""Kinds of values that people type with their units: how each is read, and shown without drift. No Django."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from studio.kit.rounding import decimal_string
from studio.kit.units import (
    amount_in,
    glass_thickness_mm,
    plain_number,
    share_of,
    show_coverage,
    show_length,
    show_temperature,
    show_volume,
    size_unit,
    temperature_c,
)

#: decimals that each kind is kept with: those of the columns in studio.exact
STOCK_DECIMALS, RATIO_DECIMALS, LENGTH_DECIMALS = 3, 6, 6


@dataclass(frozen=True)
class Typed:
    """An exact value, None where nothing was typed, and the text it was typed as."""

    value: Decimal | None
    text: str


@dataclass(frozen=True, kw_only=True)
class Kind:
    """How one kind of value is read and shown, and the unit that it is kept in."""

    decimals: int
    kept_in: str
    read: Callable[[str, str], Fraction]
    show: Callable[[Fraction, str], str]
    example: str


def _amount(kind: str) -> Callable[[str, str], Fraction]:
    return lambda text, _: Fraction(0) if text.strip() in ("0", "none") else amount_in(text, kind)


def _length(text: str, preference: str) -> Fraction:
    return amount_in(text, "length", size_unit(preference))


def _in_own(kind: str, metric: str, us: str) -> Callable[[str, str], Fraction]:
    """Return a reader to which a bare number is in the unit that everybody at a studio of that preference means."""
    def read(text: str, preference: str) -> Fraction:
        own = us if preference == "us" else metric
        return Fraction(0) if text.strip() in ("0", "none") else amount_in(text, kind, own)

    return read


def show_time(minutes: Fraction, _preference: str = "metric") -> str:
    """Return minutes with the unit that keeps them whole: “30 s”, “5 min”, “36 h”, “14 days”."""
    if minutes == 0:
        return "0 min"
    for size, unit in ((1440, "days"), (60, "h"), (1, "min")):
        if minutes % size == 0 and (size == 1 or minutes >= 2 * size):
            return f"{decimal_string(minutes / size)} {unit}"
    seconds = minutes * 60
    return f"{decimal_string(seconds, 6)} s" if minutes < 3 else f"{decimal_string(minutes, 6)} min"


STRENGTH_WORDS = {
    "as written": Fraction(1), "full": Fraction(1), "quarter": Fraction(1, 4), "half": Fraction(1, 2),
    "double": Fraction(2), "triple": Fraction(3),
}


def strength_of(text: str, _preference: str = "metric") -> Fraction:
    """Read how strong a solution is used: “2”, “1/2”, “double”, “1.5 ×”, “150 %”. Raises NotUnderstood."""
    bare = text.strip().lower().removesuffix("strength").strip()
    if bare in STRENGTH_WORDS:
        return STRENGTH_WORDS[bare]
    if bare.endswith("%"):
        return share_of(bare)
    return plain_number(bare.removesuffix("x").removesuffix("×").strip())


KINDS: dict[str, Kind] = {
    "time": Kind(kept_in="min", decimals=RATIO_DECIMALS, read=_amount("time"), show=show_time, example="30 s, 5 min"),
    "coverage": Kind(kept_in="mL/m2", decimals=RATIO_DECIMALS, show=show_coverage,
                     read=_in_own("coverage", "ml/m2", "us fl oz/ft2"),
                     example="300 mL/m2, 8 US fl oz/ft2, 2 mm deep"),
    "volume": Kind(kept_in="mL", decimals=STOCK_DECIMALS, show=show_volume, read=_in_own("volume", "ml", "us fl oz"),
                   example="20 mL, 1 US fl oz"),
    "length": Kind(kept_in="mm", decimals=LENGTH_DECIMALS, read=_length, show=show_length, example="50 mm, 2 in"),
    "thickness": Kind(kept_in="mm", decimals=LENGTH_DECIMALS, show=show_length, example="6 mm, 1/4 in",
                      read=lambda text, preference: glass_thickness_mm(text, size_unit(preference))),
    "temperature": Kind(kept_in="°C", decimals=RATIO_DECIMALS, read=temperature_c, show=show_temperature,
                        example="20 °C, 68 °F"),
    "share": Kind(kept_in="", decimals=RATIO_DECIMALS, read=lambda text, _: share_of(text),
                  show=lambda share, _: f"{decimal_string(share * 100, 4)} %", example="10 %"),
    "number": Kind(kept_in="", decimals=RATIO_DECIMALS, read=lambda text, _: plain_number(text),
                   show=lambda number, _: decimal_string(number, 6), example="2, 1/2"),
    "strength": Kind(kept_in="", decimals=RATIO_DECIMALS, read=strength_of,
                     show=lambda strength, _: decimal_string(strength, 6), example="1, double, 1/2"),
}
