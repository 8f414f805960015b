"""Materials, lots, the append-only ledger, what is promised, counts, offcuts and waste."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils.formats import date_format
from django.utils.timezone import localtime

from studio.exact import RATIO_DECIMALS, length_field, money_field, ratio_field, share_field, stock_field
from studio.house.clock import house_zone, now
from studio.house.models import StoredFile
from studio.kit.coded import Coded
from studio.kit.rounding import as_decimal, half_up, places
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

UNIT_COST_DECIMALS = 6

#: kinds of posting and movement that read otherwise than they are stored
KIND_IN_WORDS = {"make-up": "mixed ahead", "make-up in": "mixed ahead", "make-up out": "used in a mix"}


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
        unopened = f"{self.shelf_life_days} days unopened" if self.shelf_life_days is not None else ""
        opened = f"{self.opened_life_days} days once opened" if self.opened_life_days is not None else ""
        return ", ".join(filter(None, (unopened, opened)))


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


class Delivery(models.Model):
    """Lots received together: one supplier, one day, carriage shared over them. Money in the studio's currency."""

    class Share(models.TextChoices):
        VALUE = "value", "by value"
        MASS = "mass", "by mass"

    supplier = models.CharField(max_length=80)
    received_on = models.DateField()
    carriage = money_field(default=0)
    share_by = models.CharField(max_length=5, choices=Share.choices, default=Share.VALUE)
    reference = models.CharField(max_length=60, blank=True)
    key = models.UUIDField(unique=True)

    class Meta:
        ordering = ["-received_on", "-id"]
        constraints = [models.CheckConstraint(condition=Q(carriage__gte=0), name="carriage_not_negative")]

    def __str__(self) -> str:
        return f"{self.supplier}, {self.received_on}"


class Lot(models.Model):
    """What was received under one lot number. Its level says what is on hand, and only the ledger moves that.

    made_at, discard_at: of a lot made here, to the minute. Lots made before they were noted keep to the day.
    """

    class State(models.TextChoices):
        USABLE = "usable", "usable"
        HELD = "held", "held"

    material = models.ForeignKey(Material, models.PROTECT, related_name="lots")
    lot_number = models.CharField(max_length=40)
    supplier = models.CharField(max_length=80, blank=True)
    received_on = models.DateField()
    opened_on = models.DateField(null=True, blank=True)
    expires_on_given = models.DateField(null=True, blank=True)
    quantity_received = stock_field()
    cost_with_carriage = money_field(default=0)
    made_here = models.BooleanField(default=False)
    made_at = models.DateTimeField(null=True, blank=True)
    discard_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.USABLE)
    hold_reason = models.CharField(max_length=200, blank=True)
    delivery = models.ForeignKey(Delivery, models.PROTECT, null=True, blank=True, related_name="lots")
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["material__name", "received_on", "id"]
        constraints = [
            models.UniqueConstraint(
                Lower("lot_number"), name="lot_number_names_one_lot",
                violation_error_message="There is a lot of that number already: one number names one lot.",
            ),
            models.CheckConstraint(condition=Q(quantity_received__gt=0), name="lot_received_something"),
            models.CheckConstraint(condition=Q(cost_with_carriage__gte=0), name="lot_cost_not_negative"),
            models.CheckConstraint(
                condition=Q(state="usable") | (Q(state="held") & ~Q(hold_reason="")), name="held_lot_says_why",
                violation_error_code="hold_reason", violation_error_message="Say why the lot is held.",
            ),
            models.CheckConstraint(
                condition=Q(opened_on=None) | Q(opened_on__gte=F("received_on")), name="opened_after_received",
            ),
            models.CheckConstraint(
                condition=Q(made_at=None, discard_at=None)
                | Q(made_here=True, made_at__isnull=False, discard_at__gt=F("made_at")),
                name="made_lot_keeps_from_its_making",
            ),
            models.CheckConstraint(
                condition=Q(made_here=False) | Q(delivery=None), name="made_here_is_never_delivered",
                violation_error_message="What is made here does not come in by delivery.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.material.name}, lot {self.lot_number}"

    @property
    def is_held(self) -> bool:
        return self.state == Lot.State.HELD

    @property
    def is_used_up(self) -> bool:
        return self.level.on_hand == 0

    @property
    def unit_cost(self) -> Decimal:
        """Return the cost with carriage per stock unit, 6 decimals, half up."""
        exact = Fraction(self.cost_with_carriage) / Fraction(self.quantity_received)
        return as_decimal(half_up(exact, places(UNIT_COST_DECIMALS)), UNIT_COST_DECIMALS)

    @property
    def expires_on(self) -> date | None:
        """Return the expiry: given, or from the shelf life; once opened, the earlier of that and the opened life."""
        material, ends = self.material, []
        if self.expires_on_given:
            ends.append(self.expires_on_given)
        elif material.shelf_life_days is not None:
            ends.append(self.received_on + timedelta(days=material.shelf_life_days))
        if self.opened_on and material.opened_life_days is not None:
            ends.append(self.opened_on + timedelta(days=material.opened_life_days))
        return min(ends, default=None)

    def has_expired(self, day: date, at: datetime | None = None) -> bool:
        """Say whether the lot is past its expiry day, which itself still counts, or past its minute now."""
        if self.discard_at is not None and self.discard_at <= (at or now()):
            return True
        return self.expires_on is not None and self.expires_on < day

    @property
    def origin(self) -> str:
        """Return where it came from and when: “made here on 3 May 2026, 10:30”, “Acme, received 3 May 2026”."""
        if self.made_at is not None:
            return f"made here on {date_format(localtime(self.made_at), 'j M Y, H:i')}"
        return f"{self.supplier or 'made here'}, received {date_format(self.received_on, 'j M Y')}"

    @property
    def ends_at(self) -> datetime | None:
        """Return the moment after which nothing of the lot is used: its minute, else the end of its expiry day."""
        if self.discard_at is not None:
            return self.discard_at
        ends_on = self.expires_on
        return None if ends_on is None else datetime.combine(ends_on + timedelta(days=1), time(), house_zone())

    @property
    def until(self) -> str:
        """Return until when the lot is used: “3 May 2026, 14:30”, or its day; nothing where nobody said."""
        ends_on = self.expires_on
        if ends_on is None:
            return ""
        if self.discard_at is None or ends_on < localtime(self.discard_at).date():
            return date_format(ends_on, "j M Y")
        return date_format(localtime(self.discard_at), "j M Y, H:i")


class LotLevel(models.Model):
    """What a lot holds now. Only the ledger's trigger writes it: an old save of a lot cannot reset it."""

    lot = models.OneToOneField(Lot, models.PROTECT, primary_key=True, related_name="level")
    on_hand = stock_field(default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(on_hand__gte=0), name="lot_never_below_zero",
                violation_error_message="This lot does not hold that much.",
            ),
        ]


class Posting(models.Model):
    """Movements that belong together, counted once by their key, however often they are sent."""

    class Kind(models.TextChoices):
        RECEIPT = "receipt", "receipt"
        RUN = "run", "run"
        TRIAL = "trial", "trial"
        MAKE_UP = "make-up", "make-up"
        COUNT = "count", "count"
        DISCARD = "discard", "discard"
        RETURN = "return", "return"
        REVERSAL = "reversal", "reversal"

    key = models.UUIDField(unique=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["at", "id"]

    @property
    def kind_in_words(self) -> str:
        return KIND_IN_WORDS.get(self.kind, self.kind)


class StockMovement(models.Model):
    """One signed amount moved in or out of a lot. Rows are added, never edited: a mistake is reversed."""

    class Kind(models.TextChoices):
        RECEIPT = "receipt", "receipt"
        USE = "use", "use"
        MAKE_UP_IN = "make-up in", "make-up in"
        MAKE_UP_OUT = "make-up out", "make-up out"
        COUNT = "count correction", "count correction"
        DISCARD = "discard", "discard"
        RETURN = "return", "return"

    posting = models.ForeignKey(Posting, models.PROTECT, related_name="movements")
    line = models.PositiveIntegerField()
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=16, choices=Kind.choices)
    quantity = stock_field()
    unit_cost = ratio_field()
    note = models.CharField(max_length=200, blank=True)
    reverses = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="reversed_by")

    class Meta:
        ordering = ["posting__at", "posting_id", "line"]
        constraints = [
            models.UniqueConstraint(
                fields=["posting", "line"], name="posting_counts_once", violation_error_code="posting",
                violation_error_message="This was already posted: nothing was taken twice.",
            ),
            models.CheckConstraint(
                condition=~Q(quantity=0), name="movement_moves_something", violation_error_code="quantity",
                violation_error_message="Give an amount: nothing would move.",
            ),
            models.CheckConstraint(
                condition=Q(reverses__isnull=False) | Q(kind="count correction")
                | Q(kind__in=["receipt", "make-up in"], quantity__gt=0)
                | Q(kind__in=["use", "make-up out", "discard", "return"], quantity__lt=0),
                name="movement_goes_its_way", violation_error_code="quantity",
                violation_error_message="That kind of movement goes the other way.",
            ),
            models.CheckConstraint(condition=Q(unit_cost__gte=0), name="movement_cost_not_negative"),
        ]

    @property
    def kind_in_words(self) -> str:
        return KIND_IN_WORDS.get(self.kind, self.kind)


class Reservation(models.Model):
    """Stock promised to a job until it is released."""

    made_at = models.DateTimeField()
    released_at = models.DateTimeField(null=True, blank=True)
    what_for = models.CharField(max_length=120)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(released_at=None) | Q(released_at__gte=F("made_at")), name="released_after_made",
            ),
        ]

    def __str__(self) -> str:
        return self.what_for


class ReservedAmount(models.Model):
    reservation = models.ForeignKey(Reservation, models.CASCADE, related_name="amounts")
    material = models.ForeignKey(Material, models.PROTECT, related_name="reserved")
    quantity = stock_field()

    class Meta:
        ordering = ["material__name"]
        constraints = [
            models.UniqueConstraint(fields=["reservation", "material"], name="material_reserved_once"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="reserved_something"),
        ]


class LotEvent(models.Model):
    """What was done to a lot without moving stock: opened, held, released; rows are added, never edited."""

    class Kind(models.TextChoices):
        OPENED = "opened", "opened"
        HELD = "held", "held"
        RELEASED = "released", "released"

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="events")
    key = models.UUIDField(unique=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(kind="opened") | ~Q(why=""), name="holding_and_releasing_say_why"),
        ]


class LotPaper(models.Model):
    """A paper of a lot: safety data sheet, certificate, invoice."""

    class Kind(models.TextChoices):
        SHEET = "sheet", "safety data sheet"
        CERTIFICATE = "certificate", "certificate"
        INVOICE = "invoice", "invoice"

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="papers")
    kind = models.CharField(max_length=11, choices=Kind.choices)
    file = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["kind", "id"]


class Purchase(models.Model):
    """Something ordered from a supplier; the lot it came as closes it, or a reason to cancel it."""

    material = models.ForeignKey(Material, models.PROTECT, related_name="purchases")
    quantity = stock_field()
    supplier = models.CharField(max_length=80, blank=True)
    ordered_on = models.DateField()
    due_on = models.DateField(null=True, blank=True)
    lot = models.OneToOneField(Lot, models.PROTECT, null=True, blank=True, related_name="purchase")
    cancelled_because = models.CharField(max_length=120, blank=True)
    form_key = models.UUIDField(unique=True)

    class Meta:
        ordering = ["due_on", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="purchase_is_of_something"),
            models.CheckConstraint(
                condition=Q(lot=None) | Q(cancelled_because=""), name="purchase_came_or_was_cancelled",
            ),
        ]


class CountSheet(models.Model):
    """Lots of one storage place counted as of one moment; saved to the ledger once, as corrections."""

    place = models.CharField(max_length=60, blank=True)
    as_of = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    hide_expected = models.BooleanField(default=True)
    form_key = models.UUIDField(unique=True)
    posting = models.OneToOneField(Posting, models.PROTECT, null=True, blank=True, related_name="count_sheet")
    posted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-as_of", "-id"]

    @property
    def shows_expected(self) -> bool:
        """Say whether expected amounts are shown: where they are not hidden, and once the count is saved."""
        return not self.hide_expected or self.posted_at is not None


class CountLine(models.Model):
    """One lot of a count: what it held by the ledger at the sheet's moment, and what was counted.

    written_at: when that figure was written; held_then: what the lot held at that moment, by the ledger and by what was
    recorded on the bench as taken, and was not deducted yet.
    """

    sheet = models.ForeignKey(CountSheet, models.PROTECT, related_name="lines")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="counts")
    expected = stock_field()
    counted = stock_field(null=True, blank=True)
    written_at = models.DateTimeField(null=True, blank=True)
    held_then = stock_field(null=True, blank=True)

    class Meta:
        ordering = ["lot__material__name", "lot__received_on", "lot_id"]
        constraints = [
            models.UniqueConstraint(fields=["sheet", "lot"], name="lot_counted_once_a_sheet"),
            models.CheckConstraint(condition=Q(counted=None) | Q(counted__gte=0), name="counted_not_negative"),
            models.CheckConstraint(
                condition=Q(counted=None, written_at=None, held_then=None)
                | Q(counted__isnull=False, written_at__isnull=False, held_then__isnull=False),
                name="counted_figure_has_its_moment",
            ),
        ]

    @property
    def expected_then(self) -> Decimal:
        """Return what was to be there when the figure was written; at the sheet's moment while there is none."""
        return self.expected if self.held_then is None else self.held_then


class Offcut(models.Model):
    """A piece of glass left over and kept under a number: stock with a size, used whole or not at all."""

    number = models.PositiveIntegerField(unique=True)
    material = models.ForeignKey(Material, models.PROTECT, related_name="offcuts")
    width_mm = length_field()
    height_mm = length_field()
    place = models.CharField(max_length=60, blank=True)
    came_from = models.CharField(max_length=60, blank=True)
    kept_at = models.DateTimeField()
    kept_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    reservation = models.ForeignKey(Reservation, models.SET_NULL, null=True, blank=True, related_name="offcuts")
    gone_at = models.DateTimeField(null=True, blank=True)
    gone_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    gone_because = models.CharField(max_length=120, blank=True)
    form_key = models.UUIDField(unique=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(condition=Q(width_mm__gt=0, height_mm__gt=0), name="offcut_has_a_size"),
            models.CheckConstraint(
                condition=Q(gone_at=None, gone_by=None, gone_because="")
                | (Q(gone_at__isnull=False, gone_by__isnull=False) & ~Q(gone_because="")),
                name="offcut_gone_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"Offcut {self.number}"

    @property
    def is_promised(self) -> bool:
        return self.reservation is not None and self.reservation.released_at is None


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
