"""Forms of the stockroom."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from studio.errors import DaybookError
from studio.exact import STOCK_DECIMALS
from studio.inventory.models import Material
from studio.rounding import as_decimal
from studio.units import stock_amount


def date_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class ReceiveForm(forms.Form):
    """One lot as it came in. The amount as on the label: “500 g”, “1 gal”, “6 sheets”."""

    lot_number = forms.CharField(max_length=40)
    supplier = forms.CharField(max_length=80, required=False)
    amount = forms.CharField(max_length=30, help_text="As on the label, with its unit.")
    landed_cost = forms.DecimalField(min_value=0, max_digits=12, decimal_places=4,
                                     help_text="Price and carriage, without tax that is reclaimed.")
    received_on = forms.DateField(widget=date_input())
    expires_on = forms.DateField(required=False, widget=date_input(),
                                 help_text="Empty: by the material's shelf life.")
    form_key = forms.UUIDField(widget=forms.HiddenInput())

    def __init__(self, data: Any = None, *, material: Material, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, initial=initial)
        self.material = material

    def clean_amount(self) -> Decimal:
        density = self.material.density_g_per_ml
        try:
            amount = stock_amount(
                self.cleaned_data["amount"], self.material.stock_unit, None if density is None else Fraction(density)
            )
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if amount <= 0:
            raise forms.ValidationError("Nothing came in.")
        return as_decimal(amount, STOCK_DECIMALS)
