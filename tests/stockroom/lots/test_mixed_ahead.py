"""Lots mixed ahead here: their cost, their expiry, and what is never mixed ahead."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from recipes.models import Solution
from recipes.solutions.mixing_ahead import CannotBeKept, keep_leftover, mix_ahead
from recipes.solutions.rules import NeverStored
from studio.house.clock import now, today
from studio.stockroom.models import Lot
from studio.whole.audit import audit
from tests import builders
from tests.stockroom.shop import on_hand

pytestmark = pytest.mark.django_db


def test_a_lot_mixed_ahead_carries_its_cost_and_its_expiry(at_helper, shop, owner):
    """Reducer: 9 g of dextrose and water in a litre. 500 mL take 4.5 g at 9 / 1000 a g and 500 mL at 50 / 100,000 a mL."""
    key = builders.key()
    for _ in range(2):
        lot = mix_ahead(key=key, by=owner, version=shop.reducer, volume_ml=Fraction(500), day=today())
    assert (lot.quantity_received, lot.cost_with_carriage) == (Decimal(500), Decimal("0.2905"))
    assert lot.expires_on == (now() + timedelta(days=1)).date()
    assert on_hand(shop.lots[2]) == Decimal("995.5")
    assert lot.made.solution_version == shop.reducer
    assert audit() == []
    answer = at_helper.post("/finishes/solutions/reducer/1/mix-ahead/", {"volume": "1 L", "key": builders.key()}, follow=True)
    assert "is on the shelf" in answer.content.decode()
    too_much = at_helper.post("/finishes/solutions/reducer/1/mix-ahead/", {"volume": "900 L", "key": builders.key()}, follow=True)
    assert "Nothing was mixed" in too_much.content.decode()


def test_ammoniacal_silver_is_never_mixed_ahead_whoever_asks(at_owner, shop, owner):
    for version in (shop.silver_part, builders.solution("Hidden", {"nested": shop.silver_part, "amount": 100}, {"material": shop.water},
                                                      keeps_minutes=None)):
        with pytest.raises(NeverStored):
            mix_ahead(key=builders.key(), by=owner, version=version, volume_ml=Fraction(100), day=today())
        with pytest.raises(NeverStored):
            keep_leftover(key=builders.key(), by=owner, version=version, volume_ml=Fraction(1), mixed_at=now(), why="left")
    once = builders.solution("Once", {"material": shop.water}, keeps_minutes=None)
    with pytest.raises(CannotBeKept):
        mix_ahead(key=builders.key(), by=owner, version=once, volume_ml=Fraction(100), day=today())
    assert "Mix ahead" not in at_owner.get("/finishes/solutions/silver-part/1/").content.decode()
    assert not Lot.objects.filter(made_here=True).exists()
    assert Solution.objects.get(name="Silver part").material is None


def test_a_nested_solution_is_drawn_from_its_lot_of_just_that_version(shop, owner):
    stock = builders.solution("Tin stock", {"material": shop.sugar, "amount": 60, "unit": "g"}, {"material": shop.water})
    wash = builders.solution("Wash", {"nested": stock, "amount": 20}, {"material": shop.water})
    made = mix_ahead(key=builders.key(), by=owner, version=stock, volume_ml=Fraction(100), day=today())
    mix_ahead(key=builders.key(), by=owner, version=wash, volume_ml=Fraction(1000), day=today())
    assert on_hand(made) == 80
    sugar = on_hand(shop.lots[2])
    mix_ahead(key=builders.key(), by=owner, version=wash, volume_ml=Fraction(5000), day=today())  # 100 mL: the lot holds less
    assert on_hand(made) == 80
    assert on_hand(shop.lots[2]) == sugar - 6
    other = builders.SolutionVersion.objects.create(solution=stock.solution, number=2, keeps_minutes=Decimal(1440))
    builders.Ingredient.objects.create(solution_version=other, number=1, material=shop.water, make_up=True, unit="mL")
    outer = builders.solution("Outer wash", {"nested": other, "amount": 20}, {"material": shop.water})
    mix_ahead(key=builders.key(), by=owner, version=outer, volume_ml=Fraction(1000), day=today())
    assert on_hand(made) == 80  # of another version: not taken
    assert audit() == []
