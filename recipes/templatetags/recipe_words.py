"""Words of recipes for templates."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from django import template

from recipes.value_words import strength_words

register = template.Library()


@register.filter
def strength_in_words(strength: Decimal | Fraction) -> str:
    """Return “double strength”, or “1.5 × strength”."""
    return strength_words(Fraction(strength))
