"""Money is read by one rule wherever it is typed."""

from __future__ import annotations

from decimal import Decimal

import pytest

from jobs.desk.sample_forms import SampleForm
from jobs.orders.bought_in_form import BoughtInForm
from jobs.orders.order_form import OrderForm
from studio.house.rates_forms import RatesForm
from studio.stockroom.deliveries.forms import DeliveryForm
from studio.stockroom.deliveries.note_forms import NoteHeadForm
from studio.stockroom.material_forms import MaterialForm, ReceiveForm
from studio.whole.starting.forms import MaterialRow, StartRatesForm

TYPED_INTO = [
    (StartRatesForm, "owner_per_hour"), (MaterialRow, "price"), (RatesForm, "minimum_charge"), (BoughtInForm, "cost"),
    (DeliveryForm, "carriage"), (NoteHeadForm, "carriage"), (MaterialForm, "list_price"),
    (ReceiveForm, "cost_with_carriage"), (SampleForm, "fee"),
]


@pytest.mark.parametrize(("form", "field"), TYPED_INTO, ids=lambda of: getattr(of, "__name__", of))
def test_thousands_and_cents_are_read_as_both_are_written(form, field):
    for typed in ("1.250,50", "1,250.50", "1 250,50", "1250.5"):
        assert form.base_fields[field].clean(typed) == Decimal("1250.50")


def test_a_discount_is_money_or_a_percentage():
    form = OrderForm()
    for typed, read in (("1.250,50", (0, Decimal("1250.50"))), ("7,5 %", (Decimal("0.075"), 0))):
        form.cleaned_data = {"discount": typed}
        assert form.clean_discount() == read
