"""Freeze plain values to JSON and read them back exactly: fractions as “p/q”, dates as ISO 8601."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any, TypeVar

from cattrs import Converter

Plain = TypeVar("Plain")


def converter() -> Converter:
    """Return a converter that writes and reads plain values exactly, to which more may be taught."""
    made = Converter(forbid_extra_keys=False)
    made.register_unstructure_hook(Fraction, str)
    made.register_structure_hook(Fraction, lambda value, _: Fraction(value))
    made.register_unstructure_hook(Decimal, lambda value: format(value, "f"))
    made.register_structure_hook(Decimal, lambda value, _: Decimal(value))
    made.register_unstructure_hook(date, date.isoformat)
    made.register_structure_hook(date, lambda value, _: date.fromisoformat(value))
    made.register_unstructure_hook(frozenset, sorted)
    made.register_unstructure_hook_func(lambda kind: kind == frozenset[str], sorted)
    return made


_converter = converter()


def freeze(value: Any) -> Any:
    """Return a dataclass as JSON values."""
    return _converter.unstructure(value)


def thaw(content: Any, kind: type[Plain]) -> Plain:
    """Return the dataclass that was frozen."""
    return _converter.structure(content, kind)
