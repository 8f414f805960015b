"""Rates and sizes of a bench that few studios have: asked about once, wherever they are typed. Pure.

Every range is common practice, no source: wide enough that a studio of one or of ten is not asked, narrow enough that a
comma, a unit or a nought too many is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from studio.kit.currencies import show_money
from studio.kit.rounding import plain
from studio.kit.units import show_size

#: what one of a widely used money of a hard currency is in others, to a factor of two: only for asking (from memory)
_WORTH = {
    **dict.fromkeys(("GBP", "EUR", "USD", "CHF"), 1), **dict.fromkeys(("AUD", "CAD", "NZD", "SGD", "BND"), 2),
    **dict.fromkeys(("PLN", "RON", "ILS", "BRL", "PEN", "AED", "SAR", "MYR", "BGN"), 5),
    **dict.fromkeys(("DKK", "NOK", "SEK", "CNY", "HKD"), 10), **dict.fromkeys(("CZK", "MXN", "ZAR", "THB", "TWD"), 30),
    **dict.fromkeys(("INR", "PHP", "RSD", "JPY", "ISK"), 150), "HUF": 400,
}


@dataclass(frozen=True, kw_only=True)
class Usual:
    """From where to where a figure is taken unasked, both included. unit: of the figure, as it is written behind it.

    zero: whether none at all is taken unasked too.
    """

    least: Decimal
    most: Decimal
    unit: str
    zero: bool = True


def _usual(least: float | str, most: float | str, unit: str, *, zero: bool = True) -> Usual:
    return Usual(least=Decimal(str(least)), most=Decimal(str(most)), unit=unit, zero=zero)


#: by column: of the rates, their edges and the house
USUAL: Mapping[str, Usual] = {
    "margin_share": _usual("0.010001", "0.799999", "%", zero=False), "tax_share": _usual("0.010001", "0.35", "%"),
    "deposit_share": _usual("0.010001", 1, "%"), "cover_share": _usual("0.5", "0.999", "%", zero=False),
    "glass_loss_share": _usual("0.010001", 1, "%"), "bench_usable_share": _usual("0.2", "0.95", "%", zero=False),
    "offcut_credit_share": _usual("0.010001", 1, "%"),
    "helper_per_hour": _usual(5, 150, "money"), "owner_per_hour": _usual(5, 250, "money"),
    "overhead_per_bench_hour": _usual("0.5", 150, "money"), "minimum_charge": _usual(5, 2000, "money"),
    "price_step": _usual("0.01", 100, "money"),
    "bench_width_mm": _usual(300, 6000, "mm", zero=False), "bench_height_mm": _usual(300, 6000, "mm", zero=False),
    "trim_mm": _usual("0.5", 150, "mm"), "clearance_mm": _usual("0.1", 30, "mm"),
    "smallest_offcut_mm": _usual(30, 2000, "mm"), "smallest_strip_mm": _usual(1, 300, "mm"),
    "offcut_trim_mm": _usual("0.5", 150, "mm"),
    "grinds_off_mm": _usual("0.05", 10, "mm"),
    "increment_ml": _usual("0.1", 1000, "mL"), "largest_vessel_ml": _usual(250, 100_000, "mL"),
    "balance_readability_g": _usual("0.0001", 10, "g", zero=False),
    "setup_minutes": _usual(1, 480, "minutes"), "mixing_minutes_per_batch": _usual("0.5", 240, "minutes"),
    "cutting_minutes_per_pane": _usual("0.2", 120, "minutes"),
    "packing_minutes_per_pane": _usual("0.2", 240, "minutes"), "minutes_per_m": _usual("0.1", 120, "minutes"),
    "bench_day_minutes": _usual(120, 900, "minutes"), "cure_hours": _usual("0.5", 720, "hours"),
    "quote_valid_days": _usual(3, 366, "days"), "usual_working_days": _usual(1, 150, "working days"),
    "two_person_kg": _usual(8, 60, "kg"), "crate_most_kg": _usual(20, 2000, "kg"), "crate_kg": _usual(1, 400, "kg"),
    "waste_days_open": _usual(2, 730, "days"), "ammoniacal_limit_minutes": _usual(10, 240, "minutes"),
}
#: what a pack or a sheet costs, in a widely used money of a hard currency
_LEAST_PACK, _MOST_PACK = Decimal("0.5"), Decimal(3000)
#: what a length was meant in, where it was written without a unit: each in mm
_MEANT_IN = (("cm", Decimal(10)), ("m", Decimal(1000)))


def rate_question(column: str, value: Decimal | int, currency: str = "") -> str:
    """Return what to ask of a rate before it is taken, or "": “That is 0.35 %, which is unusual: is 35 % meant?”.

    value: in the unit of its column, a share as a part of one. Money of a currency of unknown worth is not asked about.
    """
    usual, figure = USUAL.get(column), Decimal(value)
    if usual is None or (figure == 0 and usual.zero):
        return ""
    worth = _WORTH.get(currency, 0) if usual.unit == "money" else 1
    if not worth or usual.least * worth <= figure <= usual.most * worth:
        return ""
    return f"That is {_shown(figure, usual.unit, currency)}, which is unusual: {_meant(usual, figure)}"


def bench_question(width_mm: Decimal, height_mm: Decimal, typed: str) -> str:
    """Return what to ask of a bench's size, or "". typed: as it was written, which may have left its unit out."""
    asked = [side for name, side in (("bench_width_mm", width_mm), ("bench_height_mm", height_mm))
             if rate_question(name, side)]
    if not asked:
        return ""
    shown = f"{plain(width_mm)} × {plain(height_mm)} mm"
    bare = not any(letter.isalpha() or letter in "\"'′″" for letter in typed.replace("x", "").replace("X", ""))
    units = _fitting_units(USUAL["bench_width_mm"], (width_mm, height_mm)) if bare else []
    if not units:
        return f"That is a bench of {shown}, which is unusual: is the unit right?"
    figures = f"{plain(width_mm)} × {plain(height_mm)}"
    return (f"That is a bench of {shown}, which is unusual: is {figures} {' or '.join(units)} meant? "
            "Then write the unit.")


def pack_price_question(price: Decimal, currency: str) -> str:
    """Return what to ask of the price of a pack or a sheet, or ""."""
    worth = _WORTH.get(currency, 0)
    if price == 0:
        return "That is a pack for nothing: is it meant so?"
    if worth and not worth * _LEAST_PACK <= price <= worth * _MOST_PACK:
        return f"That is {show_money(Fraction(price), currency)} for one, which is unusual: is it meant so?"
    return ""


def pack_question(amount: Decimal, unit: str) -> str:
    """Return what to ask of what a pack holds, or "". amount: in the material's unit; 1 g or mL to 250 kg or L."""
    if unit in ("g", "mL") and not 1 <= amount <= 250_000:
        return f"That is a pack of {plain(amount)} {unit}, which is unusual: is the unit right?"
    return ""


def sheet_question(width_mm: Fraction, height_mm: Fraction) -> str:
    """Return what to ask of the size of a stock sheet, or "": few are under 300 mm or over 6 m."""
    if min(width_mm, height_mm) < USUAL["bench_width_mm"].least:
        return f"That is a sheet of {show_size(width_mm, height_mm)}, which is unusual: is the unit right?"
    return ""


def _fitting_units(usual: Usual, figures: tuple[Decimal, ...]) -> list[str]:
    """Return the units in which bare figures would be usual lengths."""
    return [unit for unit, size in _MEANT_IN if all(usual.least <= figure * size <= usual.most for figure in figures)]


def _shown(figure: Decimal, unit: str, currency: str) -> str:
    if unit == "money":
        return show_money(Fraction(figure), currency)
    if unit == "%":
        return f"{plain(figure * 100)} %"
    return f"{plain(figure)} {unit.removesuffix('s') if figure == 1 else unit}"


def _meant(usual: Usual, figure: Decimal) -> str:
    if usual.unit == "%":
        return f"is {plain(figure * 10_000)} % meant?" if 0 < figure < usual.least else "is it meant so?"
    units = _fitting_units(usual, (figure,)) if usual.unit == "mm" and 0 < figure < usual.least else []
    return f"are {plain(figure)} {' or '.join(units)} meant?" if units else "is it meant so?"
