"""The settings of the week: who works when, on which benches, the days that differ, and the owner's own figures."""

from __future__ import annotations

from contextlib import suppress
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from studio.exact import share_field
from studio.kit.public_holidays import countries, regions
from studio.kit.working_hours import DAYS, NoHours, Spells, parse_spells, show_spells

MOST_BENCHES = 6
LONGEST_BENCH_NAME = 30
OWNER, HELPER, STUDIO = "owner", "helper", "studio"
#: whose hours the week knows
HANDS = (OWNER, HELPER)


def check_spells(typed: str) -> None:
    try:
        parse_spells(typed)
    except NoHours as refusal:
        raise ValidationError(str(refusal)) from refusal


def check_country(code: str) -> None:
    if code not in dict(countries()):
        raise ValidationError(f"No public holidays are known of “{code}”: leave it empty, and add days off yourself.")


def _hours_field(who: str, day: str) -> models.CharField[str, str]:
    """Return somebody's hours on a weekday, “08:30-12:30, 13:00-17:30”; empty: does not work."""
    return models.CharField(f"{who}, {day.capitalize()}", max_length=60, blank=True, validators=[check_spells])


class StudioWeek(models.Model):
    """Who works when, on which benches, and the owner's figures for a promise. There is one, or none yet."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    owner_monday = _hours_field(OWNER, "monday")
    owner_tuesday = _hours_field(OWNER, "tuesday")
    owner_wednesday = _hours_field(OWNER, "wednesday")
    owner_thursday = _hours_field(OWNER, "thursday")
    owner_friday = _hours_field(OWNER, "friday")
    owner_saturday = _hours_field(OWNER, "saturday")
    owner_sunday = _hours_field(OWNER, "sunday")
    helper_monday = _hours_field(HELPER, "monday")
    helper_tuesday = _hours_field(HELPER, "tuesday")
    helper_wednesday = _hours_field(HELPER, "wednesday")
    helper_thursday = _hours_field(HELPER, "thursday")
    helper_friday = _hours_field(HELPER, "friday")
    helper_saturday = _hours_field(HELPER, "saturday")
    helper_sunday = _hours_field(HELPER, "sunday")
    benches = models.TextField(default="Bench 1")
    country = models.CharField(max_length=2, blank=True, validators=[check_country])
    region = models.CharField(max_length=10, blank=True)
    comes_share = share_field(default="0.4")
    holds_share = share_field(default="0.8")
    spare_days = models.PositiveSmallIntegerField(default=3, validators=[MaxValueValidator(30)])
    look_ahead_days = models.PositiveSmallIntegerField(
        default=42, validators=[MinValueValidator(7), MaxValueValidator(120)])
    helper_records_away = models.BooleanField(default=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="there_is_one_week"),
            models.CheckConstraint(
                condition=Q(comes_share__gte=0, comes_share__lte=1, holds_share__gt=0, holds_share__lte=1),
                name="week_shares_are_shares", violation_error_message="A share lies between 0 and 100 %.",
            ),
            models.CheckConstraint(
                condition=Q(look_ahead_days__gte=7, look_ahead_days__lte=120), name="week_looks_ahead_for_days",
                violation_error_message="The plan looks ahead for 7 to 120 days.",
            ),
        ]

    def __str__(self) -> str:
        return "The week"

    def hours(self, who: str, weekday: int) -> Spells:
        """Return somebody's spells on a weekday, Monday 0."""
        return parse_spells(getattr(self, f"{who}_{DAYS[weekday]}"))

    @property
    def bench_names(self) -> list[str]:
        return [name for line in self.benches.splitlines() if (name := " ".join(line.split()))]

    def clean(self) -> None:
        for who in HANDS:
            for day in DAYS:
                with suppress(NoHours):  # the field's own validator says so
                    setattr(self, f"{who}_{day}", show_spells(parse_spells(getattr(self, f"{who}_{day}"))))
        names = self.bench_names
        self.benches = "\n".join(names)
        if not names:
            raise ValidationError({"benches": "Name at least one bench."})
        if len(names) > MOST_BENCHES or any(len(name) > LONGEST_BENCH_NAME for name in names):
            raise ValidationError({"benches": f"At most {MOST_BENCHES} benches, each of {LONGEST_BENCH_NAME} letters "
                                              "at most."})
        if len({name.casefold() for name in names}) < len(names):
            raise ValidationError({"benches": "Two benches have one name."})
        if self.region and self.region not in regions(self.country):
            known = ", ".join(regions(self.country)) or "none"
            raise ValidationError({"region": f"“{self.region}” is no region with holidays of its own there: {known}."})


class DayApart(models.Model):
    """Days on which the whole studio, or one of the two, works otherwise than in other weeks.

    spells: the hours that are worked; empty: none, a day off. It comes before weekday hours and public holidays; one of
    a person before one of the studio, a later one before an earlier. kept_free: the hours are kept free of bench work,
    and taken off whatever the day otherwise has.
    """

    class Who(models.TextChoices):
        STUDIO = STUDIO, "the whole studio"
        OWNER = OWNER, "owner"
        HELPER = HELPER, "helper"

    key = models.UUIDField(unique=True, default=uuid4)
    who = models.CharField(max_length=10, choices=Who.choices, default=Who.STUDIO)
    first_on = models.DateField()
    last_on = models.DateField()
    spells = models.CharField(max_length=60, blank=True, validators=[check_spells])
    because = models.CharField(max_length=80, blank=True)
    kept_free = models.BooleanField(default=False)

    class Meta:
        ordering = ["first_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kept_free=False) | ~Q(spells=""), name="hours_kept_free_are_hours",
                violation_error_message="Say which hours are kept free.",
            ),
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on")), name="days_apart_end_after_they_begin",
                violation_error_message="The last day comes before the first.",
            ),
            models.CheckConstraint(
                condition=Q(who__in=[STUDIO, OWNER, HELPER]), name="days_apart_are_of_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_who_display()}, {self.first_on:%d %b %Y}"

    def clean(self) -> None:
        with suppress(NoHours):
            self.spells = show_spells(parse_spells(self.spells))
