"""The studio: people, its identity, its dated rates, and files kept as they were."""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import date, time
from typing import Any, ClassVar
from uuid import uuid4
from zoneinfo import ZoneInfo, available_timezones

from django.contrib.auth.models import AbstractUser, UserManager
from django.contrib.sessions.base_session import AbstractBaseSession
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from studio.exact import length_field, money_field, ratio_field, share_field, stock_field
from studio.kit.currencies import decimals, is_currency
from studio.kit.roles import NAMES, OWNER, May, may
from studio.kit.working_hours import DAYS, LIMIT_MINUTES, MOST_LIMIT_MINUTES, NoHours, parse_hours, show_hours


class People(UserManager["Person"]):
    """Whoever works here, found by a log-in name however it is capitalised."""

    def get_by_natural_key(self, username: str | None) -> Person:
        return self.get(username__iexact=username)


class Person(AbstractUser):
    """Somebody who works here; what they may follows from their role, by the table of `studio/kit/roles.py`."""

    role = models.CharField(max_length=10, choices=[(name, name) for name in NAMES], default=NAMES[-1])
    #: the password was made for this person by the owner: it opens one page, where it is replaced
    must_change_password = models.BooleanField(default=False)
    #: a hash; unlocks a bench tablet that this person is logged in on, and nothing else; "" where none is set
    pin = models.CharField(max_length=128, blank=True, editable=False)

    REQUIRED_FIELDS: ClassVar[list[str]] = []

    objects: ClassVar[People] = People()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                Lower("username"), name="log_in_name_once_however_capitalised",
                violation_error_message="Somebody has that log-in name, or had it: choose another.",
            ),
            models.CheckConstraint(condition=Q(role__in=NAMES), name="person_has_a_known_role"),
        ]

    @property
    def is_owner(self) -> bool:
        """Return whether this is an owner, of whom one always stays. What somebody may is asked with `may`."""
        return self.role == OWNER

    def may(self, what: May) -> bool:
        return may(self.role, what)

    @property
    def name(self) -> str:
        return self.get_full_name() or self.username


class PersonAct(models.Model):
    """What was done about somebody who works here, by whom and when. Appended, never edited."""

    person = models.ForeignKey(Person, models.PROTECT, related_name="acts")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    what = models.CharField(max_length=200)

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.person.name} {self.what}"


class PersonSession(AbstractBaseSession):
    """A browser that somebody is logged in with: whose it is, since when, and when it last asked for anything."""

    #: what names a session on a page: the key itself opens it
    public = models.UUIDField(default=uuid4, unique=True, editable=False)
    person = models.ForeignKey(Person, models.CASCADE, null=True, related_name="sessions")
    made_at = models.DateTimeField()
    seen_at = models.DateTimeField()
    #: “Firefox on Windows”; "" where the browser did not say
    browser = models.CharField(max_length=60, blank=True)

    #: after how many idle minutes it locks: it is the bench tablet; None: it never does
    tablet_minutes = models.PositiveSmallIntegerField(null=True)
    acted_at = models.DateTimeField(null=True)
    locked_at = models.DateTimeField(null=True)
    wrong_pins = models.PositiveSmallIntegerField(default=0)

    #: what a session's own saving writes; the rest is written where it changes, so that no slower request undoes it
    SAVED: ClassVar[tuple[str, ...]] = ("session_data", "expire_date", "person", "made_at", "browser")

    def save(self, *given: Any, force_update: bool = False, **more: Any) -> None:
        if force_update:
            more["update_fields"] = self.SAVED
        super().save(*given, force_update=force_update, **more)

    @classmethod
    def get_session_store_class(cls) -> Any:
        from studio.house.sessions import SessionStore  # it stands above the models

        return SessionStore


def _check_zone(name: str) -> None:
    if name not in available_timezones():
        raise ValidationError(f"“{name}” is no time zone: write for instance Europe/Lisbon.")
    ZoneInfo(name)


def _check_currency(code: str) -> None:
    if not is_currency(code):
        raise ValidationError(f"“{code}” is no currency: write its three capital letters (ISO 4217), for instance GBP.")


def _check_prefix(typed: str) -> None:
    if not re.fullmatch(r"[\w./ -]*", typed):
        raise ValidationError("Letters, figures, dots, strokes and dashes only, for instance R- or 26/.")


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
    #: how a deposit is paid: bank, account, what to write; on quotes
    payment_details = models.TextField(blank=True)
    #: what quotes are sent from by e-mail, and the letter they go with
    mail_sender = models.EmailField(blank=True)
    mail_text = models.TextField(blank=True)
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
    papers_kept_years = models.PositiveSmallIntegerField(
        "papers of a forgotten customer stay for, years", default=10,
        validators=[MinValueValidator(1), MaxValueValidator(50)],
        help_text="Ten is common practice, no source: ask your adviser what the law asks of you.",
    )
    request_prefix = models.CharField(
        "requests for money begin with", max_length=12, blank=True, validators=[_check_prefix],
        help_text="Before the number, for instance R- or 26/; empty for none.",
    )
    request_first_number = models.PositiveIntegerField(
        "the first request has the number", default=1,
        validators=[MinValueValidator(1), MaxValueValidator(99_999_999)],
        help_text="Of the first request ever made here; every later one is one more.",
    )
    request_days = models.PositiveSmallIntegerField(
        "requests are due after, days", default=14, validators=[MaxValueValidator(365)],
        help_text="From the day that the money is asked for; 0: at once.",
    )
    #: the studio's mark, a picture for the head of its papers
    mark = models.ForeignKey("StoredFile", models.PROTECT, null=True, blank=True, related_name="+")
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="there_is_one_house"),
            models.CheckConstraint(
                condition=Q(ammoniacal_limit_minutes__gte=1, ammoniacal_limit_minutes__lte=MOST_LIMIT_MINUTES),
                name="ammoniacal_silver_stands_at_most_four_hours",
                violation_error_message="Ammoniacal silver stands at most 240 minutes.",
            ),
            models.CheckConstraint(condition=Q(request_first_number__gte=1), name="first_request_has_a_number"),
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
    offcut_trim_mm = length_field(default=0, help_text="Off each edge of a kept offcut, before it is cut.")
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
    usual_working_days = models.PositiveSmallIntegerField(
        "usually ready, working days after go-ahead", null=True, blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(400)],
        help_text="Quotes and the swatch book say this, or what is worked out where that is longer. Empty: as worked "
                  "out.",
    )
    cure_hours = ratio_field(default=0, help_text="From the end of the bench until a pane may be packed.")
    two_person_kg = ratio_field(
        verbose_name="one person lifts up to, kg", default=25, help_text="The studio's own limit; 0: none.",
    )
    crate_most_kg = ratio_field(
        verbose_name="a packed crate weighs at most, kg", default=0, help_text="0: one crate for all.",
    )
    crate_kg = ratio_field(verbose_name="an empty crate weighs, kg", default=0)
    saves = models.PositiveIntegerField(default=1)

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
                condition=Q(usual_working_days=None) | Q(usual_working_days__gte=1, usual_working_days__lte=400),
                name="usual_working_days_are_some",
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
                    "offcut_trim_mm",
                )
            ),
        ]

    def __str__(self) -> str:
        return f"Rates from {self.effective_from:%d %b %Y}"

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
    """A file by its content: its bytes lie under their SHA-256, in the data folder or a store."""

    sha256 = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=200)
    media_type = models.CharField(max_length=80)
    size_bytes = models.PositiveIntegerField()
    #: who may fetch it: a quote is the owner's, a ticket or a finish's picture anybody's at the desk
    owner_only = models.BooleanField(default=True)

    def __str__(self) -> str:
        return self.name


class ChangeRecord(models.Model):
    """Something that was changed in the studio, or somebody at its door. Appended, never edited.

    by: None where a program did it, or nobody who could be known. name: the log-in name of who it was then.
    """

    class Kind(models.TextChoices):
        SETTINGS = "settings", "studio settings"
        RATES = "rates", "rates"
        PRICES = "prices", "prices"
        RECIPES = "recipes", "recipes in use"
        CUSTOMERS = "customers", "customers"
        PEOPLE = "people", "people"
        DOOR = "door", "logging in and out"

    at = models.DateTimeField(db_index=True)
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    subject = models.CharField(max_length=200)
    what = models.TextField()
    #: the network address that a page was asked from
    asked_from = models.CharField(max_length=45, blank=True)

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["settings", "rates", "prices", "recipes", "customers", "people", "door"]),
                name="change_of_a_known_kind",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.subject}: {self.what}"


from studio.house.audit_models import CleanPass as CleanPass  # noqa: E402  (tables of this app)
from studio.house.long_work_models import LongWork as LongWork  # noqa: E402
from studio.house.long_work_models import LongWorker as LongWorker  # noqa: E402
from studio.house.week_models import DayApart as DayApart  # noqa: E402
from studio.house.week_models import StudioWeek as StudioWeek  # noqa: E402
