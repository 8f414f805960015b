"""Form fields for what people type in their own way: dates, moments, money, percent.

Each shows its value as it reads it, and reads whatever it shows.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from studio.house.clock import house_zone, now, today
from studio.house.models import House, HouseRates
from studio.kit.rounding import plain
from studio.kit.typed_dates import FARTHEST_YEARS, DayReader, NoDate, Towards, day_first, show_day, show_day_in_full
from studio.kit.typed_money import NoMoney, read_money, show_typed_money

_ISO_MOMENT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d")


def day_reader(towards: Towards = "ahead") -> DayReader:
    """Return how the studio reads dates today: its country's order of day and month."""
    return DayReader(today=today(), towards=towards,
                     day_first=lambda: day_first(str(house_zone()), House.unit_preference()))


def read_back_of_day(text: str, towards: Towards) -> str:
    """Return “Read as Mon 1 Feb 2027”, or why it cannot be read; nothing for nothing."""
    if not text.strip():
        return ""
    try:
        return f"Read as {show_day_in_full(day_reader(towards).read(text))}"
    except NoDate as refusal:
        return str(refusal)


def read_back_of_moment(text: str, towards: Towards) -> str:
    """Return “Read as Mon 1 Feb 2027, 14:30”, or why it cannot be read; nothing for nothing."""
    if not text.strip():
        return ""
    try:
        day, at = day_reader(towards).read_moment(text, timezone.localtime(now(), house_zone()).time())
    except NoDate as refusal:
        return str(refusal)
    return f"Read as {show_day_in_full(day)}, {at:%H:%M}"


#: one line of help for a date, by which way it lies
EXAMPLES: dict[Towards, str] = {
    "ahead": "For instance 1 Feb, tomorrow or in 3 weeks.", "back": "For instance today, Friday or 1 Feb.",
    "near": "For instance 1 Feb, today or 1 Feb 2027.",
}


class ReadBack(forms.TextInput):
    """A text input with what was read beside it, in words: at once where htmx is, with the page where it is not."""

    def __init__(self, kind: str, towards: Towards, back: Callable[[str, Towards], str], show: Callable[[Any], str],
                 attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"autocomplete": "off", **(attrs or {})})
        self.kind, self.towards, self.back, self.show = kind, towards, back, show

    def format_value(self, value: Any) -> str | None:
        return self.show(value) if isinstance(value, date) else super().format_value(value)

    def render(self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None) -> SafeString:
        asked = {
            "hx-get": f"{reverse('studio:read_back')}?kind={self.kind}&towards={self.towards}&of={name}",
            "hx-trigger": "change", "hx-target": "next .read-as", "hx-swap": "outerHTML", "hx-sync": "this:replace",
            "hx-include": "this",
        }
        box = super().render(name, value, {**asked, **(attrs or {})}, renderer)
        typed = value if isinstance(value, str) else ""
        back = self.back(typed, self.towards) if typed else ""
        return format_html("{}{}", box, reading(back if back.startswith("Read as") else ""))


def reading(back: str) -> SafeString:
    """Return what was read, to stand under its field: green where it was understood."""
    understood = back.startswith("Read as") or not back
    return format_html('<span class="{}" aria-live="polite">{}</span>',
                       "read-as understood" if understood else "read-as not-read", back)


class DayField(forms.DateField):
    """A date as people type it. towards: which way one without its year lies."""

    def __init__(self, *, towards: Towards = "ahead", **more: Any) -> None:
        self.towards = towards
        more.setdefault("help_text", EXAMPLES[towards])
        more.setdefault("widget", ReadBack("day", towards, read_back_of_day, show_day))
        super().__init__(**more)

    def to_python(self, value: Any) -> date | None:
        if not isinstance(value, str):
            return super().to_python(value)
        if not value.strip():
            return None
        try:
            return day_reader(self.towards).read(value)
        except NoDate as refusal:
            raise forms.ValidationError(str(refusal), code="invalid") from refusal

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return bool(self.to_python(data) != (initial() if callable(initial) else initial))
        except forms.ValidationError:
            return True


def _show_moment(moment: date) -> str:
    if not isinstance(moment, datetime):
        return show_day(moment)
    local = timezone.localtime(moment, house_zone()) if timezone.is_aware(moment) else moment
    return f"{show_day(local.date())} {local:%H:%M}"


class MomentField(forms.DateTimeField):
    """A day and a time as people type them, in the studio's zone; a time alone is today's."""

    def __init__(self, *, towards: Towards = "back", **more: Any) -> None:
        self.towards = towards
        more.setdefault("widget", ReadBack("moment", towards, read_back_of_moment, _show_moment))
        super().__init__(**more)

    def to_python(self, value: Any) -> datetime | None:
        if not isinstance(value, str):
            return super().to_python(value)
        if not value.strip():
            return None
        if _ISO_MOMENT.match(value.strip()):  # as a program, or a page of before, wrote it
            with suppress(ValueError):
                moment = datetime.fromisoformat(value.strip())
                if abs(moment.year - today().year) <= FARTHEST_YEARS:
                    return super().to_python(moment)
        try:
            day, at = day_reader(self.towards).read_moment(value, timezone.localtime(now(), house_zone()).time())
        except NoDate as refusal:
            raise forms.ValidationError(str(refusal), code="invalid") from refusal
        return super().to_python(datetime.combine(day, at))


class PercentField(forms.DecimalField):
    """A share typed and shown in percent, “35” or “35 %”; its value is between 0 and 1."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**{"min_value": 0, "max_value": 1, "widget": forms.TextInput(), **more})
        self.widget.attrs.setdefault("inputmode", "decimal")
        for limit, words in (("min_value", "At least"), ("max_value", "At most")):  # typed, and said, in percent
            if (share := getattr(self, limit)) is not None:
                self.error_messages.setdefault(limit, f"{words} {plain(Decimal(str(share)) * 100)} %%.")

    def prepare_value(self, value: Any) -> Any:
        return f"{plain(value * 100)} %" if isinstance(value, Decimal) else value

    def to_python(self, value: Any) -> Any:
        typed = super().to_python(_point(value.strip().removesuffix("%").strip()) if isinstance(value, str) else value)
        return typed / 100 if typed is not None and isinstance(value, str) else typed


def _point(text: str) -> str:
    """Return a decimal comma as a point, where nothing else can be meant: “7,5”."""
    return text.replace(",", ".") if text.count(",") == 1 and "." not in text else text


class MoneyField(forms.DecimalField):
    """Money as people type it: “£1,250.50”, “1250.5”. Shown with the sign of its currency.

    currency: the code; where a form gives none, that of the newest rates is asked for when it is needed. also: another
    code whose sign is taken, where the form at hand changes the currency.
    """

    def __init__(self, *, currency: str = "", **more: Any) -> None:
        super().__init__(**{"min_value": 0, "max_digits": 14, "decimal_places": 4, "widget": forms.TextInput(), **more})
        self.widget.attrs.setdefault("inputmode", "decimal")
        self.currency, self.also = currency, ""

    def _code(self) -> str:
        return self.currency or HouseRates.objects.values_list("currency", flat=True).first() or ""

    def prepare_value(self, value: Any) -> Any:
        return show_typed_money(Fraction(value), self._code()) if isinstance(value, Decimal) else value

    def to_python(self, value: Any) -> Any:
        if not isinstance(value, str) or not value.strip():
            return super().to_python(value)
        codes = [code for code in (self.currency, self.also) if code]
        try:
            return super().to_python(str(read_money(value, codes or self._code)))
        except NoMoney as refusal:
            raise forms.ValidationError(str(refusal), code="invalid") from refusal

