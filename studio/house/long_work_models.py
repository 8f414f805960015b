"""Work that takes too long for a request: what was asked for, how far it is, what came of it, and who does it."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

#: how often a piece of work is begun again after its worker was killed, before it is given up
MOST_BREAKS = 3


class LongWork(models.Model):
    """A piece of work that was asked for: it waits, is at work, and ends once, in one of four ways.

    kind: a name in `studio.house.long_work.kinds`. Progress is `parts_done` of `parts`, 0 where nobody knows yet.
    attempt counts how often it was begun: whoever lost it to another worker writes nothing. broke_off counts the
    workers that were killed at it. task: the row of the task library that carries it. lines: what was found, to read.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        AT_WORK = "at work", "at work"
        DONE = "done", "done"
        FAILED = "failed", "failed"
        GIVEN_UP = "given up", "given up"
        CANCELLED = "cancelled", "cancelled"

    kind = models.CharField(max_length=40)
    title = models.CharField(max_length=200)
    inputs = models.JSONField(default=dict)
    #: of the inputs as canonical JSON: the same work is not open twice
    inputs_sha256 = models.CharField(max_length=64)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey("Person", models.PROTECT, related_name="+")
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    task = models.UUIDField()
    attempt = models.PositiveSmallIntegerField(default=0)
    broke_off = models.PositiveSmallIntegerField(default=0)
    worker = models.CharField(max_length=64, blank=True)
    begun_at = models.DateTimeField(null=True)
    beat_at = models.DateTimeField(null=True)
    parts_done = models.PositiveIntegerField(default=0)
    parts = models.PositiveIntegerField(default=0)
    part = models.CharField(max_length=200, blank=True)
    cancel_asked_at = models.DateTimeField(null=True)
    cancel_asked_by = models.ForeignKey("Person", models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)
    #: how it ended, a sentence
    said = models.TextField(blank=True)
    lines = models.JSONField(default=list)
    file_name = models.CharField(max_length=200, blank=True)
    file_type = models.CharField(max_length=80, blank=True)
    file_sha256 = models.CharField(max_length=64, blank=True)
    file_bytes = models.PositiveBigIntegerField(default=0)
    #: what came of it is kept for some days only
    cleared_at = models.DateTimeField(null=True)

    OPEN = (State.WAITING, State.AT_WORK)
    ENDED = (State.DONE, State.FAILED, State.GIVEN_UP, State.CANCELLED)

    class Meta:
        ordering = ["-asked_at", "-id"]
        indexes = [models.Index(fields=["state"], name="long_work_by_state")]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["waiting", "at work"], ended_at=None)
                | Q(state__in=["done", "failed", "given up", "cancelled"], ended_at__isnull=False),
                name="long_work_ends_in_a_known_state",
            ),
            models.CheckConstraint(
                condition=~Q(state="at work") | (~Q(worker="") & Q(begun_at__isnull=False, beat_at__isnull=False,
                                                                  attempt__gte=1)),
                name="long_work_is_done_by_somebody",
            ),
            models.CheckConstraint(condition=~Q(state__in=["done", "failed", "given up"]) | ~Q(said=""),
                                   name="long_work_says_how_it_ended"),
            models.CheckConstraint(condition=Q(file_name="") | Q(state="done"), name="long_work_done_brings_a_file"),
            models.CheckConstraint(condition=Q(parts_done__lte=F("parts")), name="long_work_does_no_more_than_all"),
            models.CheckConstraint(condition=Q(broke_off__lte=MOST_BREAKS), name="long_work_breaks_off_a_few_times"),
            models.UniqueConstraint(fields=["kind", "inputs_sha256"], condition=Q(state__in=["waiting", "at work"]),
                                    name="long_work_is_open_once"),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def is_open(self) -> bool:
        return self.state in self.OPEN

    @property
    def is_cancelling(self) -> bool:
        """Return whether it ends as soon as whoever is at it hears of it."""
        return self.state == self.State.AT_WORK and self.cancel_asked_at is not None

    @property
    def standing(self) -> str:
        """Return how it stands, in a word or two."""
        return "being cancelled" if self.is_cancelling else self.state

    @property
    def has_file(self) -> bool:
        return bool(self.file_name) and self.cleared_at is None

    @property
    def tone(self) -> str:
        """Return how the state is shown."""
        return {"waiting": "wait", "at work": "doing", "done": "good", "cancelled": "wait"}.get(self.state, "danger")


class LongWorker(models.Model):
    """A process that does long work, while it lives: last seen when its heart last beat."""

    name = models.CharField(max_length=64, unique=True)
    machine = models.CharField(max_length=100, blank=True)
    #: on that machine
    process = models.PositiveIntegerField()
    started_at = models.DateTimeField()
    seen_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name} on {self.machine}"
