"""Finishes: numbered recipe versions, their steps, and what became of them."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from recipes.models.solutions import SolutionVersion
from recipes.step_kinds import KINDS
from studio.exact import length_field, ratio_field, share_field, stock_field
from studio.house.models import StoredFile
from studio.kit.coded import Coded

if TYPE_CHECKING:
    pass




class Finish(Coded):
    """What a customer chooses."""

    name = models.CharField(max_length=80, unique=True)
    family = models.CharField(max_length=40, blank=True)
    description = models.TextField(blank=True)
    suits_glass = models.CharField(max_length=120, blank=True)
    has_direction = models.BooleanField(default=False)
    typical_variation = models.TextField(blank=True)
    in_swatch_book = models.BooleanField(default=False)
    swatch_place = models.PositiveSmallIntegerField(default=0)
    lead_time_days = models.PositiveSmallIntegerField(null=True, blank=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def front_picture(self) -> FinishPicture | None:
        """Return the picture of its front (prefetch the pictures where many are shown)."""
        front = FinishPicture.Side.FRONT
        return next((picture for picture in self.pictures.all() if picture.side == front), None)


class FinishPicture(models.Model):
    """A picture of a finish, front or back: they differ."""

    class Side(models.TextChoices):
        FRONT = "front", "front"
        BACK = "back", "back"

    finish = models.ForeignKey(Finish, models.CASCADE, related_name="pictures")
    side = models.CharField(max_length=5, choices=Side.choices)
    file = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    caption = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["finish", "-side"]  # the front first
        constraints = [models.UniqueConstraint(fields=["finish", "side"], name="one_picture_a_side")]


class RecipeVersions(models.QuerySet["RecipeVersion"]):
    def in_use(self) -> RecipeVersions:
        """Return those that are in use and not withdrawn: what may be quoted."""
        in_use = self.filter(events__kind=VersionEvent.Kind.IN_USE)
        return in_use.exclude(events__kind=VersionEvent.Kind.WITHDRAWN)


def state_of(kinds: Collection[str]) -> str:
    """Return draft, in use or withdrawn, from the kinds of a version's events."""
    if VersionEvent.Kind.WITHDRAWN in kinds:
        return "withdrawn"
    return "in use" if VersionEvent.Kind.IN_USE in kinds else "draft"


class RecipeVersion(models.Model):
    """A numbered version of a finish's recipe. Whether it is a draft, in use or withdrawn follows from its events."""

    finish = models.ForeignKey(Finish, models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    film_nm = ratio_field(default=70)
    own_yield_share = share_field(null=True, blank=True)
    came_from = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="led_to")
    came_from_trial = models.ForeignKey("Trial", models.PROTECT, null=True, blank=True, related_name="led_to")
    why = models.CharField(max_length=300, blank=True)
    saves = models.PositiveIntegerField(default=1)

    objects = RecipeVersions.as_manager()

    class Meta:
        ordering = ["finish__name", "number"]
        constraints = [
            models.UniqueConstraint(fields=["finish", "number"], name="recipe_version_numbered_once"),
            models.CheckConstraint(condition=Q(number__gte=1), name="recipe_version_from_one"),
            models.CheckConstraint(condition=Q(film_nm__gte=0), name="film_not_negative"),
            models.CheckConstraint(
                condition=Q(own_yield_share=None) | Q(own_yield_share__gt=0), name="own_yield_above_zero",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.finish.name}, version {self.number}"

    @property
    def key(self) -> str:
        """Return the key that facts, frozen papers and books know it by."""
        return f"{self.finish.code}/{self.number}"

    @property
    def state(self) -> str:
        """Return draft, in use or withdrawn, from the events (prefetch them where many are shown)."""
        return state_of({event.kind for event in self.events.all()})

    @property
    def is_draft(self) -> bool:
        return self.state == "draft"

    @property
    def is_in_use(self) -> bool:
        return self.state == "in use"


class VersionEvent(models.Model):
    """Putting in use and withdrawing, as rows that are never edited."""

    class Kind(models.TextChoices):
        IN_USE = "in use", "in use"
        WITHDRAWN = "withdrawn", "withdrawn"

    recipe_version = models.ForeignKey(RecipeVersion, models.PROTECT, related_name="events")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    note = models.CharField(max_length=300, blank=True)
    acknowledged = models.JSONField(default=list, blank=True, help_text="Cautions acknowledged by name.")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["recipe_version", "kind"], name="version_event_once"),
            models.CheckConstraint(condition=Q(kind__in=["in use", "withdrawn"]), name="version_event_known"),
        ]

    @property
    def what_happened(self) -> str:
        """Return “Put in use” or “Withdrawn”."""
        return "Put in use" if self.kind == self.Kind.IN_USE else "Withdrawn"


class Step(models.Model):
    """One step of a recipe version, for all its coats together. Lengths mm, volumes mL, times minutes."""

    class How(models.TextChoices):
        SPRAY = "spray", "sprayed"
        POUR = "pour", "poured"
        WIPE = "wipe", "wiped"
        DIP = "dip", "dipped"
        MIST = "mist", "misted"
        BRUSH = "brush", "brushed"

    class Motion(models.TextChoices):
        STILL = "still", "left still"
        ROCKED = "rocked", "rocked"

    class Lies(models.TextChoices):
        FLAT = "flat", "flat"
        UPRIGHT = "upright", "upright"

    class Drying(models.TextChoices):
        AIR = "air", "air"
        HOT_AIR = "hot air", "hot air"

    class Surface(models.TextChoices):
        WET = "wet", "wet"
        DRY = "dry", "dry"
        EITHER = "either", "either"

    class Hands(models.TextChoices):
        HELPER = "helper", "helper"
        OWNER = "owner", "owner"

    class Zone(models.TextChoices):
        WHOLE = "whole", "the whole face"
        RIM = "rim", "a rim"
        PART = "part", "corners or a mask"

    class DwellCounted(models.TextChoices):
        LOAD = "load", "once for the load; pane by pane where it is mixed so"
        PANE = "pane", "for each pane, one after the other"

    recipe_version = models.ForeignKey(RecipeVersion, models.CASCADE, related_name="steps")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=10, choices=[(row.value, row.label) for row in KINDS.values()])
    name = models.CharField(max_length=80, blank=True)
    how = models.CharField(max_length=6, choices=How.choices, blank=True)
    coats = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    coverage_ml_per_m2 = ratio_field(default=0)
    gun = models.CharField(max_length=60, blank=True, help_text="Coverage from this gun's newest calibration.")
    overspray_mm = length_field(default=0)
    zone = models.CharField(max_length=5, choices=Zone.choices, default=Zone.WHOLE)
    rim_width_mm = length_field(default=0)
    zone_share = share_field(default=0)
    extra_per_pane_ml = stock_field(default=0)
    overspill_share = ratio_field(default=0)
    loss_per_load_ml = stock_field(default=0)
    dwell_minutes = ratio_field(default=0)
    dwell_attended = models.BooleanField(default=False)
    dwell_counted = models.CharField(max_length=4, choices=DwellCounted.choices, default=DwellCounted.LOAD)
    motion = models.CharField(max_length=6, choices=Motion.choices, default=Motion.STILL)
    pane_lies = models.CharField(max_length=8, choices=Lies.choices, default=Lies.FLAT)
    drying = models.CharField(max_length=8, choices=Drying.choices, blank=True)
    rinse_full = models.BooleanField(default=False)
    rinse_collected = models.BooleanField(default=False)
    rinse_water = models.CharField(max_length=10, blank=True, choices=[("tap", "tap"), ("distilled", "distilled")])
    surface_before = models.CharField(max_length=6, choices=Surface.choices, default=Surface.EITHER)
    harshness = models.PositiveSmallIntegerField(default=0, help_text="For antiquing: 1 gentle to 5 harsh.")
    minutes_per_load = ratio_field(default=0)
    minutes_per_pane = ratio_field(default=0)
    minutes_per_m2 = ratio_field(default=0)
    hands = models.CharField(max_length=6, choices=Hands.choices, default=Hands.HELPER)
    temperature_low_c = ratio_field(null=True, blank=True)
    temperature_high_c = ratio_field(null=True, blank=True)
    instructions = models.TextField(blank=True)
    looks_good = models.TextField(blank=True)
    cautions = models.TextField(blank=True)
    #: what was typed, by attribute: shown again as it was written
    typed = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["recipe_version", "number"], name="step_numbered_once"),
            models.CheckConstraint(condition=Q(coats__gte=1), name="step_has_a_coat"),
            models.CheckConstraint(
                condition=Q(zone="whole", rim_width_mm=0, zone_share=0)
                | Q(zone="rim", rim_width_mm__gt=0, zone_share=0)
                | Q(zone="part", rim_width_mm=0, zone_share__gt=0, zone_share__lte=1),
                name="zone_has_its_size", violation_error_code="zone",
                violation_error_message="A rim has a width, corners or a mask a share of the face, and the whole face "
                                        "neither.",
            ),
            models.CheckConstraint(condition=Q(dwell_counted__in=["load", "pane"]), name="dwell_counted_known"),
            models.CheckConstraint(
                condition=Q(overspray_mm=0) | Q(how__in=["spray", "mist"]), name="overspray_when_sprayed",
                violation_error_code="overspray_mm",
                violation_error_message="Only a sprayed or misted step goes beyond the edge.",
            ),
            models.CheckConstraint(
                condition=Q(
                    coverage_ml_per_m2__gte=0, overspray_mm__gte=0, extra_per_pane_ml__gte=0, overspill_share__gte=0,
                    loss_per_load_ml__gte=0, dwell_minutes__gte=0, minutes_per_load__gte=0, minutes_per_pane__gte=0,
                    minutes_per_m2__gte=0,
                ),
                name="step_values_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(temperature_low_c=None) | Q(temperature_high_c=None)
                | Q(temperature_low_c__lte=F("temperature_high_c")),
                name="temperature_window_in_order",
            ),
        ]


class Part(models.Model):
    """A solution that a step applies, at a strength, as so many parts of the whole."""

    class MixedFor(models.TextChoices):
        PANE = "pane", "each pane"
        LOAD = "load", "each load"
        LOADS = "loads", "as many loads as it works for"
        JOB = "job", "the whole job"

    step = models.ForeignKey(Step, models.CASCADE, related_name="parts")
    number = models.PositiveIntegerField()
    solution_version = models.ForeignKey(SolutionVersion, models.PROTECT, related_name="used_in")
    strength = ratio_field(default=1)
    parts = ratio_field(default=1)
    mixed_for = models.CharField(max_length=5, choices=MixedFor.choices, default=MixedFor.LOAD)
    typed = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["step", "number"], name="part_numbered_once"),
            models.CheckConstraint(
                condition=Q(strength__gt=0), name="strength_above_zero", violation_error_code="strength",
                violation_error_message="The strength must be above zero.",
            ),
            models.CheckConstraint(condition=Q(parts__gt=0), name="parts_above_zero"),
            models.CheckConstraint(condition=Q(mixed_for__in=["pane", "load", "loads", "job"]), name="mixed_for_known"),
        ]


class RemovedStep(models.Model):
    """A step that was removed from a draft, as it was, by whom and when, and whether it was put back."""

    recipe_version = models.ForeignKey(RecipeVersion, models.CASCADE, related_name="removed_steps")
    number = models.PositiveIntegerField()
    name = models.CharField(max_length=80)
    #: its values by column and its parts: `recipes/finishes/removed_steps.py` writes and reads it
    content = models.JSONField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    put_back_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    put_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(put_back_by=None, put_back_at=None)
                | Q(put_back_by__isnull=False, put_back_at__isnull=False),
                name="put_back_by_whom_and_when",
            ),
        ]

    def __str__(self) -> str:
        return f"Step {self.number}, {self.name},"
