"""The lines of an order form: sizes typed as people write them; what may be chosen is read once a page."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import cached_property
from typing import Any

from django import forms
from django.forms import formset_factory

from jobs.draft import DraftLine
from jobs.estimating.basis import EdgeFacts, GlassFacts, LineFacts
from jobs.estimating.hole_words import read_holes
from jobs.estimating.take_off import TakeOff, take_off
from jobs.line_fields import FOLDED, LINE_FIELDS, TYPED, LineField, from_form, to_form
from jobs.models import CustomerChoices, OrderLine
from jobs.orders.presets import as_line
from jobs.orders.rows import MOST_LINES
from jobs.orders.sizes import NothingLeft, finished_size
from recipes.models import Finish, VersionEvent
from studio.house.models import EdgeType, HouseRates
from studio.kit.errors import DaybookError
from studio.kit.meant_so import AsksOnce
from studio.kit.pane_sizes import size_question
from studio.kit.rounding import decimal_string
from studio.kit.units import Size, amount_in, parse_size, show_size, size_unit
from studio.stockroom.models import Material

Choices = list[tuple[Any, Any]]


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
        return {} if chosen is None else as_line(chosen)

    @property
    def glass_choices(self) -> Choices:
        return [("", "choose a glass"), *((pk, glass.name) for pk, glass in self.glasses.items())]

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
    for finish in Finish.objects.prefetch_related("versions__events"):
        first = True
        for version in sorted(finish.versions.all(), key=lambda version: -version.number):
            choice = (version.pk, f"{finish.name}, version {version.number}")
            if version.state == VersionEvent.Kind.IN_USE:
                (newest if first else earlier).append(choice)
                first = False
            elif version.state == "draft":
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
        return forms.DecimalField(min_value=0, **common)
    if field.kind == "whole number":
        return forms.IntegerField(min_value=field.least, max_value=field.most, **common)
    if field.kind == "reference":
        return forms.TypedChoiceField(coerce=int, **common)
    if field.kind == "choice":
        none = [("", field.none_is)] if field.none_is else []
        return forms.ChoiceField(choices=[*none, *(column.choices or ())], **common)
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

    def __init__(self, *args: Any, offer: Offer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer = offer
        self.fields.update({field.typed: _form_field(field) for field in TYPED})
        for name, choices in offer.by_field.items():
            self.fields[name].choices = choices  # type: ignore[attr-defined]
        if offer.edges:
            self.fields["edge"].initial = offer.edges[0].name

    @property
    def more_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in FOLDED]

    @property
    def more_is_used(self) -> bool:
        """Say whether a field of the folded part holds something or is refused."""
        return any(self[name].value() or self[name].errors for name in FOLDED)

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
            typed = self.cleaned_data["size_text"].strip()
            question = size_question(size)
            if question and typed not in self.offer.saved_sizes:
                self.ask("size_text", question)
            self._finished(size)

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
        self.cleaned_data["holes"] = read_holes(self.cleaned_data["holes_text"], self.offer.default_unit)

    def _amount(self, field: str, kind: str, target: str) -> None:
        default = {"area": "m2", "length": "mm"}[kind]
        self.cleaned_data[target] = amount_in(self.cleaned_data[field], kind, default)

    def draft(self, number: int) -> DraftLine:
        """Return the line as understood; only for a valid form."""
        return DraftLine(number=number, **{field.name: from_form(field, self.cleaned_data) for field in LINE_FIELDS})

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


LineFormSet = formset_factory(LineForm, extra=0, can_delete=True, max_num=MOST_LINES)


def line_initial(typed: OrderLine, line: DraftLine) -> dict[str, Any]:
    """Return a saved line as its form shows it, and what was understood when it was saved."""
    shown = {field.typed: to_form(field, getattr(line, field.name)) for field in TYPED}
    read = {name: getattr(line, name) for name in ("width_mm", "height_mm", "area_m2")}  # no fields of the form
    return {**shown, "size_text": typed.size_text, **read}
