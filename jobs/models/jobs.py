"""Jobs: where an order stands, what was done to it and by whom, its site and photographs."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING
from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q

from jobs.models.orders import Order
from jobs.models.quotes import Quote
from jobs.work import quote_states, states
from studio.exact import length_field, money_field
from studio.house.clock import today
from studio.house.models import StoredFile
from studio.stockroom.models import Reservation

if TYPE_CHECKING:
    from jobs.models.runs import Run

Person = settings.AUTH_USER_MODEL


class JobRows(models.QuerySet["Job"]):
    """Jobs by how they stand; the states themselves are in jobs.work.states."""

    def waiting(self) -> JobRows:
        return self.filter(state__in=states.WAITING)

    def booked(self) -> JobRows:
        """Keep those that are booked and of which nothing is on the bench yet."""
        return self.filter(state=states.BOOKED)

    def to_see(self, day: date) -> JobRows:
        """Keep what there is still something to do about: an enquiry whose quotes were all declined or lapsed is left.
        """
        quotes = Quote.objects.filter(order=models.OuterRef("order"))
        stands = quotes.filter(Q(state=quote_states.ACCEPTED)
                               | Q(state__in=quote_states.UNDECIDED, valid_until__gte=day))
        rows = self.exclude(state__in=states.CLOSED)
        return rows.filter(~Q(state__in=states.WAITING) | ~models.Exists(quotes) | models.Exists(stands))

    def standing(self, state: str, day: date) -> JobRows:
        """Keep the jobs that stand so on a day: one whose quotes all lapsed is an enquiry again."""
        if state not in states.WAITING:
            return self.filter(state=state)
        out = models.Exists(Quote.objects.filter(order=models.OuterRef("order")).out(day))
        if state == states.QUOTED:
            return self.filter(out, state=states.QUOTED)
        return self.filter(Q(state=states.ENQUIRY) | (Q(state=states.QUOTED) & ~out))


class Job(models.Model):
    """What becomes of an order; made with it."""

    class State(models.TextChoices):
        ENQUIRY = states.ENQUIRY, "enquiry"
        QUOTED = states.QUOTED, "quoted"
        BOOKED = states.BOOKED, "booked"
        ON_THE_BENCH = states.ON_THE_BENCH, "on the bench"
        PART_DONE = states.PART_DONE, "part done"
        FINISHED = states.FINISHED, "finished"
        DELIVERED = states.DELIVERED, "delivered"
        CANCELLED = states.CANCELLED, "cancelled"

    order = models.OneToOneField(Order, models.PROTECT, related_name="job")
    number = models.PositiveIntegerField(unique=True)
    state = models.CharField(max_length=12, choices=State.choices, default=State.ENQUIRY)
    quote = models.OneToOneField(Quote, models.PROTECT, null=True, blank=True, related_name="job")
    reservation = models.OneToOneField(Reservation, models.PROTECT, null=True, blank=True, related_name="job")
    due_on = models.DateField(null=True, blank=True)
    sample_approved = models.BooleanField(default=False)
    deposit_noted = models.BooleanField(default=False)
    waived_because = models.CharField(max_length=200, blank=True)
    booked_at = models.DateTimeField(null=True, blank=True)
    cancelled_because = models.CharField(max_length=200, blank=True)
    saves = models.PositiveIntegerField(default=1)

    objects = JobRows.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["enquiry", "quoted", "cancelled"])
                | Q(quote__isnull=False, reservation__isnull=False, booked_at__isnull=False),
                name="booked_job_has_quote_and_stock",
            ),
        ]

    def __str__(self) -> str:
        return f"Job {self.number}"

    @property
    def standing(self) -> str:
        """Return how it stands today: its state, but an enquiry again once every quote of it lapsed."""
        if self.state != states.QUOTED or any(
            quote_states.is_out(quote.state, quote.valid_until, today()) for quote in self.order.quotes.all()
        ):
            return self.state
        return states.ENQUIRY

    @property
    def tone(self) -> str:
        return states.TONES.get(self.state, "")

    @property
    def open_runs(self) -> list[Run]:
        """Return the runs that something can still be recorded on, the newest first, from the tickets as fetched."""
        return [run for ticket in self.tickets.all() if (run := ticket.own_run) is not None and run.is_open]

    @property
    def quote_that_counts(self) -> Quote | None:
        """Return the accepted quote, or else the newest one, from the quotes as they were fetched."""
        quotes = list(self.order.quotes.all())
        newest = next(iter(quote_states.not_replaced(quotes) or quotes), None)
        return next((quote for quote in quotes if quote.is_accepted), newest)

    @property
    def waiting_revision(self) -> Quote | None:
        """Return the revision that a booked job rests on while the customer has not said yes to it."""
        return self.quote if self.was_booked and self.quote is not None and self.quote.is_unanswered else None

    @property
    def is_waiting(self) -> bool:
        """Say whether it is not booked yet, so that its order and quotes may still change."""
        return self.state in states.WAITING

    @property
    def is_open(self) -> bool:
        return self.state not in states.CLOSED

    @property
    def is_cancelled(self) -> bool:
        return self.state == states.CANCELLED

    @property
    def was_booked(self) -> bool:
        return self.state in states.WAS_BOOKED

    @property
    def promises_stock(self) -> bool:
        return self.state in states.PROMISED

    @property
    def shows_shortages(self) -> bool:
        """Say whether it is still before the bench: what the shelf lacks for it is worth saying."""
        return states.changes(self.state, states.RECORD) or self.is_waiting

    @property
    def can_change(self) -> bool:
        return states.allows(self.state, states.CHANGE)

    @property
    def can_quote(self) -> bool:
        return states.allows(self.state, states.QUOTE)

    @property
    def can_book(self) -> bool:
        return states.allows(self.state, states.BOOK) and any(quote.is_accepted for quote in self.order.quotes.all())

    @property
    def can_print_further_ticket(self) -> bool:
        """Say whether the panes that its runs fell short of can have a ticket of their own."""
        return states.allows(self.state, states.FURTHER)

    @property
    def can_keep(self) -> bool:
        return states.allows(self.state, states.KEEP)

    @property
    def can_deliver(self) -> bool:
        return states.changes(self.state, states.DELIVER)

    @property
    def can_cancel(self) -> bool:
        return states.allows(self.state, states.CANCEL)

    @property
    def can_revise(self) -> bool:
        return states.allows(self.state, states.REVISE)

    @property
    def can_undo_booking(self) -> bool:
        return states.allows(self.state, states.UNBOOK) and not self.tickets.all()

    @property
    def can_undo_delivery(self) -> bool:
        return states.allows(self.state, states.UNDELIVER)

    @property
    def can_undo_cancelling(self) -> bool:
        """Say whether nothing of it was on the bench when it was cancelled: what was there stays as it was recorded."""
        runs = [ticket.own_run for ticket in self.tickets.all()]
        return states.allows(self.state, states.UNCANCEL) and not any(
            run is not None and run.was_begun_and_cut_short for run in runs)

    @property
    def can_take_in(self) -> bool:
        """Say whether a sample's approval, or money, can be recorded as come in."""
        return states.allows(self.state, states.CAME_IN)


class JobAct(models.Model):
    """Something that somebody did to a job: what, who, when and why. Rows are added, never edited.

    What the book shows elsewhere with who and when (an order entered, a quote saved, a ticket printed, a run) has no
    act. at and by are empty of what was done before acts were recorded, where nobody wrote them down. on: the day that
    it happened, where it was recorded later. amount: money in, or given back, in the currency of the rates; how: it was
    paid, empty where nobody said. undoes: the act that this one takes back; its note says why.
    """

    class Kind(models.TextChoices):
        ORDER_CHANGED = "order changed", "order changed"
        SENT = "sent", "quote sent"
        ACCEPTED = "accepted", "quote accepted"
        DECLINED = "declined", "quote declined"
        BOOKED = "booked", "booked"
        REVISED = "revised", "order changed after booking"
        SAMPLE = "sample", "sample approved"
        PAID = "paid", "money in"
        GIVEN_BACK = "given back", "money given back"
        DELIVERED = "delivered", "delivered"
        CANCELLED = "cancelled", "cancelled"
        CORRECTED = "corrected", "deduction corrected"
        UNDONE = "undone", "undone"

    class How(models.TextChoices):
        TRANSFER = "transfer", "by transfer"
        CASH = "cash", "in cash"
        CARD = "card", "by card"
        CHEQUE = "cheque", "by cheque"
        OTHER = "other", "otherwise"

    key = models.UUIDField(unique=True, default=uuid4)
    job = models.ForeignKey(Job, models.PROTECT, related_name="acts")
    kind = models.CharField(max_length=14, choices=Kind.choices)
    at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    quote = models.ForeignKey(Quote, models.PROTECT, null=True, blank=True, related_name="acts")
    amount = money_field(null=True, blank=True)
    how = models.CharField(max_length=8, choices=How.choices, blank=True)
    undoes = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="undone_by")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="undone", undoes__isnull=False) | (~Q(kind="undone") & Q(undoes=None)),
                name="what_is_undone_is_named",
            ),
            models.CheckConstraint(
                condition=~Q(kind="undone") | ~Q(note=""), name="undone_says_why", violation_error_code="why",
                violation_error_message="Say why it is undone.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["paid", "given back"], amount__gt=0)
                | (~Q(kind__in=["paid", "given back"]) & Q(amount=None)),
                name="money_has_an_amount", violation_error_code="amount",
                violation_error_message="Say how much it was.",
            ),
            models.CheckConstraint(
                condition=Q(how="") | Q(kind__in=["paid", "given back"],
                                        how__in=["transfer", "cash", "card", "cheque", "other"]),
                name="only_money_is_paid_somehow",
            ),
            models.CheckConstraint(
                condition=Q(at__isnull=False) | Q(by=None), name="who_did_it_did_it_at_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job}: {self.get_kind_display()}"

    @property
    def went_back(self) -> bool:
        return self.kind == self.Kind.GIVEN_BACK


class SiteRecord(models.Model):
    """An opening as it was measured on site, for one line: three widths, three heights, both diagonals, the way in."""

    order = models.ForeignKey(Order, models.CASCADE, related_name="site_records")
    line_number = models.PositiveIntegerField()
    width_low_mm = length_field()
    width_middle_mm = length_field()
    width_high_mm = length_field()
    height_left_mm = length_field()
    height_middle_mm = length_field()
    height_right_mm = length_field()
    diagonal_rising_mm = length_field(null=True, blank=True)
    diagonal_falling_mm = length_field(null=True, blank=True)
    access = models.CharField(max_length=400, blank=True)
    measured_by = models.CharField(max_length=80)
    measured_on = models.DateField()
    note = models.CharField(max_length=400, blank=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["line_number"]
        constraints = [
            models.UniqueConstraint(fields=["order", "line_number"], name="one_site_record_a_line"),
            models.CheckConstraint(
                condition=Q(width_low_mm__gt=0, width_middle_mm__gt=0, width_high_mm__gt=0, height_left_mm__gt=0,
                            height_middle_mm__gt=0, height_right_mm__gt=0),
                name="site_record_has_sizes",
            ),
            models.CheckConstraint(condition=~Q(measured_by=""), name="site_record_says_who_measured"),
        ]

    def __str__(self) -> str:
        return f"Site record of line {self.line_number}"


class JobPhotograph(models.Model):
    """A photograph of a job: the site, its panes laid out dry to match, or how it was delivered."""

    class Kind(models.TextChoices):
        SITE = "site", "the site"
        DRY_LAY = "dry lay", "laid out dry, before backing"
        HAND_OVER = "hand-over", "at delivery"

    job = models.ForeignKey(Job, models.PROTECT, related_name="photographs")
    key = models.UUIDField(unique=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    caption = models.CharField(max_length=120, blank=True)
    picture = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.job}"
