"""Forms of the stockroom's work: a delivery, a count, waste, labels, what is done to a lot."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from studio.errors import DaybookError
from studio.exact import STOCK_DECIMALS, exactly
from studio.form_keys import KeyField
from studio.inventory.forms import date_input
from studio.inventory.hazards import AGENT_CLASSES
from studio.inventory.labels import SIZES
from studio.inventory.models import Delivery, Material, Posting, Purchase, WasteContainer
from studio.rounding import as_decimal, plain
from studio.typed_fields import TypedField
from studio.units import Size, parse_size, stock_amount


class AmountOfForm(forms.Form):
    """So much of one lot."""

    amount = forms.CharField(max_length=30, error_messages={"required": "Say how much."})

    def __init__(self, data: Any = None, *, material: Material, **more: Any) -> None:
        super().__init__(data, **more)
        self.material = material

    def clean_amount(self) -> Decimal:
        return typed_amount(str(self.cleaned_data["amount"]), self.material)


def typed_amount(text: str, material: Material) -> Decimal:
    """Read an amount in a material's stock unit, for a form. Raises ValidationError."""
    try:
        amount = stock_amount(text, material.stock_unit, exactly(material.density_g_per_ml))
    except DaybookError as refusal:
        raise forms.ValidationError(str(refusal)) from refusal
    return as_decimal(amount, STOCK_DECIMALS)


class DeliveryForm(forms.Form):
    """What came in together: pasted from a table, or as a CSV file."""

    supplier = forms.CharField(max_length=80)
    received_on = forms.DateField(widget=date_input())
    reference = forms.CharField(max_length=60, required=False, label="Delivery note or invoice")
    carriage = forms.DecimalField(min_value=0, max_digits=12, required=False, help_text="Without tax; empty: none.")
    share_by = forms.ChoiceField(choices=Delivery.Share.choices, initial=Delivery.Share.VALUE,
                                 label="Carriage is shared")
    table = forms.CharField(widget=forms.Textarea(attrs={"rows": 8}), required=False, label="Lines",
                            help_text="One a line: material, lot, amount as on the label (500 g, 12 x 32 fl oz), "
                            "price, expiry (2027-03-31). Pasted from a spreadsheet, or with commas.")
    file = forms.FileField(required=False, label="Or a CSV file")
    awaited = forms.ModelMultipleChoiceField(Purchase.objects.none(), required=False, label="Ordered, and came with it",
                                             widget=forms.CheckboxSelectMultiple)
    key = KeyField()

    def __init__(self, data: Any = None, files: Any = None, *, minor_digits: int = 2, **more: Any) -> None:
        super().__init__(data, files, **more)
        self.fields["carriage"].decimal_places = minor_digits  # type: ignore[attr-defined]
        field: Any = self.fields["awaited"]
        field.queryset = Purchase.objects.filter(lot=None, called_off_because="").select_related("material")
        field.label_from_instance = lambda row: (
            f"{row.material}, {plain(row.quantity)} {row.material.stock_unit}"
            + (f" from {row.supplier}" if row.supplier else "")
        )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if values.get("file"):
            values["table"] = decoded(self, values["file"])
        elif not values.get("table"):
            self.add_error("table", "Paste the lines, or choose a file.")
        values["carriage"] = values.get("carriage") or Decimal(0)
        return values


def decoded(form: forms.Form, sent: Any) -> str | None:
    """Return a sent file's text; a refusal stands beside the file."""
    content = sent.read(1_000_001)
    if len(content) > 1_000_000:
        form.add_error("file", "That file is larger than any such table: send at most 1 MB.")
        return None
    try:
        return str(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        form.add_error("file", "That file is no text: save it as CSV, UTF-8.")
        return None


class TableForm(forms.Form):
    """A table, pasted or as a file."""

    table = forms.CharField(widget=forms.Textarea(attrs={"rows": 8}), required=False, label="The table")
    file = forms.FileField(required=False, label="Or a CSV file")

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if values.get("file"):
            values["table"] = decoded(self, values["file"])
        elif not values.get("table"):
            self.add_error("table", "Paste the table, or choose a file.")
        return values


class CountForm(forms.Form):
    place = forms.ChoiceField(required=False, label="Storage place")
    blind = forms.BooleanField(required=False, initial=True, label="Blind: expected amounts are not shown")
    key = KeyField()

    def __init__(self, data: Any = None, *, places: list[str], **more: Any) -> None:
        super().__init__(data, **more)
        self.fields["place"].choices = [  # type: ignore[attr-defined]
            ("", "everything"), *((place, place) for place in places)
        ]


class ContainerForm(forms.Form):
    name = forms.CharField(max_length=40, help_text="As written on it, for instance S-4.")
    meant_for = forms.CharField(max_length=120, help_text="For instance silver-bearing rinse, made safe.")
    place = forms.CharField(max_length=60, required=False)

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"]).strip()
        if WasteContainer.objects.filter(name=name).exists():
            raise forms.ValidationError("There was a container of that name: give every one its own.")
        return name


class WasteForm(forms.Form):
    """What goes into a container."""

    what = forms.CharField(max_length=120, label="What goes in")
    volume = TypedField("volume", default=0, label="How much")
    silver = forms.DecimalField(min_value=0, max_digits=12, decimal_places=3, required=False,
                                label="Silver in it by reckoning, g")
    agents = forms.MultipleChoiceField(choices=list(AGENT_CLASSES.items()), required=False, label="It holds",
                                       widget=forms.CheckboxSelectMultiple)
    posting = forms.ModelChoiceField(Posting.objects.none(), required=False, empty_label="nothing that was posted",
                                     label="From")
    made_safe = forms.BooleanField(required=False, label="It was made safe by the studio's written procedure")
    key = KeyField()


    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        came_from = Posting.objects.filter(kind__in=(Posting.Kind.RUN, Posting.Kind.TRIAL, Posting.Kind.DISCARD))
        recent = list(came_from.order_by("-at").values_list("pk", flat=True)[:40])
        field: Any = self.fields["posting"]
        field.queryset = Posting.objects.filter(pk__in=recent).order_by("-at")
        field.label_from_instance = lambda row: f"{row.at:%d %b}, {row.get_kind_display()}: {row.why}"


class HandOverForm(forms.Form):
    handed_on = forms.DateField(widget=date_input(), label="Handed over on")
    handed_to = forms.CharField(max_length=80, label="To", help_text="The licensed contractor, or the refiner.")
    note = forms.CharField(max_length=200, required=False)


class ReturnedForm(forms.Form):
    returned_on = forms.DateField(widget=date_input(), label="Came back on")
    grams = forms.DecimalField(min_value=0, max_digits=12, decimal_places=3, label="Silver, g")


class LabelForm(forms.Form):
    size = forms.ChoiceField(choices=[(key, size.name) for key, size in SIZES.items()])
    start = forms.IntegerField(min_value=1, max_value=40, initial=1, required=False, label="First label at place",
                               help_text="For a sheet begun before.")


class OffcutForm(forms.Form):
    """A piece of glass to keep: its glass, its size as typed, and where it stands."""

    material = forms.ModelChoiceField(Material.objects.filter(kind=Material.Kind.GLASS), label="Glass")
    size = forms.CharField(max_length=60, widget=forms.TextInput(attrs={"placeholder": "600 x 450 mm"}))
    place = forms.CharField(max_length=60, required=False, label="Where it stands")
    key = KeyField()

    def __init__(self, data: Any = None, *, default_unit: str = "mm", **more: Any) -> None:
        super().__init__(data, **more)
        self.default_unit = default_unit

    def clean_size(self) -> Size:
        try:
            size = parse_size(self.cleaned_data["size"], self.default_unit)
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if size.single:
            raise forms.ValidationError("Write width × height, for instance “600 x 450 mm”.")
        return size
