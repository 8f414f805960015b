"""Forms that several rooms of the stockroom share: an amount of a lot, and a table pasted or sent."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.db.models import Max

from studio.exact import STOCK_DECIMALS, exactly
from studio.house.clock import today
from studio.house.models import HouseRates
from studio.kit.currencies import sign
from studio.kit.errors import DaybookError
from studio.kit.meant_so import AsksOnce
from studio.kit.rounding import as_decimal, decimal_string
from studio.kit.units import show_stock, stock_amount
from studio.stockroom.models import Lot, Material
from studio.stockroom.undone_receipts import but_undone


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


#: so many times the largest delivery before is mostly a slip of the unit: kg for g, L for mL
UNUSUAL_TIMES = 100
#: a pack's size changes what a gram costs some five times; ten times is mostly a pack's price written as a gram's
UNUSUAL_PRICE_TIMES = 10


def unusual_amounts(received: Sequence[tuple[Material, Decimal]]) -> str:
    """Return what to ask of amounts a hundred times any delivery of their material before, or "". One query."""
    rows = but_undone(Lot.objects.filter(material__in={material for material, _ in received}, made_here=False))
    largest = dict(rows.order_by().values_list("material").annotate(Max("quantity_received")))
    asked = (
        f"{show_stock(Fraction(amount), material.stock_unit)} of {material.name} is {UNUSUAL_TIMES} times any delivery "
        f"before or more: the largest was {show_stock(Fraction(largest[material.pk]), material.stock_unit)}."
        for material, amount in received if material.pk in largest and amount >= UNUSUAL_TIMES * largest[material.pk]
    )
    return " ".join(asked)


def unusual_prices(priced: Sequence[tuple[Material, Fraction]]) -> str:
    """Return what to ask of prices of a stock unit ten times any before of their material, or a tenth. One query.

    Before: what its lots cost, and its list price. What cost nothing is a gift, and compares with nothing.
    """
    before: dict[int, list[Fraction]] = {material.pk: [] for material, _ in priced}
    for material, _ in priced:
        if material.list_price:
            before[material.pk].append(Fraction(material.list_price))
    rows = but_undone(Lot.objects.filter(material__in=before, made_here=False, cost_with_carriage__gt=0)).order_by()
    for pk, cost, quantity in rows.values_list("material", "cost_with_carriage", "quantity_received"):
        before[pk].append(Fraction(cost) / Fraction(quantity))
    return " ".join(filter(None, (_unusual_price(material, price, before[material.pk]) for material, price in priced)))


def _unusual_price(material: Material, price: Fraction, before: Sequence[Fraction]) -> str:
    if not before or price <= 0:
        return ""
    said = f"{_of_a_unit(price)} per {material.stock_unit} of {material.name} is"
    if price >= UNUSUAL_PRICE_TIMES * max(before):
        return f"{said} ten times any price before or more: the highest was {_of_a_unit(max(before))}."
    if UNUSUAL_PRICE_TIMES * price <= min(before):
        return f"{said} a tenth of any price before or less: the lowest was {_of_a_unit(min(before))}."
    return ""


def _of_a_unit(price: Fraction) -> str:
    """Return what a stock unit costs, with the studio's sign and as many decimals as it has, at most four."""
    rates = HouseRates.known_on(today())
    return (sign(rates.currency) if rates else "") + decimal_string(price, 4)


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
