"""How plain values are frozen to JSON and read back exactly: fractions as “p/q”, dates as ISO 8601.

What is frozen says its format, and each format keeps its reader: where a field was renamed since, the reader of the
earlier format finds it under the old name.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any, TypeVar

from cattrs import Converter
from cattrs.gen import make_dict_structure_fn, override

Plain = TypeVar("Plain")


def converter() -> Converter:
    """Return a converter that writes and reads plain values exactly, to which further types may be added."""
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


#: Names of fields in the first format, by their names today.
_FIRST_NAMES = {
    "version": "issue", "version_number": "issue_number", "in_use": "issued", "overspray_mm": "border_mm",
    "scales_with_strength": "active", "reacts_as": "agent_classes", "smallest_offcut_mm": "keep_size_mm",
}


def _first_reader() -> Converter:
    """Return a converter that reads dataclasses as the first format wrote them."""
    made = converter()

    def read_by_first_names(kind: Any) -> Callable[[Any, Any], Any]:
        renamed = {
            field.name: override(rename=_FIRST_NAMES[field.name])
            for field in fields(kind) if field.name in _FIRST_NAMES
        }
        return make_dict_structure_fn(kind, made, **renamed)  # type: ignore[arg-type]  # fields by their names

    made.register_structure_hook_factory(is_dataclass, read_by_first_names)
    return made


FORMAT = 2
_converter = converter()
_READERS = {1: _first_reader(), FORMAT: _converter}


def freeze(value: Any) -> Any:
    """Return a dataclass as JSON values, with the format they are in."""
    return {"format": FORMAT, **_converter.unstructure(value)}


def thaw(content: Any, kind: type[Plain]) -> Plain:
    """Return the dataclass that was frozen, read as its format was written: without a word of it, the first."""
    return _READERS[content.get("format", 1)].structure(content, kind)
