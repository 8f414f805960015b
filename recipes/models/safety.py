"""Clocks of ammoniacal silver and how each was made safe, and what was recorded of a trial."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from recipes.models.trials import Trial
from studio.stockroom.models import Lot


class MakingSafe(models.Model):
    """Ammoniacal silver was made safe: by whom, when it was done, by which written procedure, and what was treated.

    What it covers stands on the clocks that it stopped. treated: of hazards.standing.TREATED.
    """

    key = models.UUIDField(unique=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    done_at = models.DateTimeField()
    procedure = models.CharField(max_length=200)
    treated = models.JSONField()

    class Meta:
        ordering = ["done_at", "id"]
        constraints = [
            models.CheckConstraint(condition=~Q(procedure=""), name="making_safe_names_its_procedure"),
            models.CheckConstraint(condition=Q(done_at__lte=F("at")), name="making_safe_is_not_in_the_future"),
        ]

    def __str__(self) -> str:
        return f"made safe by {self.by.name}"


class SilverClock(models.Model):
    """Ammoniacal silver that stands since it was mixed, or first sprayed, until a making safe stops its clock.

    Of a trial, of a lot made here that turned out to hold it, or of a run (which the jobs know). subject: which mix of
    it. noted_at: when it was entered.
    """

    class Began(models.TextChoices):
        MIXED = "mixed", "mixed"
        SPRAYED = "sprayed", "first sprayed"

    key = models.UUIDField(unique=True)
    trial = models.ForeignKey(Trial, models.PROTECT, null=True, blank=True, related_name="clocks")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="silver_clocks")
    subject = models.CharField(max_length=40)
    what = models.CharField(max_length=160)
    began = models.CharField(max_length=7, choices=Began.choices, default=Began.MIXED)
    started_at = models.DateTimeField()
    noted_at = models.DateTimeField()
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    made_safe = models.ForeignKey(MakingSafe, models.PROTECT, null=True, blank=True, related_name="clocks")

    class Meta:
        ordering = ["started_at", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(started_at__lte=F("noted_at")), name="clock_is_not_in_the_future"),
            models.CheckConstraint(condition=Q(began__in=["mixed", "sprayed"]), name="clock_began_in_a_known_way"),
            models.UniqueConstraint(
                fields=["trial", "subject", "what"], condition=Q(trial__isnull=False, made_safe=None),
                name="one_open_clock_a_mix_of_a_trial",
            ),
            models.UniqueConstraint(fields=["lot"], condition=Q(lot__isnull=False, made_safe=None),
                                    name="one_open_clock_a_lot"),
            models.CheckConstraint(condition=Q(trial=None) | Q(lot=None), name="clock_is_of_a_trial_or_of_a_lot"),
        ]
        indexes = [models.Index(fields=["started_at"], condition=Q(made_safe=None), name="open_clocks")]

    def __str__(self) -> str:
        return self.what


class NotMixed(models.Model):
    """Somebody said of ammoniacal silver that a trial's recipe has: it was not mixed, or not sprayed. Added only."""

    key = models.UUIDField(unique=True)
    trial = models.ForeignKey(Trial, models.PROTECT, related_name="not_mixed")
    subject = models.CharField(max_length=40)
    what = models.CharField(max_length=160)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [models.CheckConstraint(condition=~Q(subject=""), name="not_mixed_says_what")]

    def __str__(self) -> str:
        return self.what


class TrialRecord(models.Model):
    """What was done for a trial at the bench, as a device sent it: appended, never edited.

    why: why it could not be taken as it was sent; it waits then, with its fields in content, until another record,
    which settles it, says what became of it. done_by: whose it is, where another sent it.
    """

    class Kind(models.TextChoices):
        MIXED = "mixed", "mixed"
        ADDED = "added", "ingredients added"
        STEP = "step", "step"
        CONDITIONS = "conditions", "conditions"
        NOTE = "note", "note"
        MADE_SAFE = "made safe", "made safe"
        UNDONE = "undone", "taken back"
        SETTLED = "settled", "settled"

    trial = models.ForeignKey(Trial, models.PROTECT, related_name="records")
    key = models.UUIDField(unique=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    subject = models.CharField(max_length=40, blank=True)
    content = models.JSONField(default=dict, blank=True)
    why = models.CharField(max_length=400, blank=True)
    settles = models.UUIDField(null=True, blank=True, unique=True)
    done_at = models.DateTimeField()
    done_by = models.CharField(max_length=150, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(Q(kind="settled", settles__isnull=False), ~Q(why="")) | Q(~Q(kind="settled"), settles=None),
                name="trial_record_is_settled_with_a_reason",
            ),
            models.CheckConstraint(condition=Q(done_at__lte=F("at")), name="trial_record_is_not_in_the_future"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.subject}".strip()
