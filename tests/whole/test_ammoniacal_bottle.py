"""A bottle that turns out to be ammoniacal silver: audited, saved in a book and read back, held as it was."""

from __future__ import annotations

import json

import pytest
from django.db import transaction

from recipes.models import SilverClock
from studio.stockroom.materials import save_material, touched_by
from studio.stockroom.models import Lot
from studio.whole.audit import audit
from studio.whole.book.load import load_book, read_book
from studio.whole.book.save import book, canonical, save_book
from tests import builders

pytestmark = pytest.mark.django_db


def test_its_studio_is_read_back_with_its_lot_held_and_its_clock_running(tmp_path):
    with transaction.atomic():
        builders.house()
        builders.rates()
        owner = builders.person("maud", "owner")
        ammonia = builders.material("Ammonia water", "mL", reacts_as=["ammonia"])
        lot = builders.lot(ammonia, "500", owner)
        ammonia.silver_g_per_unit = "0.01"  # somebody poured leftovers back: the silver alone tells it
        save_material(ammonia, by=owner)
        assert touched_by(ammonia)[0] == "Ammonia water is ammoniacal silver by itself: none of it is received or kept."
        assert touched_by(ammonia)[1].startswith(f"{lot} is held, and its clock has run since")
        assert audit() == []
        save_book(tmp_path / "studio.json")
        transaction.set_rollback(True)
    load_book(read_book(tmp_path / "studio.json"), tmp_path / "studio.files")
    assert audit() == []
    lot = Lot.objects.get()
    assert lot.is_held
    assert [clock.made_safe for clock in SilverClock.objects.filter(lot=lot)] == [None]
    assert canonical(book()) == canonical(json.loads((tmp_path / "studio.json").read_text(encoding="utf-8")))
