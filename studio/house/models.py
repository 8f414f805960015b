"""The studio: people, its identity, its dated rates, and files kept as they were."""

from __future__ import annotations

from contextlib import suppress
from datetime import date, time
from typing import ClassVar
from zoneinfo import ZoneInfo, available_timezones

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from studio.exact import length_field, money_field, ratio_field, share_field, stock_field
from studio.kit.currencies import decimals, is_currency
from studio.kit.working_hours import DAYS, LIMIT_MINUTES, MOST_LIMIT_MINUTES, NoHours, parse_hours, show_hours


class Person(AbstractUser):
    """Somebody who works here: the owner sees everything, a helper never prices or customers' contact details."""

    class Role(models.TextChoices):
        OWNER = "owner", "owner"
        HELPER = "helper", "helper"

    role = models.CharField(max_length=10, choices=Role.choices, default=Role.HELPER)

    REQUIRED_FIELDS: ClassVar[list[str]] = []

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(role__in=["owner", "helper"]), name="person_has_a_known_role"),
        ]

    @property
    def is_owner(self) -> bool:
        return self.role == self.Role.OWNER

    @property
    def name(self) -> str:
        return self.get_full_name() or self.username


def _check_zone(name: str) -> None:
    if name not in available_timezones():
        raise ValidationError(f"“{name}” is no time zone: write for instance Europe/Lisbon.")
    ZoneInfo(name)


def _check_currency(code: str) -> None:
    if not is_currency(code):
        raise ValidationError(f"“{code}” is no currency: write its three capital letters (ISO 4217), for instance GBP.")


def _check_hours(typed: str) -> None:
    try:
        parse_hours(typed)
    except NoHours as refusal:
        raise ValidationError(str(refusal)) from refusal


def _hours_field(day: str) -> models.CharField[str, str]:
    """Return a weekday's working hours, “08:30-17:30”; empty: nobody works."""
    return models.CharField(f"working hours, {day}", max_length=20, blank=True, validators=[_check_hours])


class House(models.Model):
    """The studio's identity and its own words. There is one."""

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        LETTER = "Letter", "US Letter"

    class Units(models.TextChoices):
        METRIC = "metric", "metric"
        US = "us", "US customary"

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    tax_number = models.CharField(max_length=40, blank=True)
    time_zone = models.CharField(max_length=60, default="UTC", validators=[_check_zone])
    paper = models.CharField(max_length=10, choices=Paper.choices, default=Paper.A4)
    units = models.CharField(max_length=10, choices=Units.choices, default=Units.METRIC)
    terms = models.TextField(blank=True)
    care_note = models.TextField(blank=True)
    making_safe_procedure = models.TextField(blank=True)
    spill_procedure = models.TextField(blank=True)
    waste_procedure = models.TextField(blank=True)
    waste_days_open = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="How long a waste container may stay open, by the studio's own limit.",
    )
    discharge_permit = models.TextField(blank=True, help_text="The local permit's limits, in its own words.")
    ammoniacal_limit_minutes = models.PositiveSmallIntegerField(
        "ammoniacal silver stands at most, minutes", default=LIMIT_MINUTES,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_LIMIT_MINUTES)],
        help_text="From mixing until it is made safe; never past the end of that day's working hours. At most 240.",
    )
    hours_monday = _hours_field("Monday")
    hours_tuesday = _hours_field("Tuesday")
    hours_wednesday = _hours_field("Wednesday")
    hours_thursday = _hours_field("Thursday")
    hours_friday = _hours_field("Friday")
    hours_saturday = _hours_field("Saturday")
    hours_sunday = _hours_field("Sunday")
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="there_is_one_house"),
            models.CheckConstraint(
                condition=Q(ammoniacal_limit_minutes__gte=1, ammoniacal_limit_minutes__lte=MOST_LIMIT_MINUTES),
                name="ammoniacal_silver_stands_at_most_four_hours",
                violation_error_message="Ammoniacal silver stands at most 240 minutes.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def working_hours(self) -> list[tuple[time, time] | None]:
        """Return the hours of Monday to Sunday; None where nobody works, or nobody said."""
        return [parse_hours(getattr(self, f"hours_{day}")) for day in DAYS]

    def clean(self) -> None:
        for day in DAYS:
            with suppress(NoHours):  # the field's own validator says so
                setattr(self, f"hours_{day}", show_hours(parse_hours(getattr(self, f"hours_{day}"))))

    @classmethod
    def ammoniacal_limit(cls) -> int:
        """Return for how many minutes ammoniacal silver may stand here, never more than four hours."""
        minutes = cls.objects.values_list("ammoniacal_limit_minutes", flat=True).first() or LIMIT_MINUTES
        return min(minutes, MOST_LIMIT_MINUTES)

    @classmethod
    def unit_preference(cls) -> str:
        """Return how the studio measures: metric, or us."""
        return cls.objects.values_list("units", flat=True).first() or cls.Units.METRIC


class HouseRates(models.Model):
    """A dated row of rates: the newest on the day of an estimate counts. Money in `currency`."""

    class Plan(models.TextChoices):
        SPARES = "spares", "spares"
        REWORK = "rework", "rework"

    effective_from = models.DateField(unique=True)
    currency = models.CharField(max_length=3, validators=[_check_currency])
    tax_name = models.CharField(max_length=20, default="VAT")
    tax_share = share_field(default=0)
    helper_per_hour = money_field(default=0)
    owner_per_hour = money_field(default=0)
    overhead_per_bench_hour = money_field(default=0)
    margin_share = share_field(default=0)
    minimum_charge = money_field(default=0)
    price_step = money_field(default=1)
    plan = models.CharField(max_length=10, choices=Plan.choices, default=Plan.SPARES)
    cover_share = share_field(default="0.95")
    glass_loss_share = share_field(default="0.30")
    bench_width_mm = length_field(default=1000)
    bench_height_mm = length_field(default=700)
    bench_usable_share = share_field(default="0.7")
    increment_ml = stock_field(default=10)
    largest_vessel_ml = stock_field(default=5000)
    balance_readability_g = stock_field(default="0.1")
    trim_mm = length_field(default=0)
    clearance_mm = length_field(default=0)
    smallest_offcut_mm = length_field(default=0)
    smallest_strip_mm = length_field(
        default=0, help_text="The narrowest strip that still breaks off cleanly; no cut leaves less.",
    )
    offcut_credit_share = share_field(default=0)
    deposit_share = share_field(default="0.5")
    quote_valid_days = models.PositiveSmallIntegerField(default=30, validators=[MinValueValidator(1)])
    setup_minutes = ratio_field(default=0)
    mixing_minutes_per_batch = ratio_field(
        default=0, help_text="Of any solution whose version says nothing else.",
    )
    cutting_minutes_per_pane = ratio_field(default=0)
    packing_minutes_per_pane = ratio_field(default=0)
    hands = models.PositiveSmallIntegerField(
        "pairs of hands", default=1, validators=[MinValueValidator(1), MaxValueValidator(2)],
        help_text="On the bench at once: one or two.",
    )
    benches = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(6)],
        help_text="Where a load can lie while it is wet. What dries stands in a rack.",
    )
    bench_day_minutes = ratio_field(default=420, help_text="How long a working day is on the bench.")
    cure_hours = ratio_field(default=0, help_text="From the end of the bench until a pane may be packed.")
    two_person_kg = ratio_field(
        verbose_name="one person lifts up to, kg", default=25, help_text="The studio's own limit; 0: none.",
    )
    crate_most_kg = ratio_field(
        verbose_name="a packed crate weighs at most, kg", default=0, help_text="0: one crate for all.",
    )
    crate_kg = ratio_field(verbose_name="an empty crate weighs, kg", default=0)

    class Meta:
        ordering = ["-effective_from"]
        constraints = [
            models.CheckConstraint(condition=Q(margin_share__gte=0) & Q(margin_share__lt=1), name="margin_below_one"),
            models.CheckConstraint(condition=Q(cover_share__gte=0) & Q(cover_share__lt=1), name="cover_below_one"),
            models.CheckConstraint(condition=Q(price_step__gt=0), name="price_step_above_zero"),
            models.CheckConstraint(
                condition=Q(increment_ml__gt=0) & Q(largest_vessel_ml__gte=F("increment_ml")),
                name="vessel_holds_an_increment",
            ),
            models.CheckConstraint(
                condition=Q(hands__gte=1, hands__lte=2, benches__gte=1, bench_day_minutes__gt=0),
                name="bench_has_hands_and_hours",
                violation_error_message="One or two pairs of hands, a bench or more, and a day that is not empty.",
            ),
            models.CheckConstraint(
                condition=Q(crate_most_kg=0) | Q(crate_most_kg__gt=F("crate_kg")), name="crate_carries_something",
                violation_error_message="A packed crate weighs more than an empty one.",
            ),
            models.CheckConstraint(
                condition=Q(bench_width_mm__gt=0, bench_height_mm__gt=0, bench_usable_share__gt=0),
                name="bench_has_a_size",
            ),
            *(
                models.CheckConstraint(condition=Q(**{f"{name}__gte": 0}), name=f"rates_{name}_not_negative")
                for name in (
                    "helper_per_hour", "owner_per_hour", "overhead_per_bench_hour", "minimum_charge", "tax_share",
                    "setup_minutes", "mixing_minutes_per_batch", "cutting_minutes_per_pane",
                    "packing_minutes_per_pane", "deposit_share",
                    "cure_hours", "two_person_kg", "crate_kg", "smallest_strip_mm",
                )
            ),
        ]

    def __str__(self) -> str:
        return f"Rates from {self.effective_from}"

    @property
    def minor_digits(self) -> int:
        """Return how many decimals the currency has."""
        return decimals(self.currency)

    def clean(self) -> None:
        from studio.exact import exactly

        step, vessel, increment = exactly(self.price_step), exactly(self.largest_vessel_ml), exactly(self.increment_ml)
        known = is_currency(self.currency)  # otherwise the currency itself is refused
        if known and step and (step * 10**self.minor_digits).denominator != 1:
            raise ValidationError({
                "price_step": f"The price step must be a multiple of the smallest amount of {self.currency}.",
            })
        if vessel and increment and (vessel / increment).denominator != 1:
            raise ValidationError({
                "largest_vessel_ml": "The largest vessel must be a multiple of what mixes are rounded up to."
            })

    @classmethod
    def known_on(cls, day: date) -> HouseRates | None:
        """Return the rates in force on a day, or None."""
        return cls.objects.filter(effective_from__lte=day).prefetch_related("edge_types").first()

    @classmethod
    def on(cls, day: date) -> HouseRates:
        """Return the rates in force on a day. Raises HouseRates.DoesNotExist."""
        newest = cls.known_on(day)
        if newest is None:
            raise cls.DoesNotExist(f"The studio has no rates on {day}.")
        return newest


class EdgeType(models.Model):
    """How an edge is worked, by the rates it belongs to: minutes per metre and what it grinds off each edge."""

    rates = models.ForeignKey(HouseRates, models.CASCADE, related_name="edge_types")
    name = models.CharField(max_length=40)
    minutes_per_m = ratio_field(default=0)
    grinds_off_mm = length_field(default=0)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["rates", "name"], name="edge_type_once_per_rates"),
            models.CheckConstraint(condition=Q(minutes_per_m__gte=0, grinds_off_mm__gte=0), name="edge_not_negative"),
        ]

    def __str__(self) -> str:
        return self.name


class GunCalibration(models.Model):
    """What a gun or hand pump lays down, measured on a day: the newest on the day of the estimate counts."""

    gun = models.CharField(max_length=60)
    measured_on = models.DateField()
    flow_ml_per_minute = ratio_field(null=True, blank=True)
    passes = ratio_field(null=True, blank=True)
    traverse_m2_per_minute = ratio_field(null=True, blank=True)
    stroke_ml = ratio_field(null=True, blank=True)
    strokes_per_m2 = ratio_field(null=True, blank=True)

    class Meta:
        ordering = ["gun", "-measured_on"]
        constraints = [
            models.UniqueConstraint(fields=["gun", "measured_on"], name="gun_calibrated_once_a_day"),
            models.CheckConstraint(
                condition=Q(flow_ml_per_minute__gt=0, passes__gt=0, traverse_m2_per_minute__gt=0,
                            stroke_ml=None, strokes_per_m2=None)
                | Q(stroke_ml__gt=0, strokes_per_m2__gt=0, flow_ml_per_minute=None, passes=None,
                    traverse_m2_per_minute=None),
                name="calibration_by_flow_or_by_stroke",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.gun}, {self.measured_on}"


class StoredFile(models.Model):
    """A file by its content: its bytes lie in the data folder under their SHA-256."""

    sha256 = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=200)
    media_type = models.CharField(max_length=80)
    size_bytes = models.PositiveIntegerField()
    #: who may fetch it: a quote is the owner's, a ticket or a finish's picture anybody's at the desk
    owner_only = models.BooleanField(default=True)

    def __str__(self) -> str:
        return self.name
