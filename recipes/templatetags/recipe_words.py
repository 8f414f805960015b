"""Words of recipes for templates."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from django import template

from recipes.facts import PartFacts, Shelf
from recipes.value_words import strength_words
from studio.inventory.models import Posting
from studio.rounding import decimal_string, half_up
from studio.typed_values import show_time

register = template.Library()


@register.filter
def strength_in_words(strength: Decimal | Fraction) -> str:
    """Return “double strength”, or “1.5 × strength”."""
    return strength_words(Fraction(strength))


@register.filter
def solution_of(part: PartFacts, shelf: Shelf) -> str:
    """Return the name and issue of a part's solution."""
    solution = shelf.solutions[part.solution]
    return f"{solution.name}, issue {solution.issue_number}"


@register.filter
def seconds_as_time(seconds: int) -> str:
    minutes, rest = divmod(seconds, 60)
    return f"{minutes} min {rest} s" if minutes and rest else show_time(Fraction(seconds, 60))


@register.filter
def whole_seconds(minutes: Fraction) -> int:
    return int(half_up(Fraction(minutes) * 60, Fraction(1)))


@register.filter
def plain_figure(value: Fraction) -> str:
    """Return a place in a drawing."""
    return decimal_string(Fraction(value), 3)


@register.filter
def was_reversed(posting: Posting) -> bool:
    """Say whether everything a posting moved was moved back (prefetch its movements)."""
    return all(getattr(movement, "reversed_by", None) is not None for movement in posting.movements.all())
