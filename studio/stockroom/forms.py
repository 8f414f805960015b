"""Forms that several rooms of the stockroom share: an amount of a lot, and a table pasted or sent."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.db.models import Max

from studio.exact import STOCK_DECIMALS, exactly
from studio.kit.errors import DaybookError
from studio.kit.meant_so import AsksOnce
from studio.kit.rounding import as_decimal, decimal_string
from studio.kit.units import show_stock, stock_amount
from studio.stockroom.models import Lot, Material


class AmountOfForm(forms.Form):
    """An amount of one lot, typed with its unit."""

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


#: so many times the largest delivery, or the highest price, before is mostly a slip of the unit: kg for g, L for mL
UNUSUAL_TIMES = 100


def unusual_amounts(received: Sequence[tuple[Material, Decimal]]) -> str:
    """Return what to ask of amounts a hundred times any delivery of their material before, or "". One query."""
    rows = Lot.objects.filter(material__in={material for material, _ in received}, made_here=False)
    largest = dict(rows.order_by().values_list("material").annotate(Max("quantity_received")))
    asked = (
        f"{show_stock(Fraction(amount), material.stock_unit)} of {material.name} is {UNUSUAL_TIMES} times any delivery "
        f"before or more: the largest was {show_stock(Fraction(largest[material.pk]), material.stock_unit)}."
        for material, amount in received if material.pk in largest and amount >= UNUSUAL_TIMES * largest[material.pk]
    )
    return " ".join(asked)


def unusual_prices(priced: Sequence[tuple[Material, Fraction]]) -> str:
    """Return what to ask of prices of a stock unit a hundred times any before of their material, or "". One query.

    Before: what its lots cost, and its list price.
    """
    highest = {material.pk: Fraction(material.list_price or 0) for material, _ in priced}
    rows = Lot.objects.filter(material__in=highest, made_here=False).order_by()
    for pk, cost, quantity in rows.values_list("material", "cost_with_carriage", "quantity_received"):
        highest[pk] = max(highest[pk], Fraction(cost) / Fraction(quantity))
    asked = (
        f"{decimal_string(price, 4)} per {material.stock_unit} of {material.name} is {UNUSUAL_TIMES} times any price "
        f"before or more: the highest was {decimal_string(highest[material.pk], 4)}."
        for material, price in priced if 0 < UNUSUAL_TIMES * highest[material.pk] <= price
    )
    return " ".join(asked)


def decoded(form: forms.Form, sent: Any) -> str | None:
    """Return a sent file's text, or None with the refusal on the form's file field."""
    content = sent.read(1_000_001)
    if len(content) > 1_000_000:
        form.add_error("file", "That file is larger than 1 MB: send a smaller table.")
        return None
    try:
        return str(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        form.add_error("file", "That file is not text: save it as CSV (UTF-8).")
        return None


class TableForm(AsksOnce):
    """A table, pasted or as a file."""

    table = forms.CharField(widget=forms.Textarea(attrs={"rows": 8}), required=False, label="Table")
    file = forms.FileField(required=False, label="Or a CSV file")

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if values.get("file"):
            values["table"] = decoded(self, values["file"])
        elif not values.get("table"):
            self.add_error("table", "Paste the table, or choose a file.")
        return values
