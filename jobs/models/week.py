"""The week: plans as they were made, what the owner pinned, and the private links of the feed."""

from __future__ import annotations

from collections.abc import Collection
from uuid import uuid4

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from jobs.models.jobs import Job
from jobs.models.quotes import Quote
from studio.exact import stock_field

Person = settings.AUTH_USER_MODEL
MOST_WEIGHT = 9


class WeekPlan(models.Model):
    """A plan of the week: what it was asked, its answer, its value, and what moved against the one before.

    mark: of everything that it was gathered from; while the studio still has it, the plan stands. good_until: then
    something that it put first should have begun, and it is worked out anew. by: first come, or the longer search.
    trouble: why what was worked out was discarded, and this plan, made before, goes on standing. seen_at: when
    somebody read what moved. offered: it does not stand; it is better than what did, and waits to be taken or left.
    """

    class By(models.TextChoices):
        FIRST_COME = "first come", "in the order of booking"
        SEARCH = "search", "the longer search"

    made_at = models.DateTimeField()
    mark = models.CharField(max_length=64)
    good_until = models.DateTimeField()
    by = models.CharField(max_length=10, choices=By.choices)
    version = models.CharField(max_length=80)
    asked = models.JSONField()
    plan = models.JSONField()
    value = models.JSONField()
    about = models.JSONField()
    moved = models.JSONField(default=list)
    trouble = models.CharField(max_length=400, blank=True)
    offered = models.BooleanField(default=False)
    seen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(by__in=["first come", "search"]), name="week_plan_is_made_in_a_known_way",
            ),
            models.CheckConstraint(condition=~Q(mark=""), name="week_plan_says_of_what"),
        ]

    def __str__(self) -> str:
        return f"Plan of {self.made_at:%d %b %Y}"


class JobInWeek(models.Model):
    """What the owner said of a job's place in the week. weight: how much a day late counts; 1 is usual."""

    job = models.OneToOneField(Job, models.CASCADE, related_name="in_week")
    weight = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(MOST_WEIGHT)])
    not_before = models.DateField(null=True, blank=True)
    because = models.CharField(max_length=80, blank=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(weight__gte=1, weight__lte=MOST_WEIGHT), name="job_weighs_something",
                violation_error_message="A job weighs from 1 to 9.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job} in the week"


class PinnedStretch(models.Model):
    """A stretch that stays at its time on its bench, or a load that begins on its day.

    load: its name on the ticket, r1l2; stretch: its number there, from 1; 0: the load as a whole, whose first stretch
    is on the day. at: by the studio's clock. who: whose hands do it; a stretch may be pinned to hands alone, and goes
    where the plan puts it.
    """

    key = models.UUIDField(unique=True, default=uuid4)
    job = models.ForeignKey(Job, models.CASCADE, related_name="pins")
    load = models.CharField(max_length=12)
    stretch = models.PositiveSmallIntegerField()
    on = models.DateField()
    at = models.TimeField(null=True, blank=True)
    bench = models.CharField(max_length=30, blank=True)
    who = models.CharField(max_length=6, blank=True, choices=[("owner", "the owner"), ("helper", "the helper")])

    class Meta:
        ordering = ["job", "load", "stretch"]
        constraints = [
            models.UniqueConstraint(fields=["job", "load", "stretch"], name="stretch_pinned_once"),
            models.CheckConstraint(
                condition=Q(stretch=0, at=None, bench="", who="")
                | (Q(stretch__gte=1, at__isnull=False) & ~Q(bench=""))
                | (Q(stretch__gte=1, at=None, bench="") & ~Q(who="")),
                name="pinned_stretch_has_time_and_bench",
                violation_error_message="A pinned stretch has a time and a bench, or hands; a load only its day.",
            ),
            models.CheckConstraint(
                condition=Q(who__in=["", "owner", "helper"]), name="stretch_is_pinned_to_known_hands",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job}, {self.load}"


class SharedMixRows(models.QuerySet["SharedMix"]):
    """Shared mixes by how their jobs stand."""

    def agreed(self) -> SharedMixRows:
        """Keep those that nobody, and no change of a job, took back; with both jobs."""
        return self.filter(withdrawn_at=None).select_related("job", "other_job")

    def of(self, states: Collection[str]) -> SharedMixRows:
        """Keep those agreed whose two jobs both stand so, with both."""
        return self.agreed().filter(
            job__state__in=states, other_job__state__in=states, quote=F("job__quote"),
            other_quote=F("other_job__quote"))


class SharedMix(models.Model):
    """Two jobs' mixes that the owner accepted as one; mix, other_mix: their numbers in the frozen estimates of quote
    and other_quote. The ticket of job makes it, at the beginning of its load; that of other_job takes its share of it.

    It counts while both are still to make by these quotes. called: the solution; volume_ml: of the one mix, share_ml
    and other_share_ml: of it for each; what is saved against two mixes stands as it was when it was accepted.
    """

    key = models.UUIDField(unique=True, default=uuid4)
    job = models.ForeignKey(Job, models.PROTECT, related_name="mixes_shared")
    quote = models.ForeignKey(Quote, models.PROTECT, related_name="+")
    mix = models.PositiveSmallIntegerField()
    load = models.PositiveSmallIntegerField()
    share_ml = stock_field()
    other_job = models.ForeignKey(Job, models.PROTECT, related_name="mixes_shared_too")
    other_quote = models.ForeignKey(Quote, models.PROTECT, related_name="+")
    other_mix = models.PositiveSmallIntegerField()
    other_load = models.PositiveSmallIntegerField()
    other_share_ml = stock_field()
    called = models.CharField(max_length=120)
    volume_ml = stock_field()
    minutes_saved = stock_field(default=0)
    ml_saved = stock_field(default=0)
    silver_saved_g = stock_field(default=0)
    agreed_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_because = models.CharField(max_length=200, blank=True)

    objects = SharedMixRows.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            # a mix has its number in its quote: another quote of the job numbers them anew
            models.UniqueConstraint(
                fields=["job", "quote", "mix"], condition=Q(withdrawn_at=None), name="mix_shared_once"),
            models.UniqueConstraint(
                fields=["other_job", "other_quote", "other_mix"], condition=Q(withdrawn_at=None),
                name="other_mix_shared_once"),
            models.CheckConstraint(
                condition=Q(share_ml__gt=0, other_share_ml__gt=0, volume_ml__gt=0), name="shared_mix_has_shares",
                violation_error_message="Each of the two jobs takes something of a mix that they share.",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None) | ~Q(withdrawn_because=""), name="withdrawn_mix_says_why",
                violation_error_message="Say why the mix is not shared any more.",
            ),
            models.CheckConstraint(
                condition=~Q(job=F("other_job")), name="mix_is_shared_by_two_jobs",
                violation_error_message="Two jobs share a mix, not one with itself.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job} and {str(self.other_job).lower()} in one mix"


class WeekFeed(models.Model):
    """Somebody's private link to the feed of the week: only the hash of what it carries is kept."""

    person = models.ForeignKey(Person, models.PROTECT, related_name="feeds")
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["person"], condition=Q(withdrawn_at=None), name="one_feed_a_person",
                violation_error_message="There is a link already: withdraw it first.",
            ),
            models.CheckConstraint(condition=~Q(token_hash=""), name="feed_has_a_token"),
        ]

    def __str__(self) -> str:
        return f"Feed of {self.person.name}"


class WeekEvent(models.Model):
    """One event of the feed: its UID stays, its sequence rises when it moves, it is cancelled when it is gone.

    ends_at, last_on: exclusive ends, as the feed writes them. job: whose it is, for those who may read of customers.
    """

    uid = models.CharField(max_length=120, unique=True)
    sequence = models.PositiveIntegerField(default=0)
    starts_at = models.DateTimeField(null=True, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)
    first_on = models.DateField(null=True, blank=True)
    summary = models.CharField(max_length=200)
    description = models.TextField(blank=True)
    job = models.ForeignKey(Job, models.CASCADE, null=True, blank=True, related_name="+")
    changed_at = models.DateTimeField()
    cancelled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["starts_at", "first_on", "uid"]
        constraints = [
            models.CheckConstraint(
                condition=Q(starts_at__isnull=False, ends_at__isnull=False, first_on=None)
                | Q(starts_at=None, ends_at=None, first_on__isnull=False),
                name="event_has_times_or_a_day",
            ),
        ]

    def __str__(self) -> str:
        return self.summary
