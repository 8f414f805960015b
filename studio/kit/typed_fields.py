"""Form fields for values typed with their units: what was typed is kept beside the exact value it stands for.

A field's cleaned value is a `Typed`; shown again unchanged it reads to the same value,
since a unit left out is written down with the studio's own.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.utils.html import format_html
from django.utils.safestring import SafeString

from studio.kit.bounded_fields import TOO_MUCH_TO_BE_MEANT
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal, decimal_string
from studio.kit.typed_numbers import TOO_MUCH
from studio.kit.typed_values import KINDS, Kind, Typed
from studio.kit.units import NotUnderstood


class WithReading(forms.TextInput):
    """A text input that says beside it what a bare number was read as: “Read as 500 mL/m²”."""

    def __init__(self, kind: Kind) -> None:
        super().__init__({"autocomplete": "off", "placeholder": kind.example.split(",")[0]})
        self.kind, self.preference = kind, "metric"

    def render(self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None) -> SafeString:
        box = super().render(name, value, attrs, renderer)
        back = self._back(value)
        return format_html('{}<span class="read-as">Read as {}</span>', box, back) if back else box

    def _back(self, value: Any) -> str:
        """Return a bare number with the unit it was read in; "" where its unit stands there, or none is meant."""
        text = str(value or "").strip()
        if not self.kind.kept_in or not text or any(letter.isalpha() or letter in "°'\"" for letter in text):
            return ""
        try:
            return self.kind.show(self.kind.read(text, self.preference), self.preference)
        except DaybookError:
            return ""


class TypedField(forms.CharField):
    """A value of one kind, typed with its unit. default: what an empty field stands for (None: nothing)."""

    def __init__(self, kind: str, *, default: Decimal | int | None = None, above_zero: bool = False,
                 **more: Any) -> None:
        more.setdefault("max_length", 60)
        more.setdefault("widget", WithReading(KINDS[kind]))
        super().__init__(required=False, **more)
        self.kind, self.default, self.above_zero = KINDS[kind], default, above_zero
        self.preference = "metric"

    def clean(self, value: Any) -> Typed:
        text = str(super().clean(value)).strip()
        if not text:
            return Typed(None if self.default is None else Decimal(self.default), "")
        try:
            exact = self.kind.read(text, self.preference)
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if abs(exact) > TOO_MUCH:
            raise forms.ValidationError(TOO_MUCH_TO_BE_MEANT)
        if exact < 0 and self.kind is not KINDS["temperature"]:
            raise forms.ValidationError("It cannot be below zero.")
        kept = as_decimal(exact, self.kind.decimals)
        if self.above_zero and kept <= 0:
            raise forms.ValidationError("It must be above zero.")
        return Typed(kept, self._with_unit(text, exact))

    def _with_unit(self, text: str, exact: Fraction) -> str:
        """Return the text as typed; with the studio's unit written down where it was left out."""
        other = "us" if self.preference == "metric" else "metric"
        try:
            plain = self.kind.read(text, other) == exact
        except NotUnderstood:
            plain = True
        return text if plain else self.kind.show(exact, self.preference)

    def shown(self, value: Decimal | None, text: str = "") -> str:
        """Return what the field shows for a kept value, without drift: it reads back to just that value.

        As typed where that still stands for it, else as the studio shows it, else in full in the unit it is kept in.
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
    """Let every typed field of a form read and show in the studio's preference."""
    for field in form.fields.values():
        if isinstance(field, TypedField):
            field.preference = preference
            if isinstance(field.widget, WithReading):
                field.widget.preference = preference


def typed_texts(cleaned: Mapping[str, Any]) -> dict[str, str]:
    """Return what was typed, by field, where something was."""
    return {name: value.text for name, value in cleaned.items() if isinstance(value, Typed) and value.text}
