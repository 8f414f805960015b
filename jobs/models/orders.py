"""Customers, their orders line by line, and what of a letter is still open."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from recipes.models import Finish, RecipeVersion
from studio.exact import length_field, money_field, ratio_field, share_field
from studio.house.models import HouseRates
from studio.stockroom.models import Material

Person = settings.AUTH_USER_MODEL


class Customer(models.Model):
    name = models.CharField(max_length=120, unique=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    note = models.TextField(blank=True)
    #: when their contact details were wiped; papers that law may ask for stay until papers_kept_until
    forgotten_on = models.DateField(null=True, blank=True)
    papers_kept_until = models.DateField(null=True, blank=True)
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(forgotten_on=None, papers_kept_until=None)
                | Q(forgotten_on__isnull=False, papers_kept_until__isnull=False, email="", phone="", address="",
                    note=""),
                name="forgotten_customer_has_no_contact",
                violation_error_message="This customer was forgotten: enter an order for a new customer instead.",
            ),
        ]

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
    #: what the customer wrote, as it was pasted
    letter = models.TextField(blank=True)
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

    class Offered(models.TextChoices):
        ALWAYS = "", "always"
        A = "A", "in option A"
        B = "B", "in option B"
        C = "C", "in option C"
        D = "D", "in option D"
        OPTIONAL = "+", "optional"

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
    own_price_each = money_field(null=True, blank=True)
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
    note = models.CharField(max_length=1000, blank=True)
    offered = models.CharField(max_length=1, choices=Offered.choices, blank=True)

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
                condition=Q(own_price_each=None) | Q(own_price_each__gte=0), name="own_price_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(joint_mm=0) | Q(opening=True, joint_mm__gt=0), name="joint_belongs_to_an_opening",
                violation_error_message="A joint is left in an opening: say that the size is the opening's.",
            ),
        ]


class LetterPoint(models.Model):
    """One thing that was read in the letter of an order, and what became of it: open until a person settles it.

    key: of its words, as jobs.orders.settled makes it. said: what is asked of them, or why nothing was done.
    """

    class Kind(models.TextChoices):
        LINE = "line", "a line"
        QUESTION = "question", "a question"
        MARK = "mark", "something said"

    class State(models.TextChoices):
        OPEN = "open", "open"
        TAKEN = "taken", "in the order"
        LEFT_OUT = "left out", "settled without a line"

    order = models.ForeignKey(Order, models.CASCADE, related_name="letter_points")
    key = models.CharField(max_length=10)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    written = models.TextField()
    said = models.TextField(blank=True)
    state = models.CharField(max_length=8, choices=State.choices, default=State.OPEN)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["order", "key"], name="letter_point_once"),
            models.CheckConstraint(
                condition=Q(state="open", settled_at=None, settled_by=None)
                | (~Q(state="open") & Q(settled_at__isnull=False, settled_by__isnull=False)),
                name="settled_letter_point_has_a_person",
            ),
        ]

    def __str__(self) -> str:
        return f"“{self.written}”"


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
