"""Bounds on every number that the framework reads, in forms, models and addresses, before it is made a number.

`bound_numbers` runs before any form or model is made: `studio.apps` calls it. So every form has them, also one that
the framework makes of a model, and the counts that come with the rows of a formset.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.urls.converters import IntConverter

from studio.kit.typed_numbers import (
    MOST_FIGURES,
    NUMBER,
    TOO_MUCH,
    NoNumber,
    is_plain,
    is_whole,
    read_decimal,
    read_whole,
)

TOO_MUCH_TO_BE_MEANT = "That is too much to be meant."


def bound_numbers() -> None:
    """Let the framework's fields of numbers, and numbers in addresses, take no more than the book does."""
    fields: tuple[tuple[Any, Callable[[str], Any]], ...] = (
        (forms.IntegerField, read_whole), (forms.DecimalField, read_decimal), (forms.FloatField, read_decimal),
    )
    for field, read in fields:
        field.to_python = _bounded(field.to_python, read)
    choices: Any = forms.ModelMultipleChoiceField
    choices.clean = _bounded_choices(choices.clean)
    IntConverter.regex = f"[0-9]{{1,{MOST_FIGURES}}}"


def _bounded_choices(made: Callable[[Any, Any], Any]) -> Callable[[Any, Any], Any]:
    """Refuse a choice by a number that no column holds: the framework would ask the database for it."""
    def clean(self: Any, value: Any) -> Any:
        by_number = self.to_field_name is None and isinstance(self.queryset.model._meta.pk, models.IntegerField)
        if by_number and not all(is_whole(str(one)) for one in value or ()):
            raise ValidationError(self.error_messages["invalid_choice"], code="invalid_choice")
        return made(self, value)

    return clean


def _bounded(made: Callable[[Any, Any], Any], read: Callable[[str], Any]) -> Callable[[Any, Any], Any]:
    def to_python(self: forms.Field, value: Any) -> Any:
        if isinstance(value, str) and value.strip():
            try:
                value = str(read(value))
            except NoNumber as refusal:
                own = self.error_messages["invalid"] if str(refusal) == NUMBER else str(refusal)
                raise ValidationError(own, code="invalid") from refusal
        number = made(self, value)
        if isinstance(number, Decimal) and (not is_plain(number) or abs(number) > TOO_MUCH):
            raise ValidationError(TOO_MUCH_TO_BE_MEANT, code="too_much")
        return number

    return to_python
