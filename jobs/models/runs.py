"""Work tickets, their runs, and what the bench wrote of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from math import ceil
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from jobs.models.jobs import Job
from jobs.work import states
from recipes.models import RecipeVersion, SilverClock, Trial
from studio.exact import length_field, ratio_field, stock_field
from studio.house.models import StoredFile
from studio.stockroom.models import Lot, Offcut, Posting, Reservation

Person = settings.AUTH_USER_MODEL


def largest_mix_ml(plan: Mapping[str, Any]) -> Decimal:
    """Return the volume of the largest mix of a printed plan, of those that are not for the whole job; rounded up."""
    volumes = [Fraction(mix["volume_ml"]) for mix in plan.get("mixes", ())
               if "volume_ml" in mix and mix.get("mixed_for") != "job"]
    return Decimal(ceil(max(volumes, default=Fraction(0)) * 1000)) / 1000


class WorkTickets(models.QuerySet["WorkTicket"]):
    """Tickets. What is written in bulk is told its largest mix too."""

    def bulk_create(self, objs: Iterable[WorkTicket], *args: Any, **kwargs: Any) -> list[WorkTicket]:
        rows = list(objs)
        for row in rows:
            row.largest_mix_ml = largest_mix_ml(row.plan)
        return super().bulk_create(rows, *args, **kwargs)


class WorkTicket(models.Model):
    """A printed ticket: its plan and its paper, kept as they were printed.

    replaces: the number of the ticket of its job that it was printed in place of. The run of that one is its own now:
    a replaced ticket has none. largest_mix_ml: of its plan, kept so that no list reads a plan for it.
    """

    job = models.ForeignKey(Job, models.PROTECT, related_name="tickets")
    number = models.PositiveIntegerField()
    plan = models.JSONField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    paper = models.ForeignKey(StoredFile, models.PROTECT, null=True, blank=True, related_name="+")
    replaces = models.PositiveIntegerField(null=True, blank=True)
    largest_mix_ml = stock_field(default=0, editable=False)

    objects = WorkTickets.as_manager()

    class Meta:
        indexes = [models.Index(fields=["largest_mix_ml"], name="ticket_largest_mix")]
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="ticket_numbered_once"),
            models.UniqueConstraint(
                fields=["job", "replaces"], name="ticket_replaced_once",
                violation_error_message="Another ticket was printed in place of this one already.",
            ),
            models.CheckConstraint(
                condition=Q(replaces=None) | Q(replaces__lt=models.F("number")), name="ticket_replaces_an_earlier",
            ),
        ]

    def __str__(self) -> str:
        return f"Ticket {self.job.number}-{self.number}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self._state.adding:
            self.largest_mix_ml = largest_mix_ml(self.plan)
        super().save(*args, **kwargs)

    @property
    def replaced(self) -> str:
        """Return the name of the ticket that it replaces: “ticket 4-1”; nothing where it replaces none."""
        return f"ticket {self.job.number}-{self.replaces}" if self.replaces else ""

    @property
    def replaced_by(self) -> WorkTicket | None:
        """Return the ticket that was printed in its place."""
        return next((other for other in self.job.tickets.all() if other.replaces == self.number), None)

    @property
    def newest(self) -> WorkTicket:
        """Return itself, or the last of those that were printed in its place: the one whose run goes on."""
        later = self.replaced_by
        return self if later is None else later.newest

    @property
    def first_number(self) -> int:
        """Return the number of the ticket that its run was opened with, whatever was printed in its place since."""
        if not self.replaces:
            return self.number
        return next(other for other in self.job.tickets.all() if other.number == self.replaces).first_number

    @property
    def own_run(self) -> Run | None:
        """Return its run; None for one that was replaced."""
        return getattr(self, "run", None)


class RunRows(models.QuerySet["Run"]):
    def open(self) -> RunRows:
        """Keep runs that are not finished and whose job is not cancelled."""
        return self.filter(finished_at=None).exclude(ticket__job__state=states.CANCELLED)


class Run(models.Model):
    """What happens on the bench for one ticket. It finishes once, with one posting, after making safe.

    stopped: its job was cancelled while it was open; what had been used was deducted. reservation: of a further run,
    for the panes that earlier ones fell short of; the first run of a job rests on the job's own.
    """

    ticket = models.OneToOneField(WorkTicket, models.PROTECT, related_name="run")
    opened_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    finished_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    made_safe_at = models.DateTimeField(null=True, blank=True)
    made_safe_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    posting = models.OneToOneField(Posting, models.PROTECT, null=True, blank=True, related_name="run")
    stopped = models.BooleanField(default=False)
    reservation = models.OneToOneField(Reservation, models.PROTECT, null=True, blank=True, related_name="further_run")

    objects = RunRows.as_manager()

    class Meta:
        indexes = [models.Index(fields=["opened_at"], name="run_opened")]
        ordering = ["-opened_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(finished_at=None, posting=None, stopped=False) | Q(
                    Q(made_safe_at__isnull=False, made_safe_by__isnull=False) | Q(stopped=True),
                    finished_at__isnull=False, finished_by__isnull=False, posting__isnull=False,
                ),
                name="finished_run_is_made_safe_and_posted",
                violation_error_message="Tick that leftovers were made safe before finishing the run.",
            ),
        ]

    @property
    def is_further(self) -> bool:
        """Say whether it makes panes that earlier runs of its job fell short of."""
        return self.reservation_id is not None

    @property
    def was_begun_and_cut_short(self) -> bool:
        """Say, of a run of a cancelled job, whether it was open then with something recorded on it, or a further one.

        A first run on which nothing was recorded goes on when the cancelling is undone.
        """
        return self.stopped or (self.finished_at is None and (self.is_further or self.entries.exists()))

    @property
    def is_open(self) -> bool:
        """Say whether something can still be recorded on it."""
        return self.finished_at is None and not self.ticket.job.is_cancelled


class RunEntry(models.Model):
    """One thing recorded on the bench. Rows are added, never edited: the newest of a subject counts."""

    class Kind(models.TextChoices):
        CONDITIONS = "conditions", "conditions"
        MIXED = "mixed", "mixed"
        SPRAYED = "sprayed", "first sprayed"
        GLASS = "glass", "glass used"
        PANE = "pane", "pane"
        TIME = "time", "time"
        NOTE = "note", "note"
        MADE_SAFE = "made safe", "made safe"
        ADDED = "added", "ingredients that are in"
        STEP = "step", "step"
        UNDONE = "undone", "taken back"

    run = models.ForeignKey(Run, models.PROTECT, related_name="entries")
    client_key = models.UUIDField(unique=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    subject = models.CharField(max_length=40, blank=True)
    content = models.JSONField()
    device_at = models.DateTimeField(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]


class WaitingRecord(models.Model):
    """A record from the bench that could not be taken as it was sent, kept until somebody says what became of it.

    A tablet without network learns late that an amount cannot be read, or that the run is over: nothing that it showed
    as recorded is thrown away. done_by: whose it is, where another sent it. fields: the form as it was filled in.
    """

    run = models.ForeignKey(Run, models.PROTECT, related_name="waiting")
    client_key = models.UUIDField(unique=True)
    kind = models.CharField(max_length=10, choices=RunEntry.Kind.choices)
    subject = models.CharField(max_length=40, blank=True)
    fields = models.JSONField()
    why = models.CharField(max_length=400)
    done_at = models.DateTimeField()
    done_by = models.CharField(max_length=150, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    settled_because = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(settled_at=None, settled_by=None, settled_because="")
                | Q(Q(settled_at__isnull=False, settled_by__isnull=False), ~Q(settled_because="")),
                name="waiting_record_is_settled_with_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.subject}".strip()


class RecallSettled(models.Model):
    """What was decided of one thing that a held lot touched, or may have touched: a load of a run, or a trial.

    part: which load, as a ticket's rows name it (r1l2); “glass”; or nothing, what is of no load. Rows are added, never
    edited: the newest counts, until the lot is held again or goes into more.
    """

    key = models.UUIDField(unique=True)
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="recall_settled")
    run = models.ForeignKey(Run, models.PROTECT, null=True, blank=True, related_name="recall_settled")
    trial = models.ForeignKey(Trial, models.PROTECT, null=True, blank=True, related_name="recall_settled")
    part = models.CharField(max_length=20, blank=True)
    decided = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(decided=""), name="recall_settled_says_how", violation_error_code="decided",
                violation_error_message="Say what was decided.",
            ),
            models.CheckConstraint(
                condition=Q(run=None, trial__isnull=False) | Q(run__isnull=False, trial=None),
                name="recall_settled_of_a_run_or_a_trial",
            ),
        ]


class RunClock(models.Model):
    """Which run the clock of a mix, or of stocks that met on its panes, belongs to."""

    run = models.ForeignKey(Run, models.PROTECT, related_name="clocks")
    clock = models.OneToOneField(SilverClock, models.PROTECT, related_name="of_run")

    class Meta:
        ordering = ["id"]


class PaneResult(models.Model):
    """How a pane of a finished run came out. attempts counts each time it was started, stripped ones included."""

    run = models.ForeignKey(Run, models.PROTECT, related_name="pane_results")
    label = models.CharField(max_length=12)
    line_number = models.PositiveIntegerField()
    recipe_version = models.ForeignKey(RecipeVersion, models.PROTECT, related_name="pane_results")
    width_mm = length_field()
    height_mm = length_field()
    area_m2 = ratio_field()
    good = models.BooleanField()
    attempts = models.PositiveIntegerField(default=1)
    spoilt_because = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["run", "line_number", "id"]
        constraints = [
            models.UniqueConstraint(fields=["run", "label"], name="pane_judged_once"),
            models.CheckConstraint(condition=Q(attempts__gte=1), name="pane_was_started"),
        ]


class KeptLeftover(models.Model):
    """What was kept of one mix of a finished run. mixed_ml: how much of it there was to keep from, in mL."""

    run = models.ForeignKey(Run, models.PROTECT, related_name="kept_leftovers")
    lot = models.OneToOneField(Lot, models.PROTECT, related_name="left_by")
    mix = models.CharField(max_length=40)
    volume_ml = stock_field()
    mixed_ml = stock_field()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(volume_ml__gt=0) & Q(volume_ml__lte=models.F("mixed_ml")), name="no_more_kept_than_mixed",
            ),
        ]


class KeptOffcut(models.Model):
    """An offcut that was kept of a run: which glass, which sheet of its cutting plan, which piece of that sheet."""

    run = models.ForeignKey(Run, models.PROTECT, related_name="kept_offcuts")
    offcut = models.OneToOneField(Offcut, models.PROTECT, related_name="left_by")
    glass = models.CharField(max_length=90)
    sheet = models.PositiveIntegerField()
    piece = models.PositiveIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["run", "glass", "sheet", "piece"], name="offcut_of_a_sheet_kept_once"),
        ]
