"""Solutions, finishes and their numbered, frozen versions."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from recipes.step_kinds import KINDS
from studio.exact import length_field, ratio_field, share_field, stock_field
from studio.house.models import StoredFile
from studio.kit.coded import Coded
from studio.kit.rounding import plain
from studio.kit.working_hours import MOST_LIMIT_MINUTES
from studio.stockroom.models import Lot, Material, Posting

LITRE_ML = Decimal(1000)


class Solution(Coded):
    """A named mix. One that keeps may own a material, so that lots of it can stand on the shelf."""

    name = models.CharField(max_length=80, unique=True)
    material = models.OneToOneField(Material, models.PROTECT, null=True, blank=True, related_name="solution")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class SolutionVersion(models.Model):
    """A numbered version of a solution; frozen once a recipe in use, a trial or a lot mixed ahead uses it."""

    solution = models.ForeignKey(Solution, models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    keeps_minutes = ratio_field(null=True, blank=True, help_text="None: used at once, never stored.")
    works_at_once = models.BooleanField(default=False)
    ready_after_minutes = ratio_field(default=0)
    minimum_batch_ml = stock_field(default=0)
    mixing_minutes = ratio_field(
        null=True, blank=True, help_text="Attended, for one batch. None: the studio's own for any solution.",
    )
    working_minutes = ratio_field(
        null=True, blank=True, help_text="From the beginning of mixing to the last use, where loads share it.",
    )
    reject_if = models.CharField(max_length=120, blank=True)
    longer_keeping_reason = models.CharField(max_length=200, blank=True)
    #: hazard statements of the mix itself in place of those of what is in it, as codes or “none”; with the reason why
    own_hazard_statements = models.CharField(max_length=200, blank=True)
    hazard_change_reason = models.CharField(max_length=200, blank=True)
    cautions = models.TextField(blank=True)
    why = models.CharField(max_length=300, blank=True)
    #: what was typed, by attribute: shown again as it was written
    typed = models.JSONField(default=dict, blank=True)
    saves = models.PositiveIntegerField(default=1)
    frozen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["solution__name", "number"]
        constraints = [
            models.UniqueConstraint(fields=["solution", "number"], name="solution_version_numbered_once"),
            models.CheckConstraint(condition=Q(number__gte=1), name="solution_version_from_one"),
            models.CheckConstraint(
                condition=Q(keeps_minutes=None) | Q(keeps_minutes__gt=0, works_at_once=False),
                name="keeps_or_works_at_once", violation_error_code="keeps_minutes",
                violation_error_message="A solution that works at once cannot keep.",
            ),
            models.CheckConstraint(condition=Q(minimum_batch_ml__gte=0), name="minimum_batch_not_negative"),
            models.CheckConstraint(
                condition=Q(mixing_minutes=None) | Q(mixing_minutes__gte=0), name="mixing_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(working_minutes=None) | Q(working_minutes__gt=0, works_at_once=False)
                & (Q(working_minutes__lte=MOST_LIMIT_MINUTES)
                   | Q(keeps_minutes__isnull=False, keeps_minutes__gte=F("working_minutes"))),
                name="working_time_bounded", violation_error_code="working_minutes",
                violation_error_message="A working time is at most 4 h, unless the solution keeps so long; one that "
                                        "works at once has none.",
            ),
            models.CheckConstraint(
                condition=Q(own_hazard_statements="", hazard_change_reason="")
                | (~Q(own_hazard_statements="") & ~Q(hazard_change_reason="")),
                name="own_hazards_say_why", violation_error_code="hazard_change_reason",
                violation_error_message="Hazards of its own need a reason, and a reason needs the statements: write "
                                        "“none” where none are left.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.solution.name}, version {self.number}"

    @property
    def key(self) -> str:
        """Return the key that facts, frozen papers and books know it by."""
        return f"{self.solution.code}/{self.number}"


class Ingredient(models.Model):
    """What goes into a solution, numbered in the order it is added: a material or another solution version."""

    solution_version = models.ForeignKey(SolutionVersion, models.CASCADE, related_name="ingredients")
    number = models.PositiveIntegerField()
    material = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, related_name="ingredient_of")
    nested = models.ForeignKey(SolutionVersion, models.PROTECT, null=True, blank=True, related_name="nested_in")
    amount_per_litre = ratio_field(default=0)
    unit = models.CharField(max_length=2, choices=[("g", "g"), ("mL", "mL")])
    typed = models.CharField(max_length=60, blank=True, help_text="The amount as it was written.")
    #: what makes up to volume never does
    scales_with_strength = models.BooleanField(default=True)
    make_up = models.BooleanField(default=False)
    instruction = models.CharField(max_length=200, blank=True)
    end_point = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["solution_version", "number"], name="ingredient_numbered_once"),
            models.UniqueConstraint(
                fields=["solution_version"],
                condition=Q(make_up=True),
                name="one_makes_up_to_volume",
                violation_error_message="Only one ingredient can make the solution up to volume.",
            ),
            models.CheckConstraint(
                condition=Q(material__isnull=False, nested=None) | Q(material=None, nested__isnull=False),
                name="ingredient_is_one_thing",
                violation_error_message="An ingredient is a material or a solution, one of the two.",
            ),
            models.CheckConstraint(
                condition=Q(make_up=True, amount_per_litre=0, scales_with_strength=False)
                | Q(make_up=False, amount_per_litre__gt=0),
                name="ingredient_has_an_amount",
                violation_error_message="Give an amount per litre, or make up to volume.",
            ),
            models.CheckConstraint(condition=Q(unit__in=["g", "mL"]), name="ingredient_unit_known"),
        ]

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save it; what makes up to volume has no amount that could scale."""
        self.scales_with_strength = self.scales_with_strength and not self.make_up
        super().save(*args, **kwargs)

    @property
    def typed_otherwise(self) -> str:
        """Return the amount as it was written, where that is not how it is shown: “1 fl oz”."""
        shown = f"{plain(self.amount_per_litre)} {self.unit}"
        return "" if self.typed.replace(" ", "").casefold() == shown.replace(" ", "").casefold() else self.typed

    @property
    def name(self) -> str:
        """Return the name of the material or the solution that it is."""
        if self.material is not None:
            return self.material.name
        return self.nested.solution.name if self.nested is not None else ""


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
        kinds = {event.kind for event in self.events.all()}
        if VersionEvent.Kind.WITHDRAWN in kinds:
            return "withdrawn"
        return "in use" if VersionEvent.Kind.IN_USE in kinds else "draft"

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


class SearchWords(models.Model):
    """The words that a finish, recipe, solution or trial is found by: its own, and those of its values."""

    finish = models.OneToOneField(Finish, models.CASCADE, null=True, related_name="search_words")
    solution_version = models.OneToOneField(SolutionVersion, models.CASCADE, null=True, related_name="search_words")
    recipe_version = models.OneToOneField(RecipeVersion, models.CASCADE, null=True, related_name="search_words")
    trial = models.OneToOneField(Trial, models.CASCADE, null=True, related_name="search_words")
    words = models.TextField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(finish__isnull=False, solution_version=None, recipe_version=None, trial=None)
                | Q(finish=None, solution_version__isnull=False, recipe_version=None, trial=None)
                | Q(finish=None, solution_version=None, recipe_version__isnull=False, trial=None)
                | Q(finish=None, solution_version=None, recipe_version=None, trial__isnull=False),
                name="search_words_of_one_thing",
            ),
        ]


class MadeLot(models.Model):
    """A lot that was mixed here: of which solution version. Its posting says from which lots."""

    lot = models.OneToOneField(Lot, models.PROTECT, related_name="made")
    solution_version = models.ForeignKey(SolutionVersion, models.PROTECT, related_name="made_lots")
    ready_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["lot_id"]

    @property
    def discard_at(self) -> datetime | None:
        """Return the minute from which it is not used; the picker reads it on the lot."""
        return self.lot.discard_at


class VersionDoubt(models.Model):
    """A mark that a version was sound when it was written, and is not by a truth that was entered later.

    Rules never ask for it: whether a version is sound is worked out, and the mark says the same. It tells the audit,
    and whoever reads a book, a known doubt from a rule that was broken.
    """

    solution_version = models.OneToOneField(SolutionVersion, models.CASCADE, null=True, related_name="doubt")
    recipe_version = models.OneToOneField(RecipeVersion, models.CASCADE, null=True, related_name="doubt")
    why = models.TextField()
    #: the rules that stand against a recipe by name, and the cautions that came later and nobody acknowledged
    rules = models.JSONField(default=list, blank=True)
    #: nothing new is made of the version; where only cautions came later, all goes on
    stops = models.BooleanField(default=True)
    since = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(solution_version__isnull=False, recipe_version=None)
                | Q(solution_version=None, recipe_version__isnull=False),
                name="doubt_about_one_version",
            ),
            models.CheckConstraint(condition=~Q(why=""), name="doubt_says_why"),
        ]
