"""The lines of an order form: sizes typed as people write them; what may be chosen is read once a page."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from fractions import Fraction
from functools import cached_property
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory

from jobs.draft import DraftLine
from jobs.drawings.panes import PaneDrawing, draw_front
from jobs.estimating.basis import EdgeFacts, GlassFacts, LineFacts
from jobs.estimating.estimate import Estimate
from jobs.estimating.hole_words import read_holes
from jobs.estimating.own_prices import LinePrice
from jobs.estimating.take_off import TakeOff, take_off
from jobs.line_fields import LINE_FIELDS, TYPED, LineField, from_form, to_form
from jobs.models import CustomerChoices, OrderLine
from jobs.orders.line_words import drawer_in_words
from jobs.orders.presets import as_line, newest_in_use
from jobs.orders.rows import MOST_LINES, is_blank
from jobs.orders.sizes import NothingLeft, finished_size
from recipes.models import RecipeVersion, VersionEvent
from recipes.models.finishes import state_of
from studio.house.models import EdgeType, HouseRates
from studio.house.row_select import RowOptions, RowSelect
from studio.house.typed_fields import MoneyField
from studio.kit.errors import DaybookError
from studio.kit.meant_so import AsksOnce
from studio.kit.pane_sizes import UNITS_ASKED, size_question, unit_question
from studio.kit.rounding import decimal_string
from studio.kit.units import Size, amount_in, parse_size, show_size, size_unit
from studio.stockroom.models import Material

Choices = list[tuple[Any, Any]]

#: what stands in a line's row, in the order in which it is typed
ROW = ("size_text", "quantity", "shape", "recipe_version", "glass", "edge")
#: what is rarer, in the row's drawer
DRAWER = (
    ("Opening, holes", ("opening", "joint_text", "holes_text")),
    ("Glass, back, spares", ("route", "cut_price_per_m2", "cut_minimum_each", "backing", "plan", "own_panes_to_start")),
    ("Shape, wall, note", ("area_text", "perimeter_text", "oversize_method", "match_group", "place", "note",
                           "offered")),
)
OWN_PRICE = "own_price_each"


#: a finish or a glass with a longer name is cut off in its row on a wide page: the whole stands below it
LONGEST_IN_ROW = 17


class Offer:
    """What an order form lets one choose from, read once a page."""

    def __init__(self, rates: HouseRates | None, preference: str) -> None:
        self.preference = preference
        #: sizes of the saved order as they were typed: what was meant once is not asked again
        self.saved_sizes: frozenset[str] = frozenset()
        self.glasses = {glass.pk: glass for glass in Material.objects.filter(kind=Material.Kind.GLASS)}
        self.edges: list[EdgeType] = list(rates.edge_types.all()) if rates else []
        self.recipes = _recipe_choices()
        self.presets = list(CustomerChoices.objects.select_related("customer"))
        #: the names of finishes and glasses, by what a row holds for them
        self.finish_names = {str(pk): name for _, group in self.recipes[1:] for pk, name in group}
        self.glass_names = {str(pk): glass.name for pk, glass in self.glasses.items()}
        #: decimals of the currency, and the kg above which two people lift; 0: no limit
        self.currency = rates.currency if rates else ""
        self.minor_digits = rates.minor_digits if rates else 2
        self.two_person_kg = Fraction(rates.two_person_kg) if rates else Fraction(0)
        self._options: dict[str, RowOptions] = {}

    def row_options(self, field: str, choices: Choices) -> RowOptions:
        """Return a field's options as every row has them."""
        return self._options.setdefault(field, RowOptions(choices))

    @property
    def preset_rows(self) -> dict[str, dict[str, str]]:
        """Return every preset as a line's fields, by its key."""
        return {str(preset.pk): as_line(preset, self.newest_in_use) for preset in self.presets}

    @cached_property
    def newest_in_use(self) -> dict[int, int]:
        return newest_in_use(self.presets)

    @property
    def default_unit(self) -> str:
        """Return the unit that a bare number is in."""
        return size_unit(self.preference)

    @property
    def preset_options(self) -> Choices:
        groups: dict[str, Choices] = {}
        for preset in self.presets:
            groups.setdefault(preset.customer.name, []).append((preset.pk, preset.name))
        return [("", "like the last line"), *groups.items()]

    def preset_choices(self, key: str) -> dict[str, str]:
        """Return a customer's preset as a line's fields; nothing where none is chosen."""
        chosen = next((preset for preset in self.presets if str(preset.pk) == key), None)
        return {} if chosen is None else as_line(chosen, self.newest_in_use)

    @property
    def glass_choices(self) -> Choices:
        return [("", "choose a glass"), *((pk, glass.name) for pk, glass in self.glasses.items())]

    @property
    def lacks(self) -> list[str]:
        """Return what no order can be priced without, and the studio does not have yet."""
        return [words for words, choices in (("a finish", self.recipes), ("a glass", self.glass_choices))
                if len(choices) < 2]

    @property
    def by_field(self) -> dict[str, Choices]:
        """Return what a line's own fields are chosen from, where that is not the same for every studio."""
        return {"recipe_version": self.recipes, "glass": self.glass_choices, "edge": self.edge_choices}

    @property
    def edge_choices(self) -> Choices:
        return [(edge.name, edge.name) for edge in self.edges]


def _recipe_choices() -> Choices:
    """Return the newest recipe version in use of each finish first, then earlier versions and drafts, grouped."""
    newest: Choices = []
    earlier: Choices = []
    drafts: Choices = []
    with_events: dict[int, set[str]] = defaultdict(set)
    for pk, kind in VersionEvent.objects.order_by().values_list("recipe_version_id", "kind"):
        with_events[pk].add(kind)
    seen: set[int] = set()
    versions = RecipeVersion.objects.order_by("finish__name", "finish_id", "-number")
    for pk, number, finish, name in versions.values_list("pk", "number", "finish_id", "finish__name"):
        state = state_of(with_events.get(pk, ()))
        choice = (pk, f"{name} {number}")  # short: the whole is said where it is long
        if state == "in use":
            (earlier if finish in seen else newest).append(choice)
            seen.add(finish)
        elif state == "draft":
            drafts.append(choice)
    groups = [("Finishes", newest), ("Earlier versions", earlier), ("Drafts: estimate only", drafts)]
    return [("", "choose a finish"), *((name, choices) for name, choices in groups if choices)]


def _form_field(field: LineField) -> forms.Field:
    """Return the form's field for a field of a line, as its kind says."""
    common: dict[str, Any] = {
        "label": field.label or None, "help_text": field.help, "required": field.required,
        "initial": field.default or None,  # nothing is shown by an empty field
    }
    column: Any = OrderLine._meta.get_field(field.name)
    if field.kind == "yes/no":
        return forms.BooleanField(**common)
    if field.kind == "money":
        return MoneyField(**common)
    if field.kind == "whole number":
        typed = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})  # arrows go from row to row
        return forms.IntegerField(min_value=field.least, max_value=field.most, widget=typed, **common)
    if field.kind == "reference":
        return forms.TypedChoiceField(coerce=int, widget=RowSelect, **common)
    if field.kind == "choice":
        none = [("", field.none_is)] if field.none_is else []
        return forms.ChoiceField(choices=[*none, *(column.choices or ())], widget=RowSelect, **common)
    return forms.CharField(max_length=field.longest or column.max_length, widget=_widget(field), **common)


def _widget(field: LineField) -> forms.Widget:
    if field.rows:
        return forms.Textarea(attrs={"rows": field.rows})
    attrs = {"placeholder": field.example, "autocomplete": "off", "inputmode": "text"}
    return forms.TextInput(attrs=attrs if field.example else None)


class LineForm(AsksOnce):
    """One line as typed. After cleaning, `draft` is the line as understood."""

    #: what the customer wrote, where the line was read from an e-mail
    written = forms.CharField(max_length=240, required=False, widget=forms.HiddenInput())
    #: a last row that nobody has filled in: no line, and no mistake
    left_empty = False
    #: its number on the page, 0 where it is removed; its price and the panes to start of it, once worked out
    number = 0
    #: its place among the rows, from 0
    at = 0
    #: the size in each unit that it may be meant in, where it is asked: the unit, and what the size then reads
    unit_choices: tuple[tuple[str, str], ...] = ()
    price: LinePrice | None = None
    panes_to_start = 0

    def __init__(self, *args: Any, offer: Offer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer = offer
        self.fields.update({field.typed: _form_field(field) for field in TYPED})
        for name, choices in offer.by_field.items():
            self.fields[name].choices = choices  # type: ignore[attr-defined]
        if offer.edges:
            self.fields["edge"].initial = offer.edges[0].name
        for name, field in self.fields.items():
            if isinstance(field, MoneyField):
                field.currency = offer.currency
            if isinstance(field.widget, RowSelect):
                field.widget.row_options = offer.row_options(name, list(field.choices))  # type: ignore[attr-defined]

    def typed(self, name: str) -> str:
        """Return what stands in a field, as text."""
        value = self[name].value()
        return "" if value in (None, False) else str(value)

    @property
    def blank(self) -> bool:
        """Say whether nothing was entered in it but what a new line begins with."""
        return is_blank({name: self.typed(name) for name in self.fields if name != "DELETE"})

    @property
    def removed(self) -> bool:
        return "DELETE" in self.fields and bool(self["DELETE"].value())

    def has_changed(self) -> bool:
        return not self.left_empty

    @property
    def drawer(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [(title, [self[name] for name in names]) for title, names in DRAWER]

    @property
    def drawer_is_refused(self) -> bool:
        """Say whether a field of the drawer is refused: then it is open."""
        return any(name not in ROW and name != "written" for name in self.errors)

    @property
    def problems(self) -> list[forms.BoundField]:
        """Return the fields that are refused or asked about; a tick that answers stays in sight, and is sent again."""
        asked = {name for name, field in self.fields.items() if getattr(field, "question", None)}
        return [self[name] for name in self.fields if name in self.errors or name in asked]

    @property
    def words(self) -> list[str]:
        """Return what is set beyond the row, in words, and how many panes are started."""
        more = self.price is not None and self.panes_to_start > self.price.quantity and not (
            self.typed("own_panes_to_start")
        )
        return [*drawer_in_words(self.typed), *([f"{self.panes_to_start} to start"] if more else [])]

    @property
    def long_names(self) -> list[str]:
        """Return the chosen finish and glass as far as their names are cut off in the row."""
        names = (self.offer.finish_names.get(self.typed("recipe_version"), ""),
                 self.offer.glass_names.get(self.typed("glass"), ""))
        return [name for name in names if len(name) > LONGEST_IN_ROW]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        self._read("size_text", self._clean_size)
        self._read("holes_text", self._clean_holes)
        self._read("area_text", lambda: self._amount("area_text", "area", "area_m2"))
        self._read("perimeter_text", lambda: self._amount("perimeter_text", "length", "perimeter_mm"))
        if values.get("route") == OrderLine.Route.CUT and not values.get("cut_price_per_m2"):
            self.add_error("cut_price_per_m2", "Give the price per m² of the bought-cut glass.")
        own = values.get(OWN_PRICE)
        if own is not None and -own.as_tuple().exponent > self.offer.minor_digits:
            self.add_error(OWN_PRICE, f"The currency has {self.offer.minor_digits} decimals.")
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
            self._ask_of_size(size, self.cleaned_data["size_text"].strip())
            self._finished(size)

    def _ask_of_size(self, size: Size, typed: str) -> None:
        """Ask which unit is meant, else whether a size is meant that few panes have; once of a size that was saved."""
        question = size_question(size)
        if typed in self.offer.saved_sizes:
            return
        which = unit_question(size, self.offer.default_unit)
        if which:
            self.unit_choices = tuple((unit, f"{typed} {unit}") for unit in UNITS_ASKED)
            self.add_error("size_text", forms.ValidationError(which, code="asked"))
        elif question:
            self.ask("size_text", question)

    def _finished(self, size: Size) -> None:
        """Take the joint off an opening; without one the size typed is the finished size."""
        typed, joint = self.cleaned_data.get("joint_text"), Fraction(0)
        if typed and not self.cleaned_data.get("opening"):
            self.add_error("joint_text", "A joint is left in an opening: tick “The size typed is the opening”.")
        elif typed:
            try:
                joint = amount_in(typed, "length", self.offer.default_unit)
            except DaybookError as refusal:
                self.add_error("joint_text", str(refusal))
        try:
            width, height = finished_size(size.width_mm, size.height_mm, joint)
        except NothingLeft as refusal:
            self.add_error(refusal.field, str(refusal))
            return
        self.cleaned_data |= {"joint_mm": joint, "width_mm": width, "height_mm": height}

    def _clean_holes(self) -> None:
        width, height = (self.cleaned_data.get(name) for name in ("width_mm", "height_mm"))
        pane = (width, height) if width and height else None
        self.cleaned_data["holes"] = read_holes(self.cleaned_data["holes_text"], self.offer.default_unit, pane)

    def _amount(self, field: str, kind: str, target: str) -> None:
        default = {"area": "m2", "length": "mm"}[kind]
        self.cleaned_data[target] = amount_in(self.cleaned_data[field], kind, default)

    def draft(self, number: int) -> DraftLine:
        """Return the line as understood; only for a valid form."""
        return DraftLine(number=number, **{field.name: from_form(field, self.cleaned_data) for field in LINE_FIELDS})

    @property
    def _understood(self) -> dict[str, Any]:
        """Return what was understood, or of a line not sent yet what was saved; empty while there is no size."""
        values: dict[str, Any] = getattr(self, "cleaned_data", dict(self.initial))
        return values if "width_mm" in values and "shape" in values else {}

    @cached_property
    def read_size(self) -> str:
        """Return the finished size as read, in the studio's units."""
        values = self._understood
        return show_size(values["width_mm"], values["height_mm"], self.offer.preference,
                         round_=values["shape"] == OrderLine.Shape.CIRCLE) if values else ""

    @cached_property
    def drawn(self) -> PaneDrawing | None:
        """Return the pane from the front with its holes, as a drawing."""
        values = self._understood
        if not values:
            return None
        return draw_front(values["shape"], values["width_mm"], values["height_mm"], values.get("holes") or (),
                          self.offer.preference)

    @cached_property
    def two_people(self) -> bool:
        """Say whether one pane is above what the studio lets one person lift."""
        values = self._understood
        if not (values and self.offer.two_person_kg):
            return False
        size = self._take_off(values["shape"], values["width_mm"], values["height_mm"], values)
        return size is not None and size.pane_kg > self.offer.two_person_kg

    @cached_property
    def understood(self) -> str:
        """Return the size as understood, both ways of measuring, with area and mass; "" while it cannot be."""
        values = self._understood
        if not values:
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
        words = f"{read}, {decimal_string(size.area_m2, 3)} m²"
        return f"{words}, {decimal_string(size.pane_kg, 1)} kg a pane" if values.get("glass") else words

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


class LineForms(BaseFormSet):  # type: ignore[type-arg]  # takes none as it runs
    """The lines of an order; those left empty at the end are no lines."""

    deletion_widget = forms.HiddenInput

    @cached_property
    def forms(self) -> list[LineForm]:
        made = [
            self._construct_form(at, **self.get_form_kwargs(at))  # type: ignore[attr-defined]  # the stubs leave it out
            for at in range(self.total_form_count())
        ]
        for form in reversed(made):
            if not form.removed:
                if not form.blank:
                    break
                form.left_empty = form.empty_permitted = True
        number = 0
        for at, form in enumerate(made):
            form.at = at
            number += not form.removed
            form.number = 0 if form.removed else number
        return made

    def show(self, estimate: Estimate) -> None:
        """Give each line its price and the panes to start of it."""
        prices = {price.number: price for price in estimate.line_prices}
        for form in self.forms:
            if form.number in prices:
                form.price = prices[form.number]
                form.panes_to_start = estimate.panes[form.number].panes_to_start


LineFormSet = formset_factory(LineForm, LineForms, extra=0, can_delete=True, max_num=MOST_LINES + 1)


def line_initial(typed: OrderLine, line: DraftLine) -> dict[str, Any]:
    """Return a saved line as its form shows it, and what was understood when it was saved."""
    shown = {field.typed: to_form(field, getattr(line, field.name)) for field in TYPED}
    read = {name: getattr(line, name) for name in ("width_mm", "height_mm", "area_m2", "holes")}  # no form fields
    return {**shown, "size_text": typed.size_text, **read}
