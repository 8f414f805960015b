"""Quotes: an estimate frozen under a number, sent, answered once."""

from __future__ import annotations

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import Q

from jobs.models.orders import Order
from jobs.work import quote_states, states
from studio.exact import money_field
from studio.house.clock import today
from studio.house.models import StoredFile

Person = settings.AUTH_USER_MODEL


def frozen_of(path: str = "") -> list[str]:
    """Return the columns of a quote that hold what was frozen, for `defer`: long, and no list reads them.

    path: to the quote, from the rows that are fetched.
    """
    return [f"{path}__{name}" if path else name for name in ("basis", "plan", "figures", "wording", "choices")]


class QuoteRows(models.QuerySet["Quote"]):
    """Quotes as they stand on a day; the rule itself is in jobs.work.quote_states."""

    def out(self, day: date) -> QuoteRows:
        """Keep those that are with the customer and may still be accepted, or were accepted."""
        return self.filter(Q(state=quote_states.SENT, valid_until__gte=day) | Q(state=quote_states.ACCEPTED))

    def unanswered(self) -> QuoteRows:
        """Keep what waits for an answer, or was never sent, of jobs that are not booked; lapsed ones included."""
        return self.filter(state__in=quote_states.UNDECIDED, order__job__state__in=states.WAITING)


class Quote(models.Model):
    """A numbered revision of a quote, frozen with its recipe versions, rates and prices.

    basis: what the estimate was worked out from; plan: what was worked out from it, which every later stage reads;
    figures: the estimate as it is shown; wording: what the paper says.
    """

    class State(models.TextChoices):
        DRAFT = quote_states.DRAFT, "draft"
        SENT = quote_states.SENT, "sent"
        ACCEPTED = quote_states.ACCEPTED, "accepted"
        DECLINED = quote_states.DECLINED, "declined"
        LAPSED = quote_states.LAPSED, "lapsed"
        REPLACED = quote_states.REPLACED, "replaced"

    order = models.ForeignKey(Order, models.PROTECT, related_name="quotes")
    number = models.PositiveIntegerField()
    revision = models.PositiveIntegerField(default=1)
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    basis = models.JSONField()
    plan = models.JSONField()
    figures = models.JSONField()
    wording = models.JSONField()
    #: what a customer may choose between, each frozen as a quote of its own; empty where there is nothing to choose
    choices = models.JSONField(default=list, blank=True)
    currency = models.CharField(max_length=3)
    net = money_field()
    tax = money_field()
    total = money_field()
    deposit = money_field()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    valid_until = models.DateField()
    sent_at = models.DateTimeField(null=True, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)
    paper = models.ForeignKey(StoredFile, models.PROTECT, null=True, blank=True, related_name="+")
    form_key = models.UUIDField(unique=True)

    objects = QuoteRows.as_manager()

    class Meta:
        indexes = [
            # what lists and sums ask, beside the long frozen columns, which SQLite would read through for it
            models.Index(fields=["order", "state", "revision", "number", "total", "net", "deposit", "valid_until"],
                         name="quote_in_lists"),
        ]
        ordering = ["-number", "-revision"]
        constraints = [
            models.UniqueConstraint(fields=["number", "revision"], name="quote_numbered_once"),
            models.UniqueConstraint(
                fields=["order"], condition=Q(state="accepted"), name="one_accepted_quote_an_order",
                violation_error_message="Another revision of this quote was accepted already.",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["accepted", "declined", "replaced"], decided_at__isnull=False)
                | (~Q(state__in=["accepted", "declined", "replaced"]) & Q(decided_at=None)),
                name="decision_has_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"Quote {self.label}"

    @property
    def label(self) -> str:
        return f"{self.number}" if self.revision == 1 else f"{self.number}, revision {self.revision}"

    def standing_on(self, day: date) -> str:
        return quote_states.standing(self.state, self.valid_until, day)

    @property
    def standing(self) -> str:
        """Return how it stands today: what nobody answered by its last day is lapsed."""
        return self.standing_on(today())

    @property
    def tone(self) -> str:
        return quote_states.TONES.get(self.standing, "")

    @property
    def is_accepted(self) -> bool:
        return self.state == quote_states.ACCEPTED

    @property
    def is_unanswered(self) -> bool:
        """Say whether it was sent and nobody said yes or no, in time or not."""
        return self.state == quote_states.SENT

    @property
    def is_lapsed(self) -> bool:
        return self.standing == quote_states.LAPSED

    @property
    def stands_open(self) -> bool:
        """Say whether it is a draft, sent or accepted, and has not lapsed."""
        return self.standing in (quote_states.DRAFT, quote_states.SENT, quote_states.ACCEPTED)

    def can(self, act: str) -> bool:
        return quote_states.allows(self.standing, act)

    @property
    def can_send(self) -> bool:
        return self.can(quote_states.SEND)

    @property
    def can_accept(self) -> bool:
        return self.can(quote_states.ACCEPT)

    @property
    def can_decline(self) -> bool:
        return self.can(quote_states.DECLINE)

    @property
    def can_take_back(self) -> bool:
        """Say whether it was sent and is not answered; what lapsed as a draft was never sent."""
        return self.is_unanswered and self.can(quote_states.TAKE_BACK)
