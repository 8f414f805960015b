"""Solutions: numbered versions of a mix, and their ingredients."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import F, Q

from studio.exact import ratio_field, stock_field
from studio.kit.coded import Coded
from studio.kit.rounding import plain
from studio.kit.working_hours import MOST_LIMIT_MINUTES
from studio.stockroom.models import Material

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
