"""Whatever is typed wrongly: a value, or a sentence; never anything else."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time
from decimal import Decimal
from fractions import Fraction

import pytest
from django import forms
from django.core.exceptions import ValidationError

from studio.house.typed_fields import DayField, MomentField, MoneyField, PercentField
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal
from studio.kit.typed_dates import DayReader
from studio.kit.typed_fields import TypedField
from studio.kit.typed_money import read_money
from studio.kit.typed_values import KINDS
from studio.kit.units import parse_size, stock_amount
from studio.kit.working_hours import parse_hours
from tests.kit.typos import MEANT, typos

_DAYS = DayReader(today=date(2026, 3, 2), day_first=lambda: True)
READERS = {
    **{kind: [lambda text, way=row: as_decimal(way.read(text, "metric"), way.decimals), lambda text, way=row: way.read(text, "us"), TypedField(kind).clean]
       for kind, row in KINDS.items()},
    "money": [lambda text: read_money(text, ["GBP"]), MoneyField(currency="GBP").clean, PercentField().clean],
    "date": [_DAYS.read], "moment": [lambda text: _DAYS.read_moment(text, time(9))],
    "mass": [lambda text: stock_amount(text, "g"), lambda text: stock_amount(text, "g", Fraction(9, 10)), lambda text: stock_amount(text, "mL", Fraction(9, 10))],
    "sheets": [lambda text: stock_amount(text, "sheet"), lambda text: stock_amount(text, "each")],
    "size": [parse_size, lambda text: parse_size(text, "in")], "hours": [parse_hours],
    "count": [forms.IntegerField(max_value=500).clean, forms.DecimalField(max_digits=12, decimal_places=3).clean],
}


@pytest.mark.parametrize("kind", MEANT)
def test_a_slip_of_the_hand_is_a_value_or_a_sentence(kind):
    slips = typos(kind)
    assert len(slips) >= 200
    refused = [(text, said) for text in slips for reader in READERS[kind] for said in refusals(reader, text)]
    assert [(text, said) for text, said in refused if not _is_sentence(said)] == []
    assert 0 < len(refused) < len(slips) * len(READERS[kind])


def refusals(reader: Callable[[str], object], text: str) -> list[str]:
    """Return what is said of a text; nothing where it is a value."""
    try:
        reader(text)
    except DaybookError as refusal:
        return [str(refusal)]
    except ValidationError as refusal:
        return refusal.messages
    return []


@pytest.mark.django_db
def test_so_it_is_of_days_and_moments_of_a_form(house):
    for field, kind in ((DayField(), "date"), (DayField(towards="back"), "date"), (MomentField(), "moment")):
        assert [said for text in typos(kind) for said in refusals(field.clean, text) if not _is_sentence(said)] == []


def _is_sentence(said: str) -> bool:
    return said[:1].isupper() or (said[:1] in "“" and len(said.split()) > 2 and said.rstrip("”")[-1:] in ".?")


def test_a_figure_above_a_line_is_never_read_as_one_on_it():
    for kind in ("length", "volume", "number", "money"):
        for text in ("5²", "²", "1² mm", "5² mL", "3³"):
            assert all(refusals(reader, text) for reader in READERS[kind]), (kind, text)
    assert KINDS["coverage"].read("300 mL/m²", "metric") == 300
    assert MoneyField(currency="GBP").clean("5") == Decimal(5)
