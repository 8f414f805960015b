"""Tables for spreadsheets: no cell runs there."""

from __future__ import annotations

from csv import DictReader
from datetime import datetime
from decimal import Decimal
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.exact import plain_of
from studio.kit import asking
from studio.kit.rounding import plain
from studio.stockroom.ledger import Movement, post
from studio.stockroom.lots.keeping import hold_lot
from studio.stockroom.models import StockMovement
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


def test_amounts_are_written_as_they_are_typed_and_lots_say_how_they_stand(at_owner, owner, house):
    # given a lot of which some is used and taken back, one used up, and one that is held
    sugar = builders.material("=Dextrose", reacts_as=["reducer"])
    there = builders.lot(sugar, "500.125", owner, number="S1", cost="12.5")
    gone = builders.lot(sugar, "2", owner, number="S2")
    hold_lot(key=builders.key(), lot=builders.lot(sugar, "1", owner, number="S3"), by=owner, why="clumped")
    for lot, amount in ((there, "0.025"), (gone, "2")):
        post(key=builders.key(), kind="discard", by=owner, why="@spilt", movements=[
            Movement(lot=lot, kind="discard", quantity=-Decimal(amount), unit_cost=lot.unit_cost)])
    # when the owner takes both tables
    moved, lots = (list(DictReader(StringIO(at_owner.get(f"/stockroom/tables/{name}.csv").getvalue().decode())))
                   for name in ("movements", "lots"))
    # then every amount stands there to its last decimal, no word runs as a formula, and each lot says how it stands
    assert [(row["material"], row["lot"], row["moved"], row["why"], row["by"]) for row in moved[3:]] == [
        ("'=Dextrose", "S1", "-0.025", "'@spilt", owner.username), ("'=Dextrose", "S2", "-2", "'@spilt", owner.username)]
    assert [Decimal(row["unit cost"]) for row in moved[:2]] == [there.unit_cost, gone.unit_cost]
    assert [datetime.fromisoformat(row["at"]) for row in moved] == [
        row.posting.at for row in StockMovement.objects.order_by("pk").select_related("posting")]
    assert [(row["lot"], row["amount"], row["price"], row["on hand"], row["state"]) for row in lots] == [
        ("S1", "500.125 g", "12.5", "500.1", "usable"), ("S2", "2 g", str(plain(gone.cost_with_carriage)), "0", "used up"),
        ("S3", "1 g", lots[2]["price"], "1", "held")]


@given(st.integers(-2**63 + 1, 2**63 - 1), st.integers(0, 6))
def test_a_kept_number_is_written_as_its_decimal(kept, decimals):
    assert plain_of(kept, decimals) == plain(Decimal(kept).scaleb(-decimals))
    assert Decimal(plain_of(kept, decimals)) * 10**decimals == kept


@pytest.mark.parametrize(("cell", "safe"), [
    ("=1+1", "'=1+1"), ("+cmd", "'+cmd"), ("@SUM(A1)", "'@SUM(A1)"), ("-2+3", "'-2+3"), ("\tx", "'\tx"), ("-3.5", "-3.5"),
    ("plain", "plain"), (None, ""), (Decimal("-1"), "-1"),
])
def test_no_cell_runs_in_a_spreadsheet(cell, safe):
    assert guarded(cell) == safe
    assert as_csv(["a"], [[cell]]).startswith("a\r\n")
