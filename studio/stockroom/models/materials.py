"""Materials, what they are told to be and to endanger, and the places where they stand."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from studio.exact import RATIO_DECIMALS, length_field, ratio_field, share_field, stock_field
from studio.kit.coded import Coded
from studio.kit.rounding import as_decimal
from studio.stockroom.hazards.classes import REACTS_AS, fewest, is_ammoniacal_silver, with_implied
from studio.stockroom.hazards.identity import (
    WET_KINDS,
    Identity,
    Told,
    cas_check_digit_holds,
    disagreements,
    silver_content,
    told_by,
)
from studio.stockroom.hazards.silvering import is_of_silvering
from studio.stockroom.hazards.statements import (
    CATEGORIES,
    HAZARD_STATEMENTS,
    MOST_LETTERS_NAMED,
    NAMING,
    PICTOGRAMS,
    Classification,
    Follows,
    LabelElements,
    follows_from,
    is_precaution,
    label_elements,
)
from studio.stockroom.hazards.trade import TradeMaterial, listed
from studio.stockroom.storage import GENERAL, PLACE_TYPES, Place


def _check_cas(number: str) -> None:
    if not cas_check_digit_holds(number):
        raise ValidationError(f"{number} is no CAS Registry Number: its check digit does not fit.")


def _known(codes: object, known: dict[str, str], what: str) -> None:
    unknown = [code for code in codes if code not in known] if isinstance(codes, list) else [codes]
    if unknown:
        raise ValidationError(f"Unknown {what}: {', '.join(map(str, unknown))}.")


def _known_agents(codes: object) -> None:
    _known(codes, REACTS_AS, "word under “reacts as”")


def _check_agents(codes: object) -> None:
    _known_agents(codes)


def _check_pictograms(codes: object) -> None:
    _known(codes, PICTOGRAMS, "GHS pictogram")


def _check_statements(codes: object) -> None:
    _known(codes, HAZARD_STATEMENTS, "GHS hazard statement")


def _check_precautions(codes: object) -> None:
    unknown = [code for code in codes if not is_precaution(str(code))] if isinstance(codes, list) else [codes]
    if unknown:
        raise ValidationError(f"Unknown GHS precautionary statement: {', '.join(map(str, unknown))}.")


def _check_categories(categories: object) -> None:
    given = categories if isinstance(categories, dict) else {str(categories): ""}
    for code, category in given.items():
        if code in NAMING and isinstance(category, str) and 0 < len(category) <= MOST_LETTERS_NAMED:
            continue
        if category not in CATEGORIES.get(code, {}):
            raise ValidationError(f"{code} has no category {category}.")


#: columns of a material that lists of lots do not read, each a document that would be read again for every lot
LONG = ("hazard_statements", "statement_categories", "precautions", "pictograms", "reacts_as", "classes")


class Materials(models.QuerySet["Material"]):
    """Materials. What is written in bulk is told its classes too."""

    def bulk_create(self, objs: Iterable[Material], *args: Any, **kwargs: Any) -> list[Material]:
        rows = list(objs)
        for row in rows:
            row.classes = row.classes_to_store
        return super().bulk_create(rows, *args, **kwargs)


class Material(Coded):
    """Something kept on the shelf, counted in its stock unit."""

    class Kind(models.TextChoices):
        CHEMICAL = "chemical", "chemical"
        WATER = "water", "water"
        GLASS = "glass sheet", "glass sheet"
        SEALER = "sealer", "sealer"
        BACKING = "backing", "backing"
        CONSUMABLE = "consumable", "consumable"
        SOLUTION = "solution", "solution made here"

    class StockUnit(models.TextChoices):
        GRAM = "g", "g"
        MILLILITRE = "mL", "mL"
        SHEET = "sheet", "sheet"
        EACH = "each", "each"

    class Tint(models.TextChoices):
        CLEAR = "clear", "clear"
        LOW_IRON = "low-iron", "low-iron"
        TINTED = "tinted", "tinted"

    class Treatment(models.TextChoices):
        ANNEALED = "annealed", "annealed"
        TOUGHENED = "toughened", "toughened"
        LAMINATED = "laminated", "laminated"

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    stock_unit = models.CharField(max_length=5, choices=StockUnit.choices)
    liquid = models.BooleanField(default=False)
    density_g_per_ml = ratio_field(null=True, blank=True)
    formula = models.CharField(max_length=80, blank=True)
    hydrate = models.CharField(max_length=40, blank=True)
    assay_share = share_field(null=True, blank=True)
    cas_number = models.CharField(max_length=12, blank=True, validators=[_check_cas])
    hazard_statements = models.JSONField(default=list, blank=True, validators=[_check_statements])
    statement_categories = models.JSONField(default=dict, blank=True, validators=[_check_categories])
    precautions = models.JSONField(default=list, blank=True, validators=[_check_precautions])
    pictograms = models.JSONField(default=list, blank=True, validators=[_check_pictograms])
    signal_word = models.CharField(max_length=10, blank=True, choices=[("Danger", "Danger"), ("Warning", "Warning")])
    reacts_as = models.JSONField(default=list, blank=True, validators=[_check_agents])
    #: all that it reacts as, kept for the database's own rules: written when it is saved, never typed
    classes = models.JSONField(default=list, blank=True, editable=False)
    none_apply = models.BooleanField(
        default=False, help_text="For a material that is used wet and reacts as none of these.",
    )
    no_statements = models.BooleanField(
        default=False, help_text="Its data sheet was read, and gives no hazard statement.",
    )
    must_be_diluted = models.BooleanField(default=False)
    silver_g_per_unit = ratio_field(default=0)
    storage_place = models.CharField(max_length=60, blank=True)
    shelf_life_days = models.PositiveIntegerField(null=True, blank=True)
    opened_life_days = models.PositiveIntegerField(null=True, blank=True)
    reorder_point = stock_field(null=True, blank=True)
    pack_size = stock_field(null=True, blank=True)
    list_price = ratio_field(null=True, blank=True, help_text="Money per stock unit.")
    sheet_width_mm = length_field(null=True, blank=True)
    sheet_height_mm = length_field(null=True, blank=True)
    thickness_mm = length_field(null=True, blank=True)
    tint = models.CharField(max_length=10, blank=True, choices=Tint.choices)
    treatment = models.CharField(max_length=10, blank=True, choices=Treatment.choices)
    same_glass = models.CharField(
        max_length=60, blank=True,
        help_text="One word for all stock sizes of one glass: panes are then cut from whichever costs least.",
    )
    saves = models.PositiveIntegerField(default=1)

    #: classes that its owner takes away with a reason, in the save to come
    taken_away: frozenset[str] = frozenset()

    objects = Materials.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(kind="glass sheet") | Q(
                    stock_unit="sheet", sheet_width_mm__gt=0, sheet_height_mm__gt=0, thickness_mm__gt=0,
                    tint__in=["clear", "low-iron", "tinted"], treatment__in=["annealed", "toughened", "laminated"],
                ),
                name="glass_has_its_size", violation_error_code="sheet_width_mm",
                violation_error_message="Glass is stocked in sheets: give its size, thickness, tint and treatment.",
            ),
            models.CheckConstraint(
                condition=Q(density_g_per_ml=None) | Q(density_g_per_ml__gt=0), name="density_above_zero",
            ),
            models.CheckConstraint(
                condition=Q(list_price=None) | Q(list_price__gte=0), name="list_price_not_negative",
            ),
            models.CheckConstraint(condition=Q(silver_g_per_unit__gte=0), name="silver_not_negative"),
            models.CheckConstraint(condition=Q(stock_unit__in=["g", "mL", "sheet", "each"]), name="known_stock_unit"),
            models.CheckConstraint(condition=~Q(stock_unit="mL") | Q(liquid=True), name="millilitres_are_liquid"),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save it with its classes beside it, whichever columns are asked for. In use, it loses none by that."""
        self.keep_its_classes()
        self.classes = self.classes_to_store
        if kwargs.get("update_fields") is not None:
            kwargs["update_fields"] = {*kwargs["update_fields"], "classes", "reacts_as", "none_apply"}
        super().save(*args, **kwargs)

    @property
    def classes_to_store(self) -> list[str]:
        """Return its classes with all that they bring, as the database keeps them."""
        return sorted(with_implied(self.known_classes))

    def keep_its_classes(self) -> None:
        """Leave what it was known to react as, and nothing tells any longer, as added by its owner.

        So of a material in use only: to empty a number or a formula is not to say that the bottle holds something else.
        What its owner takes away with a reason goes.
        """
        before = Material.objects.filter(pk=self.pk).values_list("classes", flat=True).first() if self.pk else None
        lost = frozenset(before or ()) - with_implied(self.known_classes) - self.taken_away
        if lost and self.is_in_use:
            self.reacts_as = sorted({*self.reacts_as, *lost})
            self.none_apply = False

    @property
    def is_in_use(self) -> bool:
        """Say whether anything was made of it, received, ordered or promised: whatever record names it."""
        return self.pk is not None and any(
            relation.related_model._default_manager.filter(**{relation.field.name: self.pk}).exists()
            for relation in self._meta.related_objects
        )

    def clean(self) -> None:
        """Refuse what cannot be: formula, number, silver and density that do not fit.

        Raises ValidationError, each sentence beside its field.
        """
        density = None if self.density_g_per_ml is None else Fraction(self.density_g_per_ml)
        wrong: dict[str, list[str]] = {}
        for refusal in disagreements(self.what_it_is, stock_unit=self.stock_unit, density=density):
            wrong.setdefault(refusal.field, []).append(str(refusal))
        if wrong:
            raise ValidationError(wrong)

    @property
    def what_it_is(self) -> Identity:
        """Return all that tells how it reacts."""
        statements = self.hazard_statements if isinstance(self.hazard_statements, list) else []
        return Identity(
            name=self.name, kind=self.kind, cas=self.cas_number, formula=self.formula, hydrate=self.hydrate,
            assay_share=None if self.assay_share is None else Fraction(self.assay_share),
            silver_g_per_unit=Fraction(self.silver_g_per_unit or 0), statements=tuple(map(str, statements)),
            liquid=self.liquid, added=frozenset(map(str, self.reacts_as or ())),
        )

    @property
    def silver_worked_out(self) -> Decimal:
        """Return the silver in a stock unit, in g, by formula or number, and assay; 0 where they tell none."""
        density = None if self.density_g_per_ml is None else Fraction(self.density_g_per_ml)
        content = silver_content(self.what_it_is, stock_unit=self.stock_unit, density=density)
        return as_decimal(content or Fraction(0), RATIO_DECIMALS)

    @property
    def told(self) -> Told:
        """Return what its identity tells, and what it leaves to ask."""
        return told_by(self.what_it_is)

    @property
    def known_classes(self) -> frozenset[str]:
        """Return all that it reacts as: what its identity tells, and what the owner added. Every rule asks for this."""
        return self.told.classes | frozenset(self.reacts_as)

    @property
    def is_of_silvering(self) -> bool:
        """Say whether its identity is one of silvering's own materials."""
        return is_of_silvering(self.what_it_is)

    @property
    def is_only_water(self) -> bool:
        """Say whether it is water and nothing besides, by its kind or by what it is."""
        return self.known_classes <= {"water"} and (self.kind == self.Kind.WATER or bool(self.known_classes))

    @property
    def is_received(self) -> bool:
        """Say whether lots of it come by delivery; those of a solution are made here."""
        return self.kind != self.Kind.SOLUTION

    @property
    def is_ammoniacal_silver(self) -> bool:
        """Say whether it is ammoniacal silver by itself: entered as the truth, never received, its lots held."""
        return is_ammoniacal_silver(self.known_classes)

    @property
    def is_used_wet(self) -> bool:
        """Say whether it is used wet: a chemical, or a sealer or backing that is measured out."""
        return self.kind in WET_KINDS and (self.kind == self.Kind.CHEMICAL or self.stock_unit in ("g", "mL"))

    @property
    def is_unclassed(self) -> bool:
        """Say whether nobody knows how it reacts: used wet, no class known, and not “none apply”."""
        return self.is_used_wet and not self.known_classes and not self.none_apply

    @property
    def is_unclassed_in_a_mix(self) -> bool:
        """Say whether nobody knows how it reacts in a solution: what is mixed in is used wet, a consumable too."""
        used_wet = self.is_used_wet or self.kind == self.Kind.CONSUMABLE
        return used_wet and not (self.is_only_water or self.known_classes or self.none_apply)

    @property
    def published(self) -> TradeMaterial | None:
        """Return the trade's entry of what its number and strength name; None where none is listed."""
        return listed(self.cas_number, None if self.assay_share is None else Fraction(self.assay_share))

    @property
    def published_hazards(self) -> TradeMaterial | None:
        """Return the trade's entry while none of its own statements are entered, and the entry has some to offer."""
        published = self.published if self.hazards_not_entered else None
        return published if published is not None and published.statements else None

    @property
    def hazards_not_entered(self) -> bool:
        """Say whether it is used wet, and nobody has entered its hazard statements, read or published that it has none.
        """
        if not self.is_used_wet or self.is_only_water or self.hazard_statements:
            return False
        published = self.published
        return not (self.none_apply or self.no_statements or (published is not None and not published.statements))

    @property
    def classes_in_words(self) -> str:
        """Return all that it reacts as: “acid, chloride”; unknown where nobody knows."""
        return "unknown" if self.is_unclassed else ", ".join(sorted(REACTS_AS[code] for code in self.known_classes))

    @property
    def reasons(self) -> list[tuple[str, str]]:
        """Return what tells its classes, each with the classes in words: “CAS 7761-88-8 is silver nitrate”."""
        told: dict[str, list[str]] = {}
        for code, reason in [*self.told.because, *((code, "entered by the owner") for code in self.reacts_as)]:
            told.setdefault(reason, []).append(REACTS_AS[code])
        return [(reason, ", ".join(sorted(words))) for reason, words in told.items()]

    @property
    def identity(self) -> str:
        """Return formula, hydrate and CAS number, as far as they are known: “AgNO3, CAS 7761-88-8”."""
        cas = f"CAS {self.cas_number}" if self.cas_number else ""
        return ", ".join(filter(None, (self.formula, self.hydrate, cas)))

    @property
    def classification(self) -> Classification:
        """Return the hazards as they were entered: pictograms and signal word are what was raised above the rest."""
        return Classification(
            statements=tuple(self.hazard_statements), categories=self.statement_categories,
            pictograms=tuple(self.pictograms), signal_word=self.signal_word, precautions=tuple(self.precautions),
        )

    @property
    def follows(self) -> Follows:
        """Return the pictograms and signal word that follow from its statements."""
        return follows_from(self.hazard_statements, self.statement_categories)

    @property
    def label(self) -> LabelElements:
        """Return its hazards as a label shows them."""
        return label_elements([self.classification])

    @property
    def keeps(self) -> str:
        """Return how long it keeps: “365 days unopened, 30 days once opened”."""
        lives = ((self.shelf_life_days, "unopened"), (self.opened_life_days, "once opened"))
        return ", ".join(f"{days} day{'' if days == 1 else 's'} {how}" for days, how in lives if days is not None)


class ClassesTakenAway(models.Model):
    """Classes that a material in use no longer reacts as, by its owner, and why. at_save: its saves with that.

    classes: with all that they bring.
    """

    material = models.ForeignKey(Material, models.PROTECT, related_name="classes_taken_away")
    at_save = models.PositiveIntegerField()
    classes = models.JSONField(validators=[_known_agents])
    why = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(condition=~Q(why=""), name="classes_taken_away_say_why"),
            models.UniqueConstraint(fields=["material", "at_save"], name="classes_taken_away_once_a_save"),
        ]

    @property
    def in_words(self) -> str:
        return ", ".join(sorted(REACTS_AS[code] for code in fewest(self.classes)))


class StoragePlace(models.Model):
    """A cabinet or shelf by its name: what it is built for, and whether it is cold or dark.

    A material names its place by text; a text that no place has is a general place.
    """

    name = models.CharField(max_length=60)
    type = models.CharField(max_length=10, choices=list(PLACE_TYPES.items()), default=GENERAL)
    is_cold = models.BooleanField(default=False)
    is_dark = models.BooleanField(default=False)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="storage_place_once",
                                    violation_error_message="There is a place of that name already."),
            models.CheckConstraint(condition=Q(type__in=list(PLACE_TYPES)), name="known_type_of_place"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def facts(self) -> Place:
        return Place(name=self.name, type=self.type, is_cold=self.is_cold, is_dark=self.is_dark)
