"""Keeping times that nothing has, and those that are asked about once. Pure."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

from studio.kit.errors import CannotBe
from studio.kit.rounding import decimal_string

DAY_MINUTES = 1440
_YEAR_MINUTES = Fraction(36525, 100) * DAY_MINUTES
ASKED_YEARS, MOST_YEARS = 10, 100


def lasting(minutes: Fraction) -> timedelta:
    """Return minutes as a span of the clock, exact to its microsecond."""
    return timedelta(microseconds=round(minutes * 60_000_000))


def keeping_question(minutes: Fraction) -> str:
    """Return what to ask of a keeping time past ten years; else "". Raises CannotBe past a hundred."""
    years = minutes / _YEAR_MINUTES
    if years > MOST_YEARS:
        raise CannotBe(f"Nothing keeps for {decimal_string(years, 0)} years.", "keeps_minutes")
    if years > ASKED_YEARS:
        return f"That is {decimal_string(years, 1)} years: does it really keep for more than {ASKED_YEARS}?"
    return ""
