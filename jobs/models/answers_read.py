"""That somebody here read what a customer said at a private address."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from jobs.models.links import CustomerAnswer
from jobs.models.samples import SampleApproval


class AnswerRead(models.Model):
    """Who read a customer's answer to a quote, or their word on a sample, and when. Rows are added, never edited."""

    answer = models.OneToOneField(CustomerAnswer, models.PROTECT, null=True, blank=True, related_name="read")
    sample = models.OneToOneField(SampleApproval, models.PROTECT, null=True, blank=True, related_name="read")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(answer__isnull=False, sample=None) | Q(answer=None, sample__isnull=False),
                name="one_answer_is_read",
                violation_error_message="One answer is read: to a quote, or to a sample.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.answer or self.sample}, read"
