"""Waste containers and what went into them."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from studio.exact import ratio_field, stock_field
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.models.lots import Posting
from studio.stockroom.models.materials import _known_agents


class WasteContainer(models.Model):
    """A closed container for waste: open until it is full, then handed over."""

    name = models.CharField(max_length=40, unique=True)
    meant_for = models.CharField(max_length=120)
    place = models.CharField(max_length=60, blank=True)
    #: classes that it may take; none: anything that does not endanger
    takes = models.JSONField(default=list, blank=True, validators=[_known_agents])
    holds_most_ml = stock_field(null=True, blank=True)
    opened_on = models.DateField()
    handed_on = models.DateField(null=True, blank=True)
    handed_to = models.CharField(max_length=80, blank=True)
    returned_on = models.DateField(null=True, blank=True)
    returned_silver_g = stock_field(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["handed_on", "opened_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(handed_on=None) | ~Q(handed_to=""), name="handed_over_to_somebody",
                violation_error_code="handed_to", violation_error_message="Say who took it.",
            ),
            models.CheckConstraint(
                condition=Q(handed_on=None) | Q(handed_on__gte=F("opened_on")), name="handed_over_after_opened",
            ),
            models.CheckConstraint(
                condition=Q(returned_silver_g=None) | Q(handed_on__isnull=False, returned_silver_g__gte=0),
                name="silver_returns_after_handing_over",
            ),
            models.CheckConstraint(
                condition=Q(holds_most_ml=None) | Q(holds_most_ml__gt=0), name="container_holds_something",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def takes_in_words(self) -> list[str]:
        return sorted(REACTS_AS[code] for code in self.takes)

    @property
    def meant_for_and_place(self) -> str:
        """Return what it is meant for and where it stands: “silver-bearing rinse, in the waste bay”."""
        return f"{self.meant_for}, in {self.place}" if self.place else self.meant_for


class WasteEntry(models.Model):
    """What went into a container: from where, how much, what it reacts as, and its estimated silver. Never edited.

    source: the run, trial or lot that it comes from, by name. met_at_bench: what of its classes came as one silvering
    bath and met on the pane already.
    """

    container = models.ForeignKey(WasteContainer, models.PROTECT, related_name="entries")
    key = models.UUIDField(unique=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    what = models.CharField(max_length=120)
    source = models.CharField(max_length=120, blank=True)
    posting = models.ForeignKey(Posting, models.PROTECT, null=True, blank=True, related_name="waste")
    volume_ml = stock_field(default=0)
    silver_g = stock_field(default=0)
    reacts_as = models.JSONField(default=list, blank=True, validators=[_known_agents])
    met_at_bench = models.JSONField(default=list, blank=True, validators=[_known_agents])
    made_safe = models.BooleanField(default=False)
    #: its data sheet was read, and no class applies
    none_apply = models.BooleanField(default=False)
    ph = ratio_field(null=True, blank=True)

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(volume_ml__gte=0, silver_g__gte=0), name="waste_not_negative"),
            models.CheckConstraint(
                condition=Q(ph=None) | Q(ph__gte=0, ph__lte=14), name="ph_from_0_to_14", violation_error_code="ph",
                violation_error_message="pH runs from 0 to 14.",
            ),
            models.CheckConstraint(condition=Q(none_apply=False) | Q(reacts_as=[]), name="none_apply_or_some_do"),
        ]
