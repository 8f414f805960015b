"""When everything tied: what the next audit need not reckon again."""

from __future__ import annotations

from django.db import models
from django.db.models import Q


class CleanPass(models.Model):
    """An audit that found nothing: in everything, or in all that was new since an earlier one by the same program."""

    at = models.DateTimeField()
    program = models.CharField(max_length=64)
    everything = models.BooleanField(default=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=~Q(program=""), name="clean_pass_of_a_program")]
