"""Deliveries, lots, the append-only ledger of their movements, and what is promised."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils.formats import date_format
from django.utils.timezone import localtime

from studio.exact import money_field, ratio_field, stock_field
from studio.house.clock import house_zone, now
from studio.house.models import StoredFile
from studio.kit.rounding import as_decimal, half_up, places
from studio.stockroom.models.materials import Material


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


UNIT_COST_DECIMALS = 6
#: what a lot is called whose receipt was undone
UNDONE = re.compile(r"(?P<number>.+) \(undone(?: \d+)?\)")


def gone(lot_number: str) -> str:
    """Return in a word what became of a lot that holds nothing: its receipt was undone, or it was used up."""
    return "undone" if UNDONE.fullmatch(lot_number) else "used up"


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
    def is_undone(self) -> bool:
        """Say whether its receipt was undone: it gave its number back then, and never held anything."""
        return self.is_used_up and gone(self.lot_number) == "undone"

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

    def standing_on(self, day: date) -> str:
        """Return in one word whether it may be used: used up or undone, held, expired, else usable."""
        if self.is_used_up:
            return gone(self.lot_number)
        return "held" if self.is_held else "expired" if self.has_expired(day) else "usable"

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
    """What a lot holds now. Only the ledger's trigger writes it: an old save of a lot cannot reset it.

    counted_to: the newest movement that it counts, with all before.
    """

    lot = models.OneToOneField(Lot, models.PROTECT, primary_key=True, related_name="level")
    on_hand = stock_field(default=0)
    counted_to = models.PositiveBigIntegerField(default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(on_hand__gte=0), name="lot_never_below_zero",
                violation_error_message="This lot does not hold that much.",
            ),
        ]


#: kinds of posting and movement that read otherwise than they are stored
KIND_IN_WORDS = {"make-up": "mixed ahead", "make-up in": "mixed ahead", "make-up out": "used in a mix"}


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
        indexes = [models.Index(fields=["at"], name="posting_at")]

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
        indexes = [models.Index(fields=["released_at"], name="reservation_released")]
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
