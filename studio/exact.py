"""One field class for exact amounts: a whole number in small units, a Decimal in Python.

Stock in thousandths of the stock unit, money in ten-thousandths, unit costs,
ratios, coverage and minutes in millionths, lengths in millionths of a millimetre
(1/64 inch is 396 875 nm; micrometres cannot hold 1/16 inch).
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from django import forms
from django.core import validators
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import ExpressionWrapper, F

from studio.kit.rounding import as_decimal, plain
from studio.kit.typed_numbers import is_plain

STOCK_DECIMALS, MONEY_DECIMALS, RATIO_DECIMALS, LENGTH_DECIMALS = 3, 4, 6, 6
_BIGGEST = 2**63 - 1

if TYPE_CHECKING:
    _Field = models.Field[Any, Any]
else:
    _Field = models.Field


class ExactField(_Field):
    """A Decimal with a fixed number of decimals, stored as a 64-bit whole number.

    It is no integer field: Django then refuses products of two such columns, which
    would mix scales; they are worked out in Python. A value with more decimals than
    the column holds is refused, never rounded in silence.
    """

    empty_strings_allowed = False

    def __init__(self, *args: Any, decimals: int, **kwargs: Any) -> None:
        self.decimals = decimals
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        return name, path, args, {**kwargs, "decimals": self.decimals}

    def get_internal_type(self) -> str:
        return "BigIntegerField"

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Decimal | None:
        return None if value is None else Decimal(int(value)).scaleb(-self.decimals)

    def to_python(self, value: Any) -> Decimal | None:
        if value is None or isinstance(value, Decimal):
            return value
        if isinstance(value, Fraction):
            return as_decimal(value, self.decimals)
        if isinstance(value, float):
            raise ValidationError("An amount never travels as a float.", code="float")
        try:
            return Decimal(str(value))
        except InvalidOperation as wrong:
            raise ValidationError("“%(value)s” is not a number.", code="invalid", params={"value": value}) from wrong

    def get_prep_value(self, value: Any) -> int | None:
        value = super().get_prep_value(value)
        if value is None:
            return None
        amount = self.to_python(value)
        assert amount is not None
        if not amount.is_finite():
            raise ValidationError("An amount must be a finite number.", code="invalid")
        if not is_plain(amount):
            raise ValidationError("That is too much to be meant.", code="too_large")
        numerator, denominator = amount.scaleb(self.decimals).as_integer_ratio()
        if denominator != 1:
            raise ValidationError(
                "%(value)s has more than %(decimals)s decimals.", code="decimals",
                params={"value": value, "decimals": self.decimals},
            )
        if abs(numerator) > _BIGGEST:
            raise ValidationError("%(value)s is too large.", code="too_large", params={"value": value})
        return numerator

    def get_db_prep_save(self, value: Any, connection: Any) -> Any:
        if hasattr(value, "resolve_expression"):
            raise TypeError(f"{self.name}: work exact amounts out in Python, not by an F expression.")
        return super().get_db_prep_save(value, connection)

    def validate(self, value: Any, model_instance: Any) -> None:
        super().validate(value, model_instance)
        self.get_prep_value(value)

    def value_to_string(self, obj: models.Model) -> str:
        return str(self.value_from_object(obj))

    def formfield(self, **kwargs: Any) -> Any:
        return super().formfield(**{
            "form_class": forms.DecimalField, "decimal_places": self.decimals, **kwargs,
        })


def stock_field(**kwargs: Any) -> ExactField:
    """A quantity in a material's stock unit."""
    return ExactField(decimals=STOCK_DECIMALS, **kwargs)


def money_field(**kwargs: Any) -> ExactField:
    return ExactField(decimals=MONEY_DECIMALS, **kwargs)


def ratio_field(**kwargs: Any) -> ExactField:
    """A unit cost, ratio, share, strength, coverage or number of minutes."""
    return ExactField(decimals=RATIO_DECIMALS, **kwargs)


def share_field(**kwargs: Any) -> ExactField:
    """A ratio between 0 and 1."""
    bounds = [validators.MinValueValidator(0), validators.MaxValueValidator(1)]
    return ExactField(decimals=RATIO_DECIMALS, validators=bounds, **kwargs)


def length_field(**kwargs: Any) -> ExactField:
    """A length in millimetres."""
    return ExactField(decimals=LENGTH_DECIMALS, **kwargs)


def as_kept(column: str) -> ExpressionWrapper[F]:
    """Return the whole number that an exact column keeps, for `values_list`: of long tables no Decimal is made."""
    return ExpressionWrapper(F(column), output_field=models.BigIntegerField())


@lru_cache(maxsize=1 << 14)
def plain_of(kept: int, decimals: int) -> str:
    """Return a whole number in small units as `plain` writes its Decimal: 12500 with three decimals is “12.5”."""
    return plain(Decimal(kept).scaleb(-decimals))


def exactly(value: Decimal | None) -> Fraction | None:
    """Return a stored Decimal as a fraction, for the computation."""
    return None if value is None else Fraction(value)
