"""Swatch books that were printed."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from studio.stockroom.models import Material


class SwatchBook(models.Model):
    """What the customers' swatch book says beside the finishes: its two typical sizes, glass and edge. One row."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    foreword = models.TextField(blank=True)
    small_size_text = models.CharField(max_length=60, default="600 x 900 mm")
    large_size_text = models.CharField(max_length=60, default="1000 x 1600 mm")
    glass = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, related_name="+")
    edge = models.CharField(max_length=40, blank=True)
    shows_prices = models.BooleanField(default=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="there_is_one_swatch_book")]

    def __str__(self) -> str:
        return "the swatch book"
