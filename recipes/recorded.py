"""What is recorded at the bench beside what was planned: what is far off is asked about before it is saved. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Protocol

from studio.kit.rounding import decimal_string

#: so many times too much, or too little, is mostly a slip of the decimal point or of the unit
FAR_OFF = 10


class HasRange(Protocol):
    """A step of a ticket or of a recipe: what it is for, in °C, and how it is named."""

    @property
    def number(self) -> int: ...
    @property
    def name(self) -> str: ...
    @property
    def temperature_low_c(self) -> Fraction | None: ...
    @property
    def temperature_high_c(self) -> Fraction | None: ...


def amount_question(name: str, unit: str, planned: Decimal, used: Decimal, says: str = "the ticket says") -> str:
    """Return what to ask of an amount that is ten times the planned one or more, a tenth of it or less; else "".

    says: who planned it, and a verb.
    """
    if planned <= 0:
        return ""
    planned_amount = f"{says} {decimal_string(Fraction(planned))} {unit}"
    if used == 0:
        return f"No {name} at all, and {planned_amount}: is that right?"
    if used >= FAR_OFF * planned:
        return f"{decimal_string(Fraction(used))} {unit} of {name} is ten times too much or more: {planned_amount}."
    if used * FAR_OFF <= planned:
        return f"{decimal_string(Fraction(used))} {unit} of {name} is ten times too little or more: {planned_amount}."
    return ""


def temperature_question(measured_c: Decimal, steps: Iterable[HasRange], what: str = "The glass is") -> str:
    """Return what to ask of glass or solutions that are colder or warmer than a step's own range; else ""."""
    for step in steps:
        low, high = step.temperature_low_c, step.temperature_high_c
        if (low is not None and measured_c < low) or (high is not None and measured_c > high):
            return (f"{what} at {decimal_string(Fraction(measured_c))} °C, and step {step.number}, {step.name}, is "
                    f"for {_range(low, high)}.")
    return ""


def _range(low: Fraction | None, high: Fraction | None) -> str:
    if low is not None and high is not None:
        return f"{decimal_string(low)} to {decimal_string(high)} °C"
    if low is not None:
        return f"{decimal_string(low)} °C or more"
    return f"{decimal_string(high or Fraction(0))} °C or less"
