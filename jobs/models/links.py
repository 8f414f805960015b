"""What goes to a customer and what comes back: private addresses of quotes, letters by e-mail, answers given there."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from jobs.models.quotes import Quote

Person = settings.AUTH_USER_MODEL


class QuoteLink(models.Model):
    """A private address at which a customer looks at one quote. Of its token only a hash is kept.

    valid_until: its last day. A link is withdrawn, never changed: a new one is made instead.
    """

    quote = models.ForeignKey(Quote, models.PROTECT, related_name="links")
    key = models.UUIDField(unique=True)
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    valid_until = models.DateField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(withdrawn_at=None, withdrawn_by=None)
                | Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
                name="withdrawn_link_has_a_person",
            ),
        ]

    def __str__(self) -> str:
        return f"Link of {str(self.quote)[0].lower()}{str(self.quote)[1:]}"

    @property
    def is_withdrawn(self) -> bool:
        return self.withdrawn_at is not None

    def withdraw(self, by: Any, at: datetime) -> None:
        """Let the address open nothing any more, and save that; once. by: a person."""
        if not self.is_withdrawn:
            self.withdrawn_at, self.withdrawn_by = at, by
            self.save(update_fields=["withdrawn_at", "withdrawn_by"])

    def is_open_on(self, day: date) -> bool:
        """Say whether the address still shows the quote on a day."""
        return not self.is_withdrawn and self.valid_until >= day

    def standing_on(self, day: date) -> str:
        """Return in a word how the link stands on a day: what was answered there, else whether it opens."""
        answer: CustomerAnswer | None = getattr(self, "answer", None)
        if answer is not None:
            return "accepted there" if answer.accepted else "declined there"
        return "withdrawn" if self.is_withdrawn else "open" if self.is_open_on(day) else "over"


class CustomerAnswer(models.Model):
    """What a customer said at a private address: yes or no, once, by name. Rows are added, never edited.

    quote_sha256: of the quote as it was frozen, which they had before them (jobs.quotes.fingerprint).
    """

    link = models.OneToOneField(QuoteLink, models.PROTECT, related_name="answer")
    accepted = models.BooleanField()
    name = models.CharField(max_length=80)
    said = models.CharField(max_length=500, blank=True)
    choice = models.CharField(max_length=80, blank=True)
    at = models.DateTimeField()
    quote_sha256 = models.CharField(max_length=64)

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(condition=~Q(name=""), name="customer_answers_by_name")]

    def __str__(self) -> str:
        return f"{self.name} {'accepted' if self.accepted else 'declined'} {self.link.quote}"


class QuoteMail(models.Model):
    """A letter with a quote by e-mail: written first, then sent, or why it was not. Its link's token is not kept.

    text: as it was written, with “[link]” where the private address stood. refused: of the addresses, those that the
    mail server did not take while it took the others.
    """

    class State(models.TextChoices):
        WRITTEN = "written", "written, not known to be sent"
        SENT = "sent", "sent"
        FAILED = "failed", "not sent"

    quote = models.ForeignKey(Quote, models.PROTECT, related_name="mails")
    link = models.OneToOneField(QuoteLink, models.PROTECT, related_name="mail")
    key = models.UUIDField(unique=True)
    addresses = models.CharField(max_length=500)
    subject = models.CharField(max_length=150)
    text = models.TextField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.WRITTEN)
    written_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    sent_at = models.DateTimeField(null=True, blank=True)
    why_not = models.CharField(max_length=300, blank=True)
    refused = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(addresses="") & ~Q(subject=""), name="mail_goes_to_somebody"),
            models.CheckConstraint(
                condition=Q(state="sent", sent_at__isnull=False) | (~Q(state="sent") & Q(sent_at=None)),
                name="sent_mail_has_a_time",
            ),
            models.CheckConstraint(
                condition=Q(state="failed") & ~Q(why_not="") | ~Q(state="failed") & Q(why_not=""),
                name="mail_not_sent_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"E-mail to {self.addresses}"
