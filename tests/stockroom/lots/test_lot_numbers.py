"""One lot number names one lot of the studio, whatever is in it; what is made here never repeats one."""

from __future__ import annotations

from fractions import Fraction
from importlib import import_module

import pytest
from django.db import IntegrityError, transaction

from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from studio.stockroom.ledger import LedgerError
from studio.stockroom.models import Lot
from tests import builders

pytestmark = pytest.mark.django_db


def ahead(shop, owner, version):
    return mix_ahead(key=builders.key(), by=owner, version=version, volume_ml=Fraction(100), day=today()).lot_number


def test_made_here_lots_of_two_solutions_have_numbers_of_their_own(shop, owner):
    numbers = [ahead(shop, owner, version) for version in (shop.reducer, shop.sealing, shop.reducer)]
    assert numbers == [f"M{today():%y%m%d}-{at}" for at in (1, 2, 3)]


def test_a_number_typed_by_hand_among_them_is_passed_over(shop, owner):
    builders.lot(shop.sugar, "10", owner, f"m{today():%y%m%d}-7")
    assert ahead(shop, owner, shop.reducer) == f"M{today():%y%m%d}-8"


def test_a_delivery_of_a_number_that_another_lot_has_says_whose_it_is(at_owner, shop, owner):
    sent = {"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value", "key": builders.key(),
            "table": "Dextrose,s1,500 g,3\n"}
    page = at_owner.post("/stockroom/receive/", sent).content.decode()
    assert "Row 1, lot: Silver nitrate has a lot S1 already" in page
    assert "write this one as s1-2" in page
    assert Lot.objects.filter(material=shop.sugar).count() == 1
    with pytest.raises(LedgerError, match="one number names one lot"):
        builders.lot(shop.sugar, "10", owner, "S1")


def test_the_database_keeps_it_too(shop):
    with pytest.raises(IntegrityError), transaction.atomic():
        Lot.objects.create(material=shop.sugar, lot_number="s1", received_on=today(), quantity_received=1)


def test_lots_that_shared_a_number_are_told_apart_by_the_upgrade(shop, owner):
    """Three jars called 7, one with 7-2 on its label already: the first keeps its number."""
    migration = import_module("studio.stockroom.migrations.0014_a_lot_number_names_one_lot")
    lots = [builders.lot(material, "10", owner, f"J{at}") for at, material in enumerate(
        (shop.sugar, shop.silver, shop.water, shop.ammonia))]
    numbers = dict(zip([lot.pk for lot in lots], ("7", "7", "7-2", "7"), strict=True))
    renamed: dict[int, str] = {}

    class Rows:
        """The table as it was before the rule."""

        def order_by(self, *_):
            return self

        def values_list(self, *_):
            return list(numbers.items())

        def filter(self, *, pk):
            return type("One", (), {"update": lambda _, lot_number: renamed.update({pk: lot_number})})()

    class Before:
        def get_model(self, *_):
            return type("Old", (), {"objects": Rows()})

    migration.rename_the_later_ones(Before(), None)
    assert renamed == {lots[1].pk: "7-3", lots[3].pk: "7-4"}
