"""Tables for spreadsheets: no cell runs there."""

from __future__ import annotations

from decimal import Decimal

import pytest

from studio.stockroom.tables import as_csv, guarded

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("cell", "safe"), [
    ("=1+1", "'=1+1"), ("+cmd", "'+cmd"), ("@SUM(A1)", "'@SUM(A1)"), ("-2+3", "'-2+3"), ("\tx", "'\tx"), ("-3.5", "-3.5"),
    ("plain", "plain"), (None, ""), (Decimal("-1"), "-1"),
])
def test_no_cell_runs_in_a_spreadsheet(cell, safe):
    assert guarded(cell) == safe
    assert as_csv(["a"], [[cell]]).startswith("a\r\n")
