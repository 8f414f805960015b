"""The stockroom's pages ask the database as often, however much is on the shelf."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.house.clock import today
from studio.stockroom.counts.counting import start_count
from studio.stockroom.lots.keeping import hold_lot
from studio.stockroom.models import WasteContainer
from studio.stockroom.waste.containers import put_in
from tests import builders

pytestmark = pytest.mark.django_db


def test_queries_do_not_grow_with_rows(at_owner, shop, owner):
    def more() -> None:
        for name in ("X", "Y", "Z"):
            row = builders.material(f"{name}{builders.key()}"[:30], reacts_as=["caustic"], storage_place="here")
            lot = builders.lot(row, "50", owner, expires_on_given=today() + timedelta(days=3))
            hold_lot(key=builders.key(), lot=lot, by=owner, why="looked at")
            drum = WasteContainer.objects.create(name=str(builders.key())[:30], meant_for="rinse", opened_on=today())
            put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=["water"], volume_ml=Decimal(1))
            put_in(key=builders.key(), container=first_drum, by=owner, what="rinse", agents=["water"], volume_ml=Decimal(1))

    def queries(address: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            answer = at_owner.get(address)
            assert answer.status_code == 200
            answer.getvalue()  # a table asks while it is sent
        return len(seen)

    first_drum = WasteContainer.objects.create(name="first", meant_for="rinse", opened_on=today())
    more()
    sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=False)
    addresses = ("/stockroom/", "/stockroom/storage/", "/stockroom/waste/", f"/stockroom/waste/{first_drum.pk}/", "/stockroom/labels/",
                 "/stockroom/counts/", f"/stockroom/counts/{sheet.pk}/", "/stockroom/buying/", "/stockroom/silver-account/",
                 "/stockroom/receive/", "/stockroom/tables/lots.csv", "/stockroom/tables/movements.csv", "/stockroom/tables/materials.csv")
    for address in addresses:
        at_owner.get(address)
    few = {address: queries(address) for address in addresses}
    more()
    more()
    start_count(key=builders.key(), by=owner, place="", hide_expected=False)
    assert {address: queries(address) for address in addresses} == few


def test_the_shelf_reads_materials_and_lots_once(at_owner, owner):
    for name in ("Dextrose", "Invert sugar"):
        builders.lot(builders.material(name, reacts_as=["reducer"]), "5", owner)
    with CaptureQueriesContext(connection) as seen:
        at_owner.get("/stockroom/")
    read = [query["sql"].partition(" FROM ")[2].split()[0] for query in seen if query["sql"].startswith("SELECT")]
    assert read.count('"inventory_material"') == read.count('"inventory_lot"') == 1
