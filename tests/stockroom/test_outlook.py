"""How long stock lasts, what expires soon, and levels over time."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from studio.house.clock import now, today
from studio.house.templatetags.figures import amount
from studio.stockroom.models import Lot
from studio.stockroom.outlook import days_of_cover, level_chart, used_a_day
from tests.stockroom.shop import use

pytestmark = pytest.mark.django_db


def test_the_outlook_of_the_shelf(at_owner, shop, owner):
    use(shop.silver_lot, "90", owner)
    assert used_a_day(now())[shop.silver.pk] == 1
    assert days_of_cover(Decimal(410), Fraction(1)) == 410
    assert days_of_cover(Decimal(410), None) is None
    Lot.objects.filter(pk=shop.silver_lot.pk).update(expires_on_given=today() + timedelta(days=5))
    shop.booked()
    shown = at_owner.get("/stockroom/").content.decode()
    assert "promised to job 1" in shown
    assert "worth" in shown
    assert "<svg" in at_owner.get(f"/stockroom/{shop.silver.code}/").content.decode()


def test_a_level_over_time_steps_as_it_moved():
    day = today()
    chart = level_chart([(day - timedelta(days=10), Decimal(100)), (day - timedelta(days=5), Decimal(-40))], day, Decimal(20))
    assert (chart.highest, chart.first, chart.last) == (100, day - timedelta(days=10), day)
    assert chart.line[1] == (12, 2)  # up to the top on the first day
    assert chart.line[-1][1] == 25 - 23 * Fraction(60, 100)
    assert level_chart([], day, None) is None


def test_the_line_is_written_as_amounts_are():
    moved = [(date(2026, 1, 1) + timedelta(days=day), Decimal(amount)) for day, amount in enumerate((3, "0.7", "-1.237", 11))]
    chart = level_chart(moved, date(2026, 3, 1), None)
    assert chart.points == " ".join(f"{amount(x, 3)},{amount(y, 3)}" for x, y in chart.line)
