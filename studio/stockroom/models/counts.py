"""What is ordered, counted and kept: purchases, count sheets, offcuts."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.exact import length_field, stock_field
from studio.stockroom.models.lots import Lot, Posting, Reservation
from studio.stockroom.models.materials import Material


class Purchase(models.Model):
    """Something ordered from a supplier; the lot it came as closes it, or a reason to cancel it."""

    material = models.ForeignKey(Material, models.PROTECT, related_name="purchases")
    quantity = stock_field()
    supplier = models.CharField(max_length=80, blank=True)
    ordered_on = models.DateField()
    due_on = models.DateField(null=True, blank=True)
    lot = models.OneToOneField(Lot, models.PROTECT, null=True, blank=True, related_name="purchase")
    cancelled_because = models.CharField(max_length=120, blank=True)
    form_key = models.UUIDField(unique=True)

    class Meta:
        ordering = ["due_on", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="purchase_is_of_something"),
            models.CheckConstraint(
                condition=Q(lot=None) | Q(cancelled_because=""), name="purchase_came_or_was_cancelled",
            ),
        ]


class CountSheet(models.Model):
    """Lots of one storage place counted as of one moment; saved to the ledger once, as corrections."""

    place = models.CharField(max_length=60, blank=True)
    as_of = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    hide_expected = models.BooleanField(default=True)
    form_key = models.UUIDField(unique=True)
    posting = models.OneToOneField(Posting, models.PROTECT, null=True, blank=True, related_name="count_sheet")
    posted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-as_of", "-id"]

    @property
    def shows_expected(self) -> bool:
        """Say whether expected amounts are shown: where they are not hidden, and once the count is saved."""
        return not self.hide_expected or self.posted_at is not None


class CountLine(models.Model):
    """One lot of a count: what it held by the ledger at the sheet's moment, and what was counted.

    written_at: when that figure was written; held_then: what the lot held at that moment, by the ledger and by what was
    recorded on the bench as taken, and was not deducted yet.
    """

    sheet = models.ForeignKey(CountSheet, models.PROTECT, related_name="lines")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="counts")
    expected = stock_field()
    counted = stock_field(null=True, blank=True)
    written_at = models.DateTimeField(null=True, blank=True)
    held_then = stock_field(null=True, blank=True)

    class Meta:
        ordering = ["lot__material__name", "lot__received_on", "lot_id"]
        constraints = [
            models.UniqueConstraint(fields=["sheet", "lot"], name="lot_counted_once_a_sheet"),
            models.CheckConstraint(condition=Q(counted=None) | Q(counted__gte=0), name="counted_not_negative"),
            models.CheckConstraint(
                condition=Q(counted=None, written_at=None, held_then=None)
                | Q(counted__isnull=False, written_at__isnull=False, held_then__isnull=False),
                name="counted_figure_has_its_moment",
            ),
        ]

    @property
    def expected_then(self) -> Decimal:
        """Return what was to be there when the figure was written; at the sheet's moment while there is none."""
        return self.expected if self.held_then is None else self.held_then


class Offcut(models.Model):
    """A piece of glass left over and kept under a number: stock with a size, used whole or not at all."""

    number = models.PositiveIntegerField(unique=True)
    material = models.ForeignKey(Material, models.PROTECT, related_name="offcuts")
    width_mm = length_field()
    height_mm = length_field()
    place = models.CharField(max_length=60, blank=True)
    came_from = models.CharField(max_length=60, blank=True)
    kept_at = models.DateTimeField()
    kept_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    reservation = models.ForeignKey(Reservation, models.SET_NULL, null=True, blank=True, related_name="offcuts")
    gone_at = models.DateTimeField(null=True, blank=True)
    gone_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    gone_because = models.CharField(max_length=120, blank=True)
    form_key = models.UUIDField(unique=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(condition=Q(width_mm__gt=0, height_mm__gt=0), name="offcut_has_a_size"),
            models.CheckConstraint(
                condition=Q(gone_at=None, gone_by=None, gone_because="")
                | (Q(gone_at__isnull=False, gone_by__isnull=False) & ~Q(gone_because="")),
                name="offcut_gone_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"Offcut {self.number}"

    @property
    def is_promised(self) -> bool:
        return self.reservation is not None and self.reservation.released_at is None
