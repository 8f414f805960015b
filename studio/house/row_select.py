"""Selects of many rows with the same options: their options are written once a page and only marked in each row."""

from __future__ import annotations

from typing import Any

from django import forms
from django.forms.utils import flatatt
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

Choices = list[tuple[Any, Any]]


class RowOptions:
    """The options of one field, as they stand in every row's select."""

    def __init__(self, choices: Choices) -> None:
        self.written = format_html_join("", "{}", ((_group(value, label),) for value, label in choices))

    def with_chosen(self, value: Any) -> SafeString:
        """Return the options with one of them selected; none where it is not among them."""
        chosen = f'<option value="{conditional_escape("" if value is None else value)}">'
        marked = self.written.replace(chosen, f"{chosen[:-1]} selected>", 1)
        return mark_safe(marked)  # noqa: S308  # both parts were escaped where they were written


def _group(value: Any, label: Any) -> SafeString:
    if isinstance(label, list | tuple):
        inside = format_html_join("", "{}", ((_option(inner, words),) for inner, words in label))
        return format_html('<optgroup label="{}">{}</optgroup>', value, inside)
    return _option(value, label)


def _option(value: Any, label: Any) -> SafeString:
    return format_html('<option value="{}">{}</option>', "" if value is None else value, label)


class RowSelect(forms.Select):
    """A select whose options are those of every other row."""

    row_options: RowOptions | None = None

    def render(self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None) -> SafeString:
        if self.row_options is None:
            return super().render(name, value, attrs, renderer)
        given = flatatt(self.build_attrs(self.attrs, attrs))
        return format_html('<select name="{}"{}>{}</select>', name, given, self.row_options.with_chosen(value))
