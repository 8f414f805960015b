"""The shelf at a glance: bars that add up, states that never flatter, rows found, sorted and paged."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.house.clock import today
from studio.stockroom.bars import BAR, LIFE, Life, first_to_turn, level_bar
from studio.stockroom.lots.keeping import hold_lot
from studio.stockroom.models import Material, Reservation, ReservedAmount
from studio.stockroom.shelf import lots_there, standings_of
from studio.stockroom.shelf_rows import lots_wanting, shelf_rows
from tests import builders

amounts = st.decimals("0", "100000", places=2)
DAY = date(2026, 11, 26)


@given(usable=amounts, promised=amounts, received=amounts, reorder=st.none() | amounts)
def test_a_bar_shows_what_is_usable_and_no_more(usable, promised, received, reorder):
    bar = level_bar(usable=usable, promised=promised, received=received, reorder=reorder)
    assert 0 <= bar.free <= BAR
    assert 0 <= bar.promised <= BAR
    assert bar.usable <= BAR + 0.1
    assert bool(usable == 0) <= bool(bar.usable == 0)
    if promised >= usable:
        assert bar.free == 0
    if reorder and usable >= reorder:
        assert bar.reorder is not None
        assert bar.reorder <= bar.usable + 0.1
    for stroke in bar.hatches:
        at, run = stroke[1:].split(" 12l")[0], stroke.split("l")[1].split(" ")[0]
        assert float(at) + float(run) <= bar.usable + 0.2


def test_a_bar_by_hand():
    """674 g usable of 1,000 g received, 108 g promised, reorder at 200 g: 94.4 of 140, of it 15.1 hatched."""
    bar = level_bar(usable=Decimal(674), promised=Decimal(108), received=Decimal(1000), reorder=Decimal(200))
    assert (bar.free, bar.promised, bar.reorder) == (79.3, 15.1, 28.0)
    assert len(bar.hatches) == 4


@pytest.mark.parametrize(("received", "expires", "over", "left", "tone"), [
    ("2026-01-01", "2027-01-01", False, 10.1, "fresh"),
    ("2026-11-01", "2026-12-01", False, 20.0, "turning"),
    ("2026-11-26", "2026-11-26", False, LIFE, "turning"),
    ("2026-01-01", "2026-11-25", True, LIFE, "expired"),
])
def test_how_long_the_first_lot_keeps(received, expires, over, left, tone):
    life = Life(lot_number="L1", received_on=date.fromisoformat(received), expires_on=date.fromisoformat(expires),
                over=over)
    later = Life(lot_number="L2", received_on=DAY, expires_on=DAY + timedelta(days=900), over=False)
    first = first_to_turn([later, life], DAY)
    assert first is not None
    assert (first.lot_number, first.left, first.tone) == ("L1", left, tone)
    assert first_to_turn([], DAY) is None


def row_of(material):
    return next(row for row in shelf_rows(today(), with_worth=True) if row.material == material)


@pytest.mark.django_db
class TestHowAMaterialStands:
    def test_usable_nought_is_never_enough(self, owner, house):
        empty = builders.material("Nothing of it", none_apply=True)
        held = builders.material("Held", none_apply=True)
        hold_lot(key=builders.key(), lot=builders.lot(held, "50", owner), by=owner, why="smells")
        assert row_of(empty).states == [("wait", "none on the shelf")]
        assert row_of(held).states == [("danger", "held")]

    def test_what_is_past_its_use_is_to_be_discarded_and_is_not_usable(self, owner, house, at_owner):
        sealer = builders.material("Sealer", none_apply=True)
        old = builders.lot(sealer, "900", owner, received_on=today() - timedelta(days=90),
                           expires_on_given=today() - timedelta(days=1))
        row = row_of(sealer)
        assert row.states == [("danger", "discard 900 g")]
        assert row.first.has_expired
        assert [wanted.when for wanted in lots_wanting(today())] == ["expired"]
        table = at_owner.get("/stockroom/tables/lots.csv").getvalue().decode()
        assert [line.rsplit(",", 1)[1] for line in table.splitlines() if old.lot_number in line] == ["expired"]

    def test_promised_beyond_what_is_there_is_short_by_so_much(self, owner, house):
        tin = builders.material("Tin", none_apply=True)
        builders.lot(tin, "100", owner)
        promise = Reservation.objects.create(made_at=builders.TEN, what_for="job 7")
        ReservedAmount.objects.create(reservation=promise, material=tin, quantity=Decimal(130))
        row = row_of(tin)
        assert row.states == [("danger", "short by 30 g")]
        assert row.level_in_words == "−30 g free; 130 g for job 7"

    def test_the_last_day_still_counts_and_says_so(self, owner, house):
        water = builders.material("Water", none_apply=True)
        lot = builders.lot(water, "100", owner, expires_on_given=today())
        assert row_of(water).states == [("attention", f"use {lot.lot_number} first")]
        assert [wanted.when for wanted in lots_wanting(today())] == ["today"]


@pytest.mark.django_db
class TestTheList:
    def test_fifty_rows_a_page_and_the_address_keeps_what_was_asked(self, at_owner, house):
        for n in range(60):
            builders.material(f"Jar {n:02}", none_apply=True)
        builders.material("Drum", none_apply=True)
        first = unescape(at_owner.get("/stockroom/?q=jar&sort=-name").content.decode())
        assert "Jar 59" in first
        assert "Jar 10" in first
        assert "Jar 09" not in first
        assert "Drum" not in first
        assert "1 to 50 of 60 materials" in first
        assert "?q=jar&sort=-name&page=2" in first
        second = at_owner.get("/stockroom/?q=jar&sort=-name&page=2").content.decode()
        assert "Jar 09" in second
        assert "Jar 10" not in second
        assert 'aria-sort="descending"' in second

    def test_found_by_lot_number_and_place(self, at_owner, owner, house):
        acid = builders.material("Acid", none_apply=True, storage_place="Acid cabinet")
        lot = builders.lot(acid, "10", owner)
        builders.material("Sugar", none_apply=True)
        for asked in (lot.lot_number.lower(), "acid cab"):
            page = at_owner.get("/stockroom/", {"q": asked}).content.decode()
            assert "Acid" in page
            assert "Sugar" not in page


@pytest.mark.django_db
def test_a_material_that_came_since_the_materials_were_read_is_left_for_the_next_look(owner):
    """Given materials read for a page, when a new one is delivered meanwhile, then the page shows what it read."""
    known = builders.lot(builders.material("Glucose"), "5", owner)
    read = list(Material.objects.all())
    builders.lot(builders.material("Tin chloride"), "5", owner)
    assert lots_there(read) == [known]
    assert [standing.on_hand for standing in standings_of(read, lots_there(read), today())] == [5]
