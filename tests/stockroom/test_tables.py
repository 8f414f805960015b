"""Tables for spreadsheets: no cell runs there."""

from __future__ import annotations

from decimal import Decimal

import pytest

from studio.kit import asking
from studio.stockroom.tables import as_csv, guarded
from tests import builders

pytestmark = pytest.mark.django_db


def test_a_long_table_is_sent_row_by_row_and_says_every_row_once(at_owner, owner, house, monkeypatch):
    # given more lots, and movements of them, than are held at once
    monkeypatch.setattr(asking, "HELD", 3)
    sugar = builders.material("Dextrose", reacts_as=["reducer"])
    for number in range(7):
        builders.lot(sugar, "5", owner, number=f"S{number}")
    # when the owner asks for them
    answer = at_owner.get("/stockroom/tables/movements.csv")
    # then they come as a stream, each once, in their order
    assert answer.streaming
    rows = answer.getvalue().decode().splitlines()[1:]
    assert [row.split(",")[2] for row in rows] == [f"S{number}" for number in range(7)]


@pytest.mark.parametrize(("cell", "safe"), [
    ("=1+1", "'=1+1"), ("+cmd", "'+cmd"), ("@SUM(A1)", "'@SUM(A1)"), ("-2+3", "'-2+3"), ("\tx", "'\tx"), ("-3.5", "-3.5"),
    ("plain", "plain"), (None, ""), (Decimal("-1"), "-1"),
])
def test_no_cell_runs_in_a_spreadsheet(cell, safe):
    assert guarded(cell) == safe
    assert as_csv(["a"], [[cell]]).startswith("a\r\n")
