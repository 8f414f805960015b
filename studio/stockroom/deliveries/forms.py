"""Forms of deliveries."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from studio.house.form_keys import KeyField
from studio.house.typed_fields import DayField, MoneyField
from studio.kit.meant_so import AsksOnce
from studio.kit.rounding import plain
from studio.stockroom.forms import decoded
from studio.stockroom.models import Delivery, Purchase


class AwaitedField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # not generic at run time
    """The orders that are awaited: those that came are ticked."""

    def __init__(self) -> None:
        super().__init__(Purchase.objects.filter(lot=None, cancelled_because="").select_related("material"),
                         required=False, label="Orders that came with it", widget=forms.CheckboxSelectMultiple)

    def label_from_instance(self, row: Purchase) -> str:
        bought_from = f" from {row.supplier}" if row.supplier else ""
        return f"{row.material}, {plain(row.quantity)} {row.material.stock_unit}{bought_from}"


class DeliveryForm(AsksOnce):
    """A delivery: its lines pasted from a table, or as a CSV file."""

    supplier = forms.CharField(max_length=80)
    received_on = DayField(towards="back")
    reference = forms.CharField(max_length=60, required=False, label="Delivery note or invoice")
    carriage = MoneyField(max_digits=12, required=False,
                          help_text="Without tax; leave empty for none.")
    share_by = forms.ChoiceField(choices=Delivery.Share.choices, initial=Delivery.Share.VALUE,
                                 label="Carriage shared")
    table = forms.CharField(widget=forms.Textarea(attrs={"rows": 8}), required=False, label="Lines",
                            help_text="One a line: material, lot, amount as on the label (500 g, 12 x 32 US fl oz), "
                            "price, expiry (2027-03-31). Pasted from a spreadsheet, or with commas.")
    file = forms.FileField(required=False, label="Or a CSV file")
    awaited = AwaitedField()
    key = KeyField()

    def __init__(self, data: Any = None, files: Any = None, *, minor_digits: int = 2, **more: Any) -> None:
        super().__init__(data, files, **more)
        self.fields["carriage"].decimal_places = minor_digits  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if values.get("file"):
            values["table"] = decoded(self, values["file"])
        elif not values.get("table"):
            self.add_error("table", "Paste the lines, or choose a file.")
        values["carriage"] = values.get("carriage") or Decimal(0)
        return values
