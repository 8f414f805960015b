"""Trials on samples: what was changed, recorded, timed, photographed and used."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from recipes.models.finishes import FinishPicture, RecipeVersion
from studio.exact import length_field, ratio_field, share_field
from studio.house.models import StoredFile
from studio.stockroom.models import Material, Posting


class Trial(models.Model):
    """A sample pane made from a version with changes, under conditions, from lots. Closed, it stays as it was."""

    class Verdict(models.TextChoices):
        LIKED = "liked", "liked: worth making again"
        FURTHER = "further", "try further"
        LEFT = "left", "not worth it"

    number = models.PositiveIntegerField(unique=True)
    recipe_version = models.ForeignKey(RecipeVersion, models.PROTECT, related_name="trials")
    parent = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="tried_further")
    question = models.CharField(max_length=200, blank=True)
    started_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    width_mm = length_field()
    height_mm = length_field()
    size_text = models.CharField(max_length=60, blank=True)
    glass = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, related_name="+")
    air_c = ratio_field(null=True, blank=True)
    glass_c = ratio_field(null=True, blank=True)
    solution_c = ratio_field(null=True, blank=True)
    humidity_share = share_field(null=True, blank=True)
    water = models.CharField(max_length=60, blank=True)
    conductivity_us_cm = ratio_field(null=True, blank=True)
    score = models.PositiveSmallIntegerField(null=True, blank=True)
    verdict = models.CharField(max_length=7, choices=Verdict.choices, blank=True)
    kept_where = models.CharField(max_length=80, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    form_key = models.UUIDField(unique=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        indexes = [
            models.Index(fields=["closed_at"], name="trial_closed"),
            models.Index(fields=["started_at"], name="trial_started"),
        ]
        ordering = ["-number"]
        constraints = [
            models.CheckConstraint(condition=Q(width_mm__gt=0, height_mm__gt=0), name="trial_pane_has_a_size"),
            models.CheckConstraint(condition=Q(score=None) | Q(score__lte=10), name="trial_score_up_to_ten"),
            models.CheckConstraint(
                condition=Q(closed_at=None) | ~Q(verdict=""), name="closed_trial_has_a_verdict",
                violation_error_code="verdict", violation_error_message="Say what you think of it before closing.",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None) | Q(closed_at__gte=F("started_at")), name="trial_closed_after_started",
            ),
        ]

    def __str__(self) -> str:
        return f"Trial {self.number}"


class TrialChange(models.Model):
    """One value that a trial changes: on a step of its version (0 for part: the step itself)."""

    trial = models.ForeignKey(Trial, models.CASCADE, related_name="changes")
    step = models.PositiveIntegerField()
    part = models.PositiveIntegerField(default=0)
    what = models.CharField(max_length=30)
    value = models.TextField(blank=True)

    class Meta:
        ordering = ["step", "part", "what"]
        constraints = [
            models.UniqueConstraint(fields=["trial", "step", "part", "what"], name="value_changed_once_per_trial"),
        ]


class TrialNote(models.Model):
    """A remark on a trial, with its time; remarks are added, never edited."""

    trial = models.ForeignKey(Trial, models.PROTECT, related_name="notes")
    key = models.UUIDField(unique=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    text = models.TextField()

    class Meta:
        ordering = ["at", "id"]
        constraints = [models.CheckConstraint(condition=~Q(text=""), name="trial_note_says_something")]


class TriedAgainst(models.Model):
    """A stop that an owner tries against in a trial: what it said, why it is tried, by whom. Added, never edited."""

    trial = models.ForeignKey(Trial, models.PROTECT, related_name="tried_against")
    step = models.PositiveIntegerField()
    rule = models.CharField(max_length=80)
    sentence = models.TextField()
    because = models.CharField(max_length=300)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(condition=~Q(because=""), name="tried_against_a_stop_for_a_reason"),
        ]


class TrialTiming(models.Model):
    """How long a step of a trial actually took, from the timer."""

    trial = models.ForeignKey(Trial, models.PROTECT, related_name="timings")
    key = models.UUIDField(unique=True)
    step = models.PositiveIntegerField()
    seconds = models.PositiveIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["step", "at", "id"]
        constraints = [models.CheckConstraint(condition=Q(seconds__gt=0), name="timing_lasted")]


class TrialPhotograph(models.Model):
    """A photograph of a trial: the original as it came, upright copies without metadata, and the crop to compare by.

    The crop is a square: its left and top as shares of width and height, its side as a share of the shorter side.
    """

    trial = models.ForeignKey(Trial, models.PROTECT, related_name="photographs")
    key = models.UUIDField(unique=True)
    side = models.CharField(max_length=5, choices=FinishPicture.Side.choices)
    original = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    print_copy = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    screen_copy = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    aligned_copy = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    crop_left = share_field(default=0)
    crop_top = share_field(default=0)
    crop_side = share_field(default=1)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["trial", "-side", "id"]  # the front first
        constraints = [
            models.CheckConstraint(condition=Q(side__in=["front", "back"]), name="photograph_side_known"),
            models.CheckConstraint(condition=Q(crop_side__gt=0), name="photograph_crop_has_a_side"),
        ]


class TrialUse(models.Model):
    """What a trial took from the stockroom: its postings."""

    trial = models.ForeignKey(Trial, models.PROTECT, related_name="uses")
    posting = models.OneToOneField(Posting, models.PROTECT, related_name="trial_use")

    class Meta:
        ordering = ["posting_id"]
