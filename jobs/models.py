"""Customers, orders, quotes, jobs, tickets and runs."""

from __future__ import annotations

from datetime import date

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from jobs.work import quote_states, states
from recipes.models import Finish, RecipeVersion, SilverClock, Trial
from studio.exact import length_field, money_field, ratio_field, share_field, stock_field
from studio.house.clock import today
from studio.house.models import HouseRates, StoredFile
from studio.stockroom.models import Lot, Material, Offcut, Posting, Reservation

Person = settings.AUTH_USER_MODEL


class Customer(models.Model):
    name = models.CharField(max_length=120, unique=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    note = models.TextField(blank=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Order(models.Model):
    """One enquiry of one customer."""

    customer = models.ForeignKey(Customer, models.PROTECT, related_name="orders")
    title = models.CharField(max_length=120)
    due_on = models.DateField(null=True, blank=True)
    discount_share = share_field(default=0)
    discount_amount = money_field(default=0)
    discount_reason = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    form_key = models.UUIDField(unique=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-entered_at"]
        constraints = [
            models.CheckConstraint(condition=Q(discount_amount__gte=0), name="discount_not_negative"),
            models.CheckConstraint(condition=Q(discount_share=0) | Q(discount_amount=0), name="discount_one_way"),
            models.CheckConstraint(
                condition=Q(discount_share=0, discount_amount=0) | ~Q(discount_reason=""), name="discount_has_a_reason",
                violation_error_code="discount_reason", violation_error_message="Say why there is a discount.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title} for {self.customer.name}"


class OrderLine(models.Model):
    """One line of an order. Sizes are finished sizes; what was typed is kept beside what was understood."""

    class Shape(models.TextChoices):
        RECTANGLE = "rectangle", "rectangle"
        CIRCLE = "circle", "circle"
        ELLIPSE = "ellipse", "ellipse"
        OTHER = "other", "other shape"

    class Route(models.TextChoices):
        SHEET = "sheet", "from a stock sheet"
        OFFCUT = "offcut", "from kept offcuts"
        CUT = "cut", "bought cut to size"
        OWN = "own", "the customer's own"

    class Backing(models.TextChoices):
        AS_RECIPE = "", "as the recipe says"
        BOARD = "board", "backing board added"

    order = models.ForeignKey(Order, models.CASCADE, related_name="lines")
    number = models.PositiveIntegerField()
    shape = models.CharField(max_length=10, choices=Shape.choices, default=Shape.RECTANGLE)
    size_text = models.CharField(max_length=60)
    width_mm = length_field()
    height_mm = length_field()
    area_m2 = ratio_field(null=True, blank=True)
    perimeter_mm = length_field(null=True, blank=True)
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    recipe_version = models.ForeignKey(RecipeVersion, models.PROTECT, related_name="order_lines")
    glass = models.ForeignKey(Material, models.PROTECT, related_name="order_lines")
    route = models.CharField(max_length=6, choices=Route.choices, default=Route.SHEET)
    cut_price_per_m2 = money_field(default=0)
    cut_minimum_each = money_field(default=0)
    edge = models.CharField(max_length=40)
    backing = models.CharField(max_length=10, choices=Backing.choices, blank=True)
    plan = models.CharField(max_length=10, choices=HouseRates.Plan.choices, blank=True)
    own_panes_to_start = models.PositiveIntegerField(null=True, blank=True)
    oversize_method = models.CharField(max_length=200, blank=True)
    match_group = models.CharField(max_length=20, blank=True)
    place = models.CharField(max_length=20, blank=True)
    opening = models.BooleanField(default=False)
    joint_mm = length_field(default=0)
    holes_text = models.TextField(blank=True)
    holes = models.JSONField(default=list, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["order", "number"], name="order_line_numbered_once"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="order_line_has_a_pane"),
            models.CheckConstraint(condition=Q(width_mm__gt=0, height_mm__gt=0), name="order_line_has_a_size"),
            models.CheckConstraint(
                condition=~Q(shape="other") | Q(area_m2__gt=0), name="other_shape_has_an_area",
                violation_error_code="area_m2", violation_error_message="Give the area of this shape.",
            ),
            models.CheckConstraint(
                condition=~Q(route="cut") | Q(cut_price_per_m2__gt=0), name="bought_cut_has_a_price",
                violation_error_code="cut_price_per_m2", violation_error_message="Give the price per m².",
            ),
            models.CheckConstraint(
                condition=Q(cut_price_per_m2__gte=0, cut_minimum_each__gte=0), name="cut_price_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(joint_mm=0) | Q(opening=True, joint_mm__gt=0), name="joint_belongs_to_an_opening",
                violation_error_message="A joint is left in an opening: say that the size is the opening's.",
            ),
        ]


class CustomerChoices(models.Model):
    """What a customer's lines usually are: finish, glass, edge and the rest. The finish's newest version is meant."""

    customer = models.ForeignKey(Customer, models.CASCADE, related_name="choices")
    name = models.CharField(max_length=60)
    finish = models.ForeignKey(Finish, models.PROTECT, related_name="+")
    glass = models.ForeignKey(Material, models.PROTECT, related_name="+")
    shape = models.CharField(max_length=10, choices=OrderLine.Shape.choices, default=OrderLine.Shape.RECTANGLE)
    route = models.CharField(max_length=6, choices=OrderLine.Route.choices, default=OrderLine.Route.SHEET)
    edge = models.CharField(max_length=40)
    backing = models.CharField(max_length=10, choices=OrderLine.Backing.choices, blank=True)
    plan = models.CharField(max_length=10, choices=HouseRates.Plan.choices, blank=True)
    cut_price_per_m2 = money_field(default=0)
    cut_minimum_each = money_field(default=0)

    class Meta:
        ordering = ["customer__name", "name"]
        constraints = [
            models.UniqueConstraint(fields=["customer", "name"], name="customer_choices_named_once"),
            models.CheckConstraint(condition=~Q(name=""), name="customer_choices_have_a_name"),
        ]

    def __str__(self) -> str:
        return f"{self.customer.name}: {self.name}"


class BoughtIn(models.Model):
    """A bought-in item or outside work, for one line or for the whole order.

    markup_share: what is put on its cost; empty, it goes through the studio's margin. before: what it is needed before.
    """

    class Kind(models.TextChoices):
        THING = "thing", "a bought-in item"
        TOUGHENING = "toughening", "toughening"
        BEVELLING = "bevelling", "bevelling"
        DRILLING = "drilling", "drilling"
        FRAMING = "framing", "framing"
        CARRIAGE = "carriage", "carriage"

    class Before(models.TextChoices):
        SILVERING = "silvering", "silvering"
        PACKING = "packing", "packing"
        HANDING_OVER = "handing over", "delivery"

    order = models.ForeignKey(Order, models.CASCADE, related_name="bought_in")
    line_number = models.PositiveIntegerField(null=True, blank=True)
    name = models.CharField(max_length=80)
    cost = money_field()
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.THING)
    markup_share = share_field(null=True, blank=True)
    days = models.PositiveSmallIntegerField(default=0)
    due_on = models.DateField(null=True, blank=True)
    before = models.CharField(max_length=12, choices=Before.choices, default=Before.PACKING)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(cost__gte=0), name="bought_in_not_negative"),
            models.CheckConstraint(
                condition=Q(markup_share=None) | Q(markup_share__gte=0), name="bought_in_markup_not_negative",
            ),
            models.CheckConstraint(
                condition=~Q(kind="toughening") | Q(before="silvering"), name="toughened_before_silvering",
                violation_error_message="Glass is toughened before it is silvered: the oven would destroy the silver.",
            ),
        ]


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

    order = models.ForeignKey(Order, models.PROTECT, related_name="quotes")
    number = models.PositiveIntegerField()
    revision = models.PositiveIntegerField(default=1)
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    basis = models.JSONField()
    plan = models.JSONField()
    figures = models.JSONField()
    wording = models.JSONField()
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
        ordering = ["-number", "-revision"]
        constraints = [
            models.UniqueConstraint(fields=["number", "revision"], name="quote_numbered_once"),
            models.UniqueConstraint(
                fields=["order"], condition=Q(state="accepted"), name="one_accepted_quote_an_order",
                violation_error_message="Another revision of this quote was accepted already.",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["accepted", "declined"], decided_at__isnull=False)
                | (~Q(state__in=["accepted", "declined"]) & Q(decided_at=None)),
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


class JobRows(models.QuerySet["Job"]):
    """Jobs by how they stand; the states themselves are in jobs.work.states."""

    def waiting(self) -> JobRows:
        return self.filter(state__in=states.WAITING)

    def booked(self) -> JobRows:
        """Keep those that are booked and of which nothing is on the bench yet."""
        return self.filter(state=states.BOOKED)

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
            models.CheckConstraint(
                condition=Q(booked_at=None) | Q(sample_approved=True, deposit_noted=True) | ~Q(waived_because=""),
                name="booked_with_sample_and_deposit", violation_error_code="waived_because",
                violation_error_message="Tick that sample and deposit are in, or say why not.",
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
    def next_step(self) -> str:
        """Return the sentence that says how it stands and what comes next."""
        quotes = list(self.order.quotes.all()) if self.is_waiting else []
        if any(quote.is_accepted for quote in quotes):
            return "The quote is accepted: book it when sample and deposit are in."
        if quotes and self.standing == states.ENQUIRY:
            return f"{quotes[0]} is {quotes[0].standing}: {quote_states.NEXT[quotes[0].standing]}"
        return states.NEXT[self.standing]

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
    def can_decide(self) -> bool:
        return states.allows(self.state, states.DECLINE)

    @property
    def can_book(self) -> bool:
        return states.allows(self.state, states.BOOK) and any(quote.is_accepted for quote in self.order.quotes.all())

    @property
    def can_print_ticket(self) -> bool:
        """Say whether a first ticket can be printed; an open one is printed again from the list of tickets."""
        return states.allows(self.state, states.TICKET) and not self.tickets.all()

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


class WorkTicket(models.Model):
    """A printed ticket: its plan and its paper, kept as they were printed.

    replaces: the number of the ticket of its job that it was printed in place of. The run of that one is its own now:
    a replaced ticket has none.
    """

    job = models.ForeignKey(Job, models.PROTECT, related_name="tickets")
    number = models.PositiveIntegerField()
    plan = models.JSONField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    paper = models.ForeignKey(StoredFile, models.PROTECT, null=True, blank=True, related_name="+")
    replaces = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
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


class SwatchBook(models.Model):
    """What the customers' swatch book says beside the finishes: its two typical sizes, glass and edge. One row."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    foreword = models.TextField(blank=True)
    small_size_text = models.CharField(max_length=60, default="600 x 900 mm")
    large_size_text = models.CharField(max_length=60, default="1000 x 1600 mm")
    glass = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, related_name="+")
    edge = models.CharField(max_length=40, blank=True)
    shows_prices = models.BooleanField(default=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="there_is_one_swatch_book")]

    def __str__(self) -> str:
        return "the swatch book"
