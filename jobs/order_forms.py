"""The order as a form: its own values, its lines, and bought-in things. Sizes are typed as people write them."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any, cast

from django import forms
from django.forms import BaseFormSet, formset_factory
from django.http import QueryDict

from jobs.estimating.basis import EdgeFacts, GlassFacts, LineFacts
from jobs.estimating.take_off import TakeOff, take_off
from jobs.hole_words import read_holes
from jobs.line_choices import as_line
from jobs.models import BoughtIn, Customer, CustomerChoices, Order, OrderLine
from jobs.order_draft import DraftBoughtIn, DraftLine, OrderDraft, draft_of
from jobs.order_rows import MOST_LINES
from recipes.models import Finish, IssueEvent
from studio.errors import DaybookError
from studio.form_keys import KeyField
from studio.inventory.models import Material
from studio.models import EdgeType, HouseRates
from studio.rounding import as_decimal, decimal_string, plain
from studio.units import Size, amount_in, parse_size, share_of, show_size, size_unit

Choices = list[tuple[Any, Any]]


class Offer:
    """What an order form lets one choose from, read once a page."""

    def __init__(self, rates: HouseRates | None, preference: str) -> None:
        self.preference = preference
        self.glasses = {one.pk: one for one in Material.objects.filter(kind=Material.Kind.GLASS)}
        self.edges: list[EdgeType] = list(rates.edge_types.all()) if rates else []
        self.recipes = _recipe_choices()
        self.kept = list(CustomerChoices.objects.select_related("customer"))

    @property
    def default_unit(self) -> str:
        """Return the unit that a bare number is in."""
        return size_unit(self.preference)

    @property
    def template_options(self) -> Choices:
        groups: dict[str, Choices] = {}
        for one in self.kept:
            groups.setdefault(one.customer.name, []).append((one.pk, one.name))
        return [("", "as the last line"), *groups.items()]

    def template_choices(self, key: str) -> dict[str, str]:
        """Return a customer's own choices as a line's fields; nothing where none is named."""
        kept = next((one for one in self.kept if str(one.pk) == key), None)
        return {} if kept is None else as_line(kept)

    @property
    def glass_choices(self) -> Choices:
        return [("", "choose a glass"), *((pk, one.name) for pk, one in self.glasses.items())]

    @property
    def edge_choices(self) -> Choices:
        return [(edge.name, edge.name) for edge in self.edges]


def _recipe_choices() -> Choices:
    """Return the newest issued recipe of each finish first, then earlier issues and drafts, grouped."""
    newest: Choices = []
    earlier: Choices = []
    drafts: Choices = []
    for finish in Finish.objects.prefetch_related("issues__events"):
        first = True
        for issue in sorted(finish.issues.all(), key=lambda one: -one.number):
            choice = (issue.pk, f"{finish.name}, issue {issue.number}")
            if issue.state == IssueEvent.Kind.ISSUED:
                (newest if first else earlier).append(choice)
                first = False
            elif issue.state == "draft":
                drafts.append(choice)
    groups = [("Finishes", newest), ("Earlier issues", earlier), ("Drafts: estimate only", drafts)]
    return [("", "choose a finish"), *((name, choices) for name, choices in groups if choices)]


class OrderForm(forms.Form):
    """The order's own values."""

    customer = forms.ModelChoiceField(Customer.objects.all(), required=False, empty_label="a new customer")
    new_customer = forms.CharField(max_length=120, required=False, label="New customer's name")
    email = forms.EmailField(required=False)
    phone = forms.CharField(max_length=40, required=False)
    address = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)
    title = forms.CharField(max_length=120, label="What for", help_text="For instance: overmantel and two wings.")
    needed_by = forms.DateField(required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    discount = forms.CharField(max_length=20, required=False, help_text="An amount, or a share such as 5 %.")
    discount_reason = forms.CharField(max_length=120, required=False)
    note = forms.CharField(widget=forms.Textarea(attrs={"rows": 2}), required=False)
    template = forms.ChoiceField(required=False, label="New lines start")
    key = KeyField()
    version = forms.IntegerField(widget=forms.HiddenInput(), required=False)

    def clean_discount(self) -> tuple[Decimal, Decimal]:
        """Return share and amount: one of them is zero."""
        typed = str(self.cleaned_data["discount"]).strip()
        if not typed:
            return Decimal(0), Decimal(0)
        number = forms.DecimalField(min_value=0, max_digits=14).clean(typed.rstrip("% "))
        if "%" not in typed:
            return Decimal(0), number
        if number > 100:
            raise forms.ValidationError("A discount is at most 100 %.")
        return number / 100, Decimal(0)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if not values.get("customer") and not values.get("new_customer"):
            self.add_error("new_customer", "Choose a customer, or give the new one's name.")
        if any(values.get("discount", ())) and not values.get("discount_reason"):
            self.add_error("discount_reason", "Say why there is a discount.")
        return values

    def customer_row(self) -> Customer:
        """Return the chosen customer, or the new one, saved."""
        chosen = self.cleaned_data["customer"]
        if chosen:
            return cast(Customer, chosen)
        row, _ = Customer.objects.get_or_create(
            name=self.cleaned_data["new_customer"],
            defaults={name: self.cleaned_data[name] for name in ("email", "phone", "address")},
        )
        return row


class LineForm(forms.Form):
    """One line as typed. After cleaning, `draft` is the line as understood."""

    shape = forms.ChoiceField(choices=OrderLine.Shape.choices, initial=OrderLine.Shape.RECTANGLE)
    size_text = forms.CharField(max_length=60, label="Size", widget=forms.TextInput(attrs={
        "placeholder": "24 3/8 x 36", "autocomplete": "off", "inputmode": "text",
    }))
    quantity = forms.IntegerField(min_value=1, max_value=500, initial=1)
    recipe_issue = forms.TypedChoiceField(coerce=int, label="Finish")
    glass = forms.TypedChoiceField(coerce=int)
    route = forms.ChoiceField(choices=OrderLine.Route.choices, initial=OrderLine.Route.SHEET, label="Glass comes")
    edge = forms.ChoiceField()
    backing = forms.ChoiceField(choices=OrderLine.Backing.choices, required=False,
                                help_text="What a board costs goes under bought in.")
    cut_price_per_m2 = forms.DecimalField(min_value=0, required=False, label="Bought cut, price per m²")
    cut_minimum_each = forms.DecimalField(min_value=0, required=False, label="at least, each")
    area_text = forms.CharField(max_length=40, required=False, label="Area of another shape",
                                help_text="For instance 0.25 m2; the size is then its bounding rectangle.")
    perimeter_text = forms.CharField(max_length=40, required=False, label="Its perimeter")
    plan = forms.ChoiceField(
        choices=[("", "as the house does"), *HouseRates.Plan.choices], required=False, label="Spoilage plan"
    )
    own_panes_to_start = forms.IntegerField(min_value=1, required=False, label="Panes to start, your own number")
    oversize_method = forms.CharField(max_length=200, required=False, label="Oversize: how it is done")
    match_group = forms.CharField(max_length=20, required=False,
                                  help_text="Lines with one name are worked to match.")
    place = forms.CharField(max_length=20, required=False, label="Its place on the wall",
                            help_text="Among its neighbours, for instance 1, or A2.")
    opening = forms.BooleanField(required=False, label="The size is that of the opening")
    joint_text = forms.CharField(max_length=30, required=False, label="Joint left at every edge",
                                 help_text="The finished size is the opening less the joint on both sides.")
    holes_text = forms.CharField(
        required=False, max_length=1000, label="Holes and sockets", widget=forms.Textarea(attrs={"rows": 2}),
        help_text="One a line, from the left and the lower edge to the middle, seen from the front: "
                  "hole 10 mm at 50 x 60 mm; socket 80 x 80 mm at 300 x 400 mm.",
    )
    note = forms.CharField(max_length=200, required=False)
    #: what the customer wrote, where the line was read from an e-mail
    said = forms.CharField(max_length=240, required=False, widget=forms.HiddenInput())

    MORE = ("cut_price_per_m2", "cut_minimum_each", "area_text", "perimeter_text", "plan", "own_panes_to_start",
            "oversize_method", "match_group", "place", "opening", "joint_text", "holes_text", "note")

    def __init__(self, *args: Any, offer: Offer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer = offer
        self.fields["recipe_issue"].choices = offer.recipes  # type: ignore[attr-defined]
        self.fields["glass"].choices = offer.glass_choices  # type: ignore[attr-defined]
        self.fields["edge"].choices = offer.edge_choices  # type: ignore[attr-defined]
        if offer.edges:
            self.fields["edge"].initial = offer.edges[0].name

    @property
    def more_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.MORE]

    @property
    def more_is_used(self) -> bool:
        """Say whether a field of the folded part holds something or is refused."""
        return any(self[name].value() or self[name].errors for name in self.MORE)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        self._read("size_text", self._clean_size)
        self._read("holes_text", self._clean_holes)
        self._read("area_text", lambda: self._amount("area_text", "area", "area_m2"))
        self._read("perimeter_text", lambda: self._amount("perimeter_text", "length", "perimeter_mm"))
        if values.get("route") == OrderLine.Route.CUT and not values.get("cut_price_per_m2"):
            self.add_error("cut_price_per_m2", "Give the price per m² of the bought-cut glass.")
        if values.get("shape") == OrderLine.Shape.OTHER and not values.get("area_text"):
            self.add_error("area_text", "Give the area of this shape.")
        return values

    def _read(self, field: str, read: Callable[[], None]) -> None:
        if self.cleaned_data.get(field):
            try:
                read()
            except DaybookError as refusal:
                self.add_error(field, str(refusal))

    def _clean_size(self) -> None:
        size = parse_size(self.cleaned_data["size_text"], self.offer.default_unit)
        shape = self.cleaned_data.get("shape")
        if size.single and shape != OrderLine.Shape.CIRCLE:
            self.add_error("size_text", "Write width × height, for instance “610 x 915 mm”; one measure alone is the "
                           "diameter of a circle.")
        elif shape == OrderLine.Shape.CIRCLE and size.width_mm != size.height_mm:
            self.add_error("size_text", "A circle has one diameter: write one measure, or choose ellipse.")
        else:
            self._finished(size)

    def _finished(self, size: Size) -> None:
        """Take the joint off an opening; without one the size typed is the finished size."""
        typed, joint = self.cleaned_data.get("joint_text"), Fraction(0)
        if typed and not self.cleaned_data.get("opening"):
            self.add_error("joint_text", "A joint is left in an opening: tick that the size is the opening's.")
        elif typed:
            try:
                joint = amount_in(typed, "length", self.offer.default_unit)
            except DaybookError as refusal:
                self.add_error("joint_text", str(refusal))
        if 2 * joint >= min(size.width_mm, size.height_mm):
            self.add_error("joint_text", "The joint leaves nothing of the opening.")
            return
        self.cleaned_data["joint_mm"] = joint
        self.cleaned_data["width_mm"] = size.width_mm - 2 * joint
        self.cleaned_data["height_mm"] = size.height_mm - 2 * joint

    def _clean_holes(self) -> None:
        self.cleaned_data["holes"] = read_holes(self.cleaned_data["holes_text"], self.offer.default_unit)

    def _amount(self, field: str, kind: str, target: str) -> None:
        default = {"area": "m2", "length": "mm"}[kind]
        self.cleaned_data[target] = amount_in(self.cleaned_data[field], kind, default)

    def draft(self, number: int) -> DraftLine:
        """Return the line as understood; only for a valid form."""
        values = self.cleaned_data
        return DraftLine(
            number=number, shape=values["shape"], width_mm=values["width_mm"], height_mm=values["height_mm"],
            quantity=values["quantity"], recipe_issue_id=values["recipe_issue"], glass_id=values["glass"],
            route=values["route"], edge=values["edge"], area_m2=values.get("area_m2"),
            perimeter_mm=values.get("perimeter_mm"), cut_price_per_m2=values["cut_price_per_m2"] or Decimal(0),
            cut_minimum_each=values["cut_minimum_each"] or Decimal(0), plan=values["plan"],
            own_panes_to_start=values["own_panes_to_start"], oversize_method=values["oversize_method"],
            match_group=values["match_group"].strip(), backing=values["backing"], note=values["note"],
            place=values["place"].strip(), opening=values["opening"], joint_mm=values.get("joint_mm", Fraction(0)),
            holes_text=values["holes_text"], holes=values.get("holes", ()),
        )

    @cached_property
    def understood(self) -> str:
        """Return the size as understood, both ways of measuring, with area and mass; "" while it cannot be."""
        values: dict[str, Any] = getattr(self, "cleaned_data", dict(self.initial))  # not sent yet: as it was saved
        if "width_mm" not in values or "shape" not in values:
            return ""
        shape, width, height = values["shape"], values["width_mm"], values["height_mm"]
        metric, inches = (
            show_size(width, height, units, round_=shape == OrderLine.Shape.CIRCLE) for units in ("metric", "us")
        )
        read = f"{metric} ({inches})"
        if values.get("opening"):
            read = f"an opening; finished {read}"
        size = self._take_off(shape, width, height, values)
        if size is None:
            return read
        told = f"{read}, {decimal_string(size.area_m2, 3)} m²"
        return f"{told}, {decimal_string(size.pane_kg, 1)} kg a pane" if values.get("glass") else told

    def _take_off(self, shape: str, width: Fraction, height: Fraction, values: dict[str, Any]) -> TakeOff | None:
        glass = self.offer.glasses.get(values.get("glass") or 0)
        line = LineFacts(
            number=1, shape=shape, width_mm=width, height_mm=height, quantity=1,  # type: ignore[arg-type]
            recipe="", glass="", edge="", area_m2=values.get("area_m2"),
        )
        thickness = Fraction(glass.thickness_mm or 0) if glass else Fraction(0)
        try:
            return take_off(line, EdgeFacts(name=""), GlassFacts(key="", name="", thickness_mm=thickness))
        except DaybookError:  # the form says so beside the field already
            return None


class BoughtInForm(forms.Form):
    name = forms.CharField(max_length=80, label="Bought-in thing")
    cost = forms.DecimalField(min_value=0, max_digits=12, decimal_places=4)
    line_number = forms.IntegerField(min_value=1, required=False, label="For line", help_text="Empty: for the order.")
    kind = forms.ChoiceField(choices=BoughtIn.Kind.choices, required=False, initial=BoughtIn.Kind.THING,
                             label="What it is")
    markup = forms.CharField(max_length=12, required=False, label="Mark-up on its cost",
                             help_text="For instance 15 %. Empty: the house's margin.")
    before = forms.ChoiceField(choices=BoughtIn.Before.choices, required=False, initial=BoughtIn.Before.PACKING,
                               label="Waits for it")
    days = forms.IntegerField(min_value=0, max_value=365, required=False, label="Takes, days")
    due_on = forms.DateField(required=False, label="or is due on",
                             widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    @property
    def more_is_used(self) -> bool:
        """Say whether a field of the folded part holds something of its own, or is refused."""
        return any(self[name].value() or self[name].errors for name in ("markup", "days", "due_on")) or (
            self["kind"].value() not in ("", None, BoughtIn.Kind.THING)
        )

    def has_changed(self) -> bool:
        """Say whether something was entered: what kind it is and what waits for it are chosen from the start."""
        return any(str(self[name].value() or "").strip() for name in ("name", "cost", "line_number", "markup", "days"))

    def clean_markup(self) -> Decimal | None:
        typed = self.cleaned_data["markup"].strip()
        if not typed:
            return None
        try:
            share = share_of(typed)
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if not 0 <= share <= 10:
            raise forms.ValidationError("A mark-up lies between 0 and 1000 %.")
        return as_decimal(share, 6)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        values["kind"] = values.get("kind") or BoughtIn.Kind.THING
        values["before"] = values.get("before") or (
            BoughtIn.Before.SILVERING if values["kind"] == BoughtIn.Kind.TOUGHENING else BoughtIn.Before.PACKING
        )
        if values["kind"] == BoughtIn.Kind.TOUGHENING and values["before"] != BoughtIn.Before.SILVERING:
            self.add_error("before", "Glass is toughened before it is silvered: the oven would destroy the silver.")
        return values


LineFormSet = formset_factory(LineForm, extra=0, can_delete=True, max_num=MOST_LINES)
BoughtInFormSet = formset_factory(BoughtInForm, extra=1, can_delete=True, max_num=30)


def _line_initial(typed: OrderLine, line: DraftLine) -> dict[str, Any]:
    return {
        "shape": line.shape, "size_text": typed.size_text, "quantity": line.quantity,
        "recipe_issue": line.recipe_issue_id, "glass": line.glass_id, "route": line.route, "edge": line.edge,
        "backing": line.backing, "cut_price_per_m2": _plain(line.cut_price_per_m2),
        "cut_minimum_each": _plain(line.cut_minimum_each),
        "area_text": f"{decimal_string(line.area_m2)} m2" if line.area_m2 else "",
        "perimeter_text": f"{decimal_string(line.perimeter_mm)} mm" if line.perimeter_mm else "",
        "plan": line.plan, "own_panes_to_start": line.own_panes_to_start, "oversize_method": line.oversize_method,
        "match_group": line.match_group, "note": line.note, "place": line.place, "opening": line.opening,
        "joint_text": f"{decimal_string(line.joint_mm)} mm" if line.joint_mm else "", "holes_text": line.holes_text,
        # no fields of the form, but what was understood when it was saved
        "width_mm": line.width_mm, "height_mm": line.height_mm, "area_m2": line.area_m2,
    }


def _thing_initial(thing: DraftBoughtIn) -> dict[str, Any]:
    return {
        "name": thing.name, "cost": _plain(thing.cost), "line_number": thing.line_number, "kind": thing.kind,
        "markup": "" if thing.markup_share is None else f"{plain(thing.markup_share * 100)} %",
        "before": thing.before, "days": thing.days or None, "due_on": thing.due_on,
    }


def _plain(value: Decimal) -> str:
    return plain(value) if value else ""


class OrderSheet:
    """The whole form: order, lines and bought-in things together."""

    def __init__(self, offer: Offer, data: QueryDict | None = None, order: Order | None = None) -> None:
        self.offer, self.bound = offer, data is not None
        lines, bought_in, own = self._initial(order)
        self.order = OrderForm(data, initial=own)
        self.order.fields["template"].choices = offer.template_options  # type: ignore[attr-defined]
        self.lines: BaseFormSet[LineForm] = LineFormSet(
            data, prefix="lines", initial=None if self.bound else lines, form_kwargs={"offer": offer}
        )
        self.bought_in: BaseFormSet[BoughtInForm] = BoughtInFormSet(
            data, prefix="bought", initial=None if self.bound else bought_in
        )
        self.refusal = ""

    @staticmethod
    def _initial(order: Order | None) -> tuple[list[dict[str, Any]], list[dict[str, Any]], dict[str, Any]]:
        if order is None:
            return [{}], [], {}
        draft = draft_of(order)
        share, amount = order.discount_share, order.discount_amount
        own = {
            "customer": order.customer_id, "title": order.title, "needed_by": order.needed_by,
            "discount": f"{_plain(share * 100)} %" if share else _plain(amount),
            "discount_reason": order.discount_reason, "note": order.note, "key": order.form_key,
            "version": order.version,
        }
        rows = list(order.lines.all())
        return (
            [_line_initial(row, line) for row, line in zip(rows, draft.lines, strict=True)],
            [_thing_initial(one) for one in draft.bought_in],
            own,
        )

    @property
    def kept_lines(self) -> list[LineForm]:
        """Return the lines that hold something and are not struck out."""
        struck_out = set(self.lines.deleted_forms) if self.lines.is_valid() else {
            form for form in self.lines.forms if form["DELETE"].value()
        }
        return [form for form in self.lines.forms if form not in struck_out and form.has_changed()]

    def is_valid(self) -> bool:
        checks = [self.order.is_valid(), self.lines.is_valid(), self.bought_in.is_valid()]
        if not self.kept_lines:
            self.refusal = "The order has no lines yet: enter a size, a quantity and a finish."
            return False
        return all(checks)

    def typed_lines(self) -> list[tuple[str, DraftLine]]:
        return [
            (form.cleaned_data["size_text"], form.draft(number))
            for number, form in enumerate(self.kept_lines, start=1)
        ]

    def things(self) -> tuple[DraftBoughtIn, ...]:
        return tuple(
            DraftBoughtIn(
                name=form.cleaned_data["name"], cost=form.cleaned_data["cost"],
                line_number=form.cleaned_data["line_number"], kind=form.cleaned_data["kind"],
                markup_share=form.cleaned_data["markup"], days=form.cleaned_data["days"] or 0,
                due_on=form.cleaned_data["due_on"], before=form.cleaned_data["before"],
            )
            for form in self.bought_in.forms
            if form.is_valid() and form.has_changed() and not form.cleaned_data.get("DELETE")
        )

    def draft(self) -> tuple[OrderDraft, list[int]]:
        """Return what can be priced so far, and the positions of lines that are left out until mended."""
        lines, left_out = [], []
        for number, form in enumerate(self.kept_lines, start=1):
            if form.is_valid():
                lines.append(form.draft(number))
            else:
                left_out.append(number)
        self.order.is_valid()
        share, amount = self.order.cleaned_data.get("discount", (Decimal(0), Decimal(0)))
        return OrderDraft(
            lines=tuple(lines), bought_in=self.things(), discount_share=share, discount_amount=amount,
            discount_reason=self.order.cleaned_data.get("discount_reason", ""),
        ), left_out

    def put(self, refusal: DaybookError) -> None:
        """Show a refusal beside the field that it names, or at the top; an order only looked at says it at the top."""
        self.refusal = str(refusal)
        if not self.bound:
            return
        lines = self.kept_lines
        if 0 < refusal.line <= len(lines) and refusal.field in lines[refusal.line - 1].fields:
            lines[refusal.line - 1].add_error(refusal.field, str(refusal))
        elif refusal.field in self.order.fields:
            self.order.add_error(refusal.field, str(refusal))

    def problems(self) -> list[tuple[str, str]]:
        """Return every refusal as an anchor and a sentence, for the list at the top."""
        found = [("", self.refusal)] if self.refusal else []
        groups: list[tuple[str, forms.Form]] = [("", self.order)]
        groups += [(f"Line {number}: ", form) for number, form in enumerate(self.lines.forms, start=1)]
        groups += [("Bought in: ", form) for form in self.bought_in.forms]
        for name, form in groups:
            for field, errors in form.errors.items() if form.is_bound else ():
                label = form[field].label if field in form.fields else ""
                anchor = form[field].auto_id if field in form.fields else ""
                found += [(anchor, f"{name}{label}: {error}") for error in errors if str(error) not in self.refusal]
        return found
