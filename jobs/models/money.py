"""Requests for money: numbered papers that ask a customer for a deposit or the balance, or take one back."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from jobs.models.jobs import Job
from jobs.models.quotes import Quote
from studio.exact import money_field
from studio.house.models import StoredFile

Person = settings.AUTH_USER_MODEL


class MoneyRequestRows(models.QuerySet["MoneyRequest"]):
    """Requests as sums read them."""

    def to_sum_up(self) -> MoneyRequestRows:
        """Fetch each with the one that it credits, and of neither what its paper says: that is long."""
        return self.select_related("credits").defer("content", "credits__content")


class MoneyRequest(models.Model):
    """A numbered request for money. Rows are added, never edited: a wrong one is taken back by a credit that names it.

    number: of one series for the whole studio, without a gap; prefix: as the settings had it that day. net, tax,
    total: in `currency`, below nothing of a credit. credits: the request that a credit takes back, whole or in part.
    content: what the paper says, frozen: studio, customer, tax by rate, what came before. due_on: of a credit its day.
    """

    class Kind(models.TextChoices):
        DEPOSIT = "deposit", "deposit"
        BALANCE = "balance", "balance"
        SAMPLE = "sample", "fee of samples"
        CREDIT = "credit", "credit"

    key = models.UUIDField(unique=True)
    number = models.PositiveIntegerField(unique=True)
    prefix = models.CharField(max_length=12, blank=True)
    job = models.ForeignKey(Job, models.PROTECT, related_name="money_requests")
    quote = models.ForeignKey(Quote, models.PROTECT, related_name="money_requests")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    credits = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="credited_by")
    asked_on = models.DateField()
    due_on = models.DateField()
    currency = models.CharField(max_length=3)
    net = money_field()
    tax = money_field()
    total = money_field()
    content = models.JSONField()
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    paper = models.ForeignKey(StoredFile, models.PROTECT, null=True, blank=True, related_name="+")

    objects = MoneyRequestRows.as_manager()

    class Meta:
        ordering = ["number"]
        indexes = [models.Index(fields=["asked_on"], name="money_request_asked_on")]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["deposit", "balance", "sample"], credits=None, total__gt=0)
                | Q(kind="credit", credits__isnull=False, total__lt=0) & ~Q(note=""),
                name="credit_names_what_it_takes_back",
            ),
            models.CheckConstraint(condition=Q(number__gte=1), name="money_request_has_a_number"),
            models.CheckConstraint(condition=Q(due_on__gte=F("asked_on")), name="money_is_due_once_it_is_asked"),
        ]

    def __str__(self) -> str:
        return f"{self.kind_in_words} {self.label}"

    @property
    def label(self) -> str:
        return f"{self.prefix}{self.number}"

    @property
    def is_credit(self) -> bool:
        return self.kind == self.Kind.CREDIT

    @property
    def kind_in_words(self) -> str:
        return {self.Kind.CREDIT: "Credit", self.Kind.SAMPLE: "Sample fee request"}.get(
            self.Kind(self.kind), f"{self.kind.capitalize()} request")

    @property
    def is_of_samples(self) -> bool:
        """Say whether it asks for samples, or takes that back: it is beside what the quote comes to."""
        return self.kind == self.Kind.SAMPLE or (
            self.credits is not None and self.credits.kind == self.Kind.SAMPLE)

    @property
    def taken_off(self) -> Decimal:
        """Return what a credit takes off, above nothing."""
        return -self.total

    def days_late(self, day: date) -> int:
        return max((day - self.due_on).days, 0)
