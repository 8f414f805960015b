"""When everything tied: what the next audit need not reckon again."""

from __future__ import annotations

from django.db import models
from django.db.models import Q


class CleanPass(models.Model):
    """An audit that found nothing: in all that was there at its moment, or in all that was new since the last.

    program: what reckoned; another one reckons everything. quote, stored_file: the last of those rows that it saw, none
    of which is ever changed.
    """

    at = models.DateTimeField()
    program = models.CharField(max_length=60)
    quote = models.PositiveBigIntegerField(default=0)
    stored_file = models.PositiveBigIntegerField(default=0)
    everything = models.BooleanField(default=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=~Q(program=""), name="clean_pass_of_a_program")]
