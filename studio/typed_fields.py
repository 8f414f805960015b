"""Form fields for values typed with their units: what was typed is kept beside the exact value it stands for.

A field's cleaned value is a `Typed`; shown again unchanged it reads to the same value,
since a unit left out is written down with the house's own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from studio.errors import DaybookError
from studio.exact import LENGTH_DECIMALS, RATIO_DECIMALS, STOCK_DECIMALS
from studio.rounding import as_decimal, decimal_string
from studio.units import (
    NotUnderstood,
    amount_in,
    plain_number,
    share_of,
    show_coverage,
    show_length,
    show_temperature,
    show_volume,
    temperature_c,
)

TOO_MUCH = 10**12


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
    return amount_in(text, "length", "mm" if preference == "metric" else "in")


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
    "coverage": Kind(kept_in="mL/m2", decimals=RATIO_DECIMALS, read=_amount("coverage"), show=show_coverage,
                     example="300 mL/m2, 8 fl oz/ft2, 2 mm deep"),
    "volume": Kind(kept_in="mL", decimals=STOCK_DECIMALS, read=_amount("volume"), show=show_volume, example="20 mL, 1 fl oz"),
    "length": Kind(kept_in="mm", decimals=LENGTH_DECIMALS, read=_length, show=show_length, example="50 mm, 2 in"),
    "temperature": Kind(kept_in="°C", decimals=RATIO_DECIMALS, read=temperature_c, show=show_temperature, example="20 °C, 68 °F"),
    "share": Kind(kept_in="", decimals=RATIO_DECIMALS, read=lambda text, _: share_of(text),
                  show=lambda share, _: f"{decimal_string(share * 100, 4)} %", example="10 %"),
    "number": Kind(kept_in="", decimals=RATIO_DECIMALS, read=lambda text, _: plain_number(text),
                   show=lambda number, _: decimal_string(number, 6), example="2, 1/2"),
    "strength": Kind(kept_in="", decimals=RATIO_DECIMALS, read=strength_of,
                     show=lambda strength, _: decimal_string(strength, 6), example="1, double, 1/2"),
}


class TypedField(forms.CharField):
    """A value of one kind, typed with its unit. default: what an empty field stands for (None: nothing)."""

    def __init__(self, kind: str, *, default: Decimal | int | None = None, above_zero: bool = False,
                 **more: Any) -> None:
        more.setdefault("max_length", 60)
        super().__init__(required=False, **more)
        self.kind, self.default, self.above_zero = KINDS[kind], default, above_zero
        self.preference = "metric"
        self.widget.attrs.update({"autocomplete": "off", "placeholder": self.kind.example.split(",")[0]})

    def clean(self, value: Any) -> Typed:
        text = str(super().clean(value)).strip()
        if not text:
            return Typed(None if self.default is None else Decimal(self.default), "")
        try:
            exact = self.kind.read(text, self.preference)
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if abs(exact) > TOO_MUCH:
            raise forms.ValidationError("That is too much to be meant.")
        if exact < 0 and self.kind is not KINDS["temperature"]:
            raise forms.ValidationError("It cannot be below zero.")
        kept = as_decimal(exact, self.kind.decimals)
        if self.above_zero and kept <= 0:
            raise forms.ValidationError("It must be above zero.")
        return Typed(kept, self._with_unit(text, exact))

    def _with_unit(self, text: str, exact: Fraction) -> str:
        """Return the text as typed; with the house's unit written down where it was left out."""
        other = "us" if self.preference == "metric" else "metric"
        try:
            plain = self.kind.read(text, other) == exact
        except NotUnderstood:
            plain = True
        return text if plain else self.kind.show(exact, self.preference)

    def shown(self, value: Decimal | None, text: str = "") -> str:
        """Return what the field shows for a kept value, without drift: it reads back to just that value.

        As typed where that still stands for it, else as the house shows it, else in full in the unit it is kept in.
        """
        if value is None or (value == 0 and not text and not self.default):
            return ""
        exact = Fraction(value)
        ways = (text, self.kind.show(exact, self.preference), self.kind.show(exact, "metric"))
        return next((way for way in ways if self._reads_to(way, value)),
                    f"{decimal_string(exact)} {self.kind.kept_in}".strip())

    def _reads_to(self, text: str, value: Decimal) -> bool:
        try:
            return bool(text) and as_decimal(self.kind.read(text, self.preference), self.kind.decimals) == value
        except DaybookError:
            return False


def set_preference(form: forms.BaseForm, preference: str) -> None:
    """Let every typed field of a form read and show in the house's preference."""
    for field in form.fields.values():
        if isinstance(field, TypedField):
            field.preference = preference


def typed_texts(cleaned: Mapping[str, Any]) -> dict[str, str]:
    """Return what was typed, by field, where something was."""
    return {name: value.text for name, value in cleaned.items() if isinstance(value, Typed) and value.text}
