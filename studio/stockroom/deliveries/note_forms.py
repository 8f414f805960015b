"""Forms of a pasted delivery note: what was pasted, then its head and a row for each good, to confirm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.formats import date_format

from studio.house.form_keys import KeyField
from studio.house.typed_fields import DayField, MoneyField
from studio.kit.errors import DaybookError
from studio.kit.meant_so import AsksOnce
from studio.kit.units import NotUnderstood
from studio.stockroom.deliveries.forms import AwaitedField
from studio.stockroom.deliveries.note import MOST_LETTERS
from studio.stockroom.deliveries.note_shapes import NoteRow
from studio.stockroom.deliveries.note_words import read_day
from studio.stockroom.deliveries.receiving import DeliveryLine, label_amount
from studio.stockroom.ledger import why_not_numbered, why_not_received
from studio.stockroom.models import Material

LEFT_OUT = "-"


class NoteForm(forms.Form):
    """A delivery note as it was pasted."""

    note = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 8}), label="The delivery note or invoice", max_length=MOST_LETTERS,
        help_text="One good a line, for instance: Silver nitrate 100 g, lot A17, 86.00, exp 05/2028. Rows of a table "
                  "with their head are read too. You see what was read before anything is saved.",
    )


class NoteHeadForm(AsksOnce):
    """The head of a delivery, once its lines were read."""

    supplier = forms.CharField(max_length=80)
    received_on = DayField(towards="back")
    reference = forms.CharField(max_length=60, required=False, label="Delivery note or invoice")
    carriage = MoneyField(max_digits=12, required=False, help_text="Without tax; shared over the lines by value.")
    awaited = AwaitedField()
    #: as it was pasted: what may be read two ways is offered again
    note = forms.CharField(required=False, widget=forms.HiddenInput, max_length=MOST_LETTERS)
    #: where a question of the rows as a whole stands
    goods = forms.CharField(required=False, widget=forms.HiddenInput)
    key = KeyField()

    def clean_carriage(self) -> Decimal:
        return self.cleaned_data["carriage"] or Decimal(0)


class NoteRowForm(forms.Form):
    """One line of a note, to confirm: a good or left out, lot, amount, price, expiry."""

    number = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    text = forms.CharField(widget=forms.HiddenInput, required=False, max_length=2000)
    good = forms.ChoiceField(label="Material", error_messages={"required": "Say which material it is, or leave the "
                                                                           "line out."})
    lot = forms.CharField(max_length=60, required=False, label="Lot number")
    amount = forms.CharField(max_length=40, required=False)
    price = forms.CharField(max_length=20, required=False, label="Price, net")
    expires = forms.CharField(max_length=30, required=False)

    def __init__(self, data: Any = None, *, materials: Mapping[str, Material], likely: Sequence[str] = (),
                 row: NoteRow | None = None, **more: Any) -> None:
        super().__init__(data, **more)
        self.materials = materials
        self.marks: tuple[str, ...] = row.marks if row else ()
        self.numbered_here = False
        choice: Any = self.fields["good"]
        first = [(code, str(materials[code])) for code in likely if code in materials]
        rest = [(code, str(material)) for code, material in materials.items() if code not in likely]
        choice.choices = [("", "Which material?"), *first, *rest, (LEFT_OUT, "Leave this line out")]
        for field in ("amount", "price", "expires"):
            choices = getattr(row, f"{field}_choices") if row else ()
            if choices:
                self.fields[field].widget = forms.Select(choices=[("", "Choose"), *choices])
            self.fields[field].widget.attrs["aria-describedby"] = f"{self[field].auto_id}_error"

    @property
    def read_from(self) -> str:
        return str(self["text"].value() or "")

    def clean(self) -> dict[str, Any]:
        """Read the row as the stockroom counts; of one left out nothing is asked."""
        values = super().clean() or self.cleaned_data
        if values.get("good") in (None, "", LEFT_OUT):
            return values
        material = self.materials[values["good"]]
        refused = why_not_received(material)
        if refused:
            self.add_error("good", refused)
        values["line"] = DeliveryLine(
            row=values.get("number") or 0, material=material, lot_number=self._lot(values),
            amount=self._amount(values, material), price=self._price(values), expires_on=self._expires(values),
        )
        return values

    def _lot(self, values: dict[str, Any]) -> str:
        lot = str(values.get("lot", "")).strip()
        refused = why_not_numbered(lot) if lot else "Give the lot number from the label."
        if refused:
            self.add_error("lot", refused)
        return lot

    def _amount(self, values: dict[str, Any], material: Material) -> Decimal:
        typed = str(values.get("amount", "")).strip()
        try:
            if not typed:
                raise NotUnderstood("Give the amount as on the label: 500 g, 2 x 1 L, 4 sheets as 4.")
            return label_amount(typed, material)
        except DaybookError as refusal:
            self.add_error("amount", str(refusal))
            return Decimal(0)

    def _price(self, values: dict[str, Any]) -> Decimal:
        try:
            return MoneyField(error_messages={"required": "Give the price of the whole line, net."}).clean(
                str(values.get("price", "")))
        except forms.ValidationError as refusal:
            self.add_error("price", refusal)
            return Decimal(0)

    def _expires(self, values: dict[str, Any]) -> date | None:
        typed = str(values.get("expires", "")).strip()
        if not typed:
            return None
        day = read_day(typed)
        if day is None or day.sure is None:
            self.add_error("expires", f"“{typed}” is no day that can be read in one way: write 31 May 2028.")
            return None
        return day.sure

    @property
    def line(self) -> DeliveryLine | None:
        """Return the line that was confirmed; None for one left out."""
        return self.cleaned_data.get("line")


def shown_day(iso: str) -> str:
    """Return a day of a note as it is shown in its field: “31 May 2028”."""
    return date_format(date.fromisoformat(iso), "j F Y") if iso else ""
