"""Figures as they are read: money, amounts, shares, times, sizes. All take fractions, decimals or decimal strings."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import template
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from studio.house.clock import today
from studio.house.form_keys import NAME, fresh_key
from studio.kit import currencies
from studio.kit.rounding import half_up, places
from studio.kit.units import show_coverage, show_length, show_size, show_stock, show_temperature, show_volume, unit_of

register = template.Library()
Figure = Fraction | Decimal | str | int | None


def _fraction(value: Figure) -> Fraction:
    return Fraction(value) if value not in (None, "") else Fraction(0)


def _grouped(value: Fraction, digits: int) -> str:
    rounded = half_up(value, places(digits))
    return f"{Decimal(rounded.numerator) / Decimal(rounded.denominator):,.{digits}f}"


@register.filter
def money(value: Figure, currency: str = "", digits: int | None = None) -> str:
    """Return money with its currency's sign and decimals (ISO 4217), half up: “£1,116.75”, “−£5.00”, “CHF 12.00”.

    digits: more decimals than the currency has, for a figure before it is rounded.
    """
    return currencies.show_money(_fraction(value), str(currency), digits)


@register.filter
def amount(value: Figure, digits: int = 3) -> str:
    """Return an amount, half up to so many decimals, without trailing zeros."""
    shown = _grouped(_fraction(value), int(digits))
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


@register.filter
def amount_of(value: Figure, stock_unit: str) -> str:
    """Return an exact amount of stock with its unit: “912.5 mL”, “1 sheet”, “2 sheets”."""
    return f"{amount(value)} {unit_of(_fraction(value), str(stock_unit))}".rstrip()


@register.filter
def amount_plain(value: Figure) -> str:
    """Return an amount as it is typed: no thousands marks."""
    return amount(value).replace(",", "")


@register.filter
def percent(value: Figure, digits: int = 1) -> str:
    return f"{amount(_fraction(value) * 100, digits)} %"


@register.filter
def duration(minutes: Figure) -> str:
    """Return minutes as people say them: “30 s”, “5 min”, “1 h 20 min”, “14 days”."""
    seconds = int(half_up(_fraction(minutes) * 60, Fraction(1)))
    if seconds < 60 or (seconds < 120 and seconds % 60):
        return f"{seconds} s"
    if seconds < 3600:
        return f"{seconds // 60} min" + (f" {seconds % 60} s" if seconds % 60 else "")
    if seconds % 86400 == 0 and seconds >= 172800:
        return f"{seconds // 86400} days"
    whole_minutes = seconds // 60
    return f"{whole_minutes // 60} h" + (f" {whole_minutes % 60} min" if whole_minutes % 60 else "")


@register.filter
def stood(minutes: int) -> str:
    """Return how long something has stood, in whole minutes: “0 min”, “59 min”, “1 h 5 min”."""
    hours, rest = divmod(int(minutes), 60)
    return f"{hours} h {rest} min" if hours else f"{rest} min"


@register.filter
def day(on: date | None) -> str:
    """Return a day as people say it: “Tue 1 Dec”, with its year where that is another: “Sat 8 May 2027”."""
    if on is None:
        return ""
    return date_format(on, "D j M" if on.year == today().year else "D j M Y")


@register.filter
def as_length(length_mm: Figure, units: str = "metric") -> str:
    return show_length(_fraction(length_mm), units)


@register.filter
def as_coverage(ml_per_m2: Figure, units: str = "metric") -> str:
    return show_coverage(_fraction(ml_per_m2), units)


@register.filter
def as_volume(volume_ml: Figure, units: str = "metric") -> str:
    return show_volume(_fraction(volume_ml), units)


@register.filter
def as_read(quantity: Figure, stock_unit: str) -> str:
    """Return an amount of stock for reading, not for weighing: “78.1 L”, “674 g”, “17 sheets”."""
    return show_stock(_fraction(quantity), str(stock_unit))


@register.filter
def as_temperature(degrees_c: Figure, units: str = "metric") -> str:
    return show_temperature(_fraction(degrees_c), units)


@register.simple_tag
def size(shape: str, width_mm: Figure, height_mm: Figure, units: str = "metric") -> str:
    """Return “610 × 915 mm”, or “Ø 762 mm” for a circle."""
    return show_size(_fraction(width_mm), _fraction(height_mm), units, round_=shape == "circle")


@register.simple_tag
def sizes_in_turn(sizes: Iterable[tuple[Figure, Figure]], units: str = "metric") -> str:
    """Return sizes one after the other: “600 × 900 mm, then 900 × 1,200 mm”."""
    return ", then ".join(size("rectangle", width, height, units) for width, height in sizes)


@register.filter
def millimetres(value: float) -> str:
    """Return a length for a stylesheet, whatever the language says of decimals."""
    return f"{value:.2f}mm"


@register.filter
def at_strength(strength: Decimal | Fraction) -> str:
    """Return “, 2 × strength”, or nothing where it is as written."""
    return "" if strength == 1 else f", {amount(strength, 6)} × strength"


@register.filter
def figure_or_words(shown: Fraction | str) -> str:
    """Return a figure to four significant decimals, or the sentence that stands in its place."""
    return shown if isinstance(shown, str) else amount(shown, 4)


@register.filter
def signed(value: Figure, digits: int = 3) -> str:
    """Return an amount with its sign in front, a real minus."""
    fraction = half_up(_fraction(value), places(int(digits)))
    return _sign(fraction) + amount(abs(fraction), digits)


@register.filter
def signed_of(value: Figure, stock_unit: str) -> str:
    """Return a difference of stock with its sign and its unit: “+0.2 g”, “−1 sheet”, “0 sheets”."""
    return f"{signed(value)} {unit_of(_fraction(value), str(stock_unit))}".rstrip()


@register.filter
def unit_price(value: Figure, currency: str = "") -> str:
    """Return money per unit of stock, to six decimals where it has them: “£1.29”, “£0.036425”."""
    exact = _fraction(value)
    fewest = currencies.decimals(str(currency)) if currency else 2
    digits = next((n for n in range(fewest, 6) if half_up(exact, places(n)) == half_up(exact, places(6))), 6)
    return money(exact, currency, digits)


@register.filter
def signed_money(value: Figure, currency: str = "") -> str:
    """Return money as a difference: its plus or minus in front, none where it rounds to nothing."""
    shown = money(value, currency)
    nothing = shown == money(0, currency)
    return shown if nothing or shown.startswith("−") else f"+{shown}"


def _sign(value: Fraction) -> str:
    return "+" if value > 0 else "−" if value < 0 else ""


@register.filter
def times(value: Figure, other: Figure) -> Fraction:
    return _fraction(value) * _fraction(other)


@register.filter
def minus(value: Figure, other: Figure) -> Fraction:
    return _fraction(value) - _fraction(other)


@register.filter
def entry(mapping: dict[Any, Any], key: Any) -> Any:
    """Return a mapping's value by key, for a key that a template holds."""
    return mapping.get(key) if mapping else None


@register.filter
def named_by(keys: Iterable[Any], names: dict[Any, Any]) -> str:
    """Return the names of several keys: “acid, oxidiser”."""
    return ", ".join(str(names.get(key)) for key in keys)


@register.simple_tag
def qr(address: str) -> SafeString:
    """Return a QR code (ISO/IEC 18004, correction M) as inline SVG with its quiet zone of 4 modules."""
    import segno

    return mark_safe(segno.make(address, error="m", micro=False).svg_inline(border=4, omitsize=True))


@register.simple_tag(takes_context=True)
def saves_of(context: template.Context, row: Any) -> object:
    """Return the count of saves that a row's form carries: as it was sent or, once that was shown, as it is now.

    A form for what is not there yet carries nothing.
    """
    request = context["request"]
    sent = request.POST.get("saves", getattr(row, "saves", ""))
    return getattr(request, "saves_now", sent)


@register.simple_tag
def form_key() -> SafeString:
    """Return a form's hidden key, new: what the form sends counts once."""
    return format_html('<input type="hidden" name="{}" value="{}">', NAME, fresh_key())
