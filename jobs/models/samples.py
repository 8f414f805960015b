"""Samples that customers approve, one for each finish of a job, and what a ticket went ahead without."""

from __future__ import annotations

from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q

from jobs.models.jobs import Job, JobAct
from jobs.models.quotes import Quote
from recipes.models import RecipeVersion, Trial
from studio.exact import money_field
from studio.house.models import StoredFile

Person = settings.AUTH_USER_MODEL


class SampleRows(models.QuerySet["SampleApproval"]):
    def standing(self) -> SampleRows:
        return self.filter(withdrawn_at=None)


class SampleApproval(models.Model):
    """The sample of one finish of a job: the pane, its halves, and the customer's word on it.

    trial: the pane it was cut from; fee: asked for it, with tax, in the currency of the quote; kept_where: our half;
    half_with: who has the other; variation: what was agreed in words; front, back: the photographs chosen of the trial.
    approved_on: by the customer; approved_at: when that was recorded, by the act. withdrawn_at: when it was undone; a
    row that stands is then made anew. What was approved stays as it was.
    """

    class How(models.TextChoices):
        POST = "post", "by post"
        VISIT = "visit", "on a visit"
        PHOTOGRAPH = "photograph", "from a photograph"
        PAGE = "page", "on the customer's page"
        TICKED = "ticked", "ticked, without particulars"

    key = models.UUIDField(unique=True, default=uuid4)
    job = models.ForeignKey(Job, models.PROTECT, related_name="samples")
    recipe_version = models.ForeignKey(RecipeVersion, models.PROTECT, related_name="+")
    quote = models.ForeignKey(Quote, models.PROTECT, null=True, blank=True, related_name="+")
    trial = models.ForeignKey(Trial, models.PROTECT, null=True, blank=True, related_name="samples")
    fee = money_field(default=0)
    sent_on = models.DateField(null=True, blank=True)
    kept_where = models.CharField(max_length=80, blank=True)
    half_with = models.CharField(max_length=120, blank=True)
    variation = models.TextField(blank=True, max_length=1000)
    front = models.ForeignKey(StoredFile, models.PROTECT, null=True, blank=True, related_name="+")
    back = models.ForeignKey(StoredFile, models.PROTECT, null=True, blank=True, related_name="+")
    asked_at = models.DateTimeField()
    approved_on = models.DateField(null=True, blank=True)
    approved_by = models.CharField(max_length=120, blank=True)
    how = models.CharField(max_length=10, choices=How.choices, blank=True)
    approved_at = models.DateTimeField(null=True, blank=True)
    act = models.ForeignKey(JobAct, models.PROTECT, null=True, blank=True, related_name="samples")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    saves = models.PositiveIntegerField(default=1)

    objects = SampleRows.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["job", "recipe_version"], condition=Q(withdrawn_at=None),
                                    name="one_sample_a_finish"),
            models.CheckConstraint(condition=Q(fee__gte=0), name="sample_fee_not_negative"),
            models.CheckConstraint(
                condition=Q(approved_at=None, approved_on=None, how="", act=None, approved_by="", withdrawn_at=None)
                | (Q(approved_at__isnull=False) & ~Q(how="")), name="approved_sample_says_how",
            ),
            models.CheckConstraint(
                condition=Q(how__in=["", "ticked"]) | (Q(approved_on__isnull=False) & ~Q(approved_by="")),
                name="approved_sample_says_who_and_when",
            ),
        ]

    def __str__(self) -> str:
        return f"Sample of {self.recipe_version}"

    @property
    def is_approved(self) -> bool:
        return self.approved_at is not None and self.withdrawn_at is None


class WentAhead(models.Model):
    """Why a ticket may be printed without the sample of a finish, or, with no finish, without the deposit.

    It counts for the booking it was said in: a job that is booked again is asked again. Rows are added, never edited.
    """

    key = models.UUIDField(unique=True, default=uuid4)
    job = models.ForeignKey(Job, models.PROTECT, related_name="went_ahead")
    recipe_version = models.ForeignKey(RecipeVersion, models.PROTECT, null=True, blank=True, related_name="+")
    because = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(condition=~Q(because=""), name="went_ahead_for_a_reason")]

    def __str__(self) -> str:
        return f"{self.job} without {f'the sample of {self.recipe_version}' if self.recipe_version else 'the deposit'}"
