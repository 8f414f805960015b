"""What must not be stored in one place: listed, and the deadly pairs stopped."""

from __future__ import annotations

import pytest

from studio.house.clock import today
from studio.stockroom.storage import Stored, stored_together
from tests import builders

pytestmark = pytest.mark.django_db


def test_what_must_stand_apart(at_helper, at_owner, shop):
    found = stored_together([
        Stored(name="Acid", place="Cabinet 1", agents=frozenset({"acid"})), Stored(name="Liver", place="cabinet 1", agents=frozenset({"sulfide"})),
        Stored(name="Lye", place="Cabinet 1", agents=frozenset({"caustic"})), Stored(name="Lye 2", place="Elsewhere", agents=frozenset({"caustic"})),
        Stored(name="Unplaced", place="", agents=frozenset({"acid"})),
    ])
    assert [(item.first, item.second, item.stops) for item in found] == [("Acid", "Liver", True), ("Acid", "Lye", False)]
    assert all(item.pair.source in item.sentence for item in found)
    for row, agents in ((shop.silver, ["silver_salt"]), (shop.ammonia, ["ammonia"])):
        row.storage_place, row.reacts_as = "one shelf", agents
        row.save()
    assert "should not share a place" in at_helper.get("/stockroom/storage/").content.decode()
    assert "should not share a place" in at_helper.get("/stockroom/").content.decode()
    shop.sugar.reacts_as, shop.sugar.storage_place = ["ammonia"], "one shelf"
    shop.sugar.save()
    looked = at_owner.post("/stockroom/receive/check/", {"supplier": "Q", "received_on": today().isoformat(), "share_by": "value",
                                                   "table": "Dextrose,D9,1 kg,9\n", "key": builders.key()})
    assert "Dextrose and Silver nitrate are stored together in one shelf" in looked.content.decode()


def test_the_deadly_are_stopped_when_received_and_when_moved(at_owner, shop, owner):
    bleach = builders.material("Bleach", "mL", reacts_as=["hypochlorite"], storage_place="low shelf")
    shop.ammonia.storage_place = "low shelf"
    shop.ammonia.save()
    sent = {"supplier": "Q", "received_on": today().isoformat(), "share_by": "value", "table": "Bleach,B1,1 L,9\n", "key": builders.key()}
    stopped = at_owner.post("/stockroom/receive/", sent)
    assert stopped.status_code == 422
    assert "chloramines" in stopped.content.decode()
    assert not bleach.lots.exists()
    bleach.storage_place = "elsewhere"
    bleach.save()
    assert at_owner.post("/stockroom/receive/", sent).status_code == 302
    moved = at_owner.post("/stockroom/bleach/edit/", {"name": "Bleach", "kind": "chemical", "stock_unit": "mL", "liquid": "on", "saves": 1,
                                                      "reacts_as": ["hypochlorite"], "storage_place": "Low shelf"})
    assert moved.status_code == 422
    assert "chloramines" in moved.content.decode()
    bleach.refresh_from_db()
    assert bleach.storage_place == "elsewhere"


def test_the_truth_is_entered_where_the_thing_stands_and_the_place_is_said(at_owner, shop):
    """Only moving something is refused: that a jar beside the ammonia is bleach is saved, and the page says what to do."""
    shop.ammonia.storage_place = "low shelf"
    shop.ammonia.save()
    builders.material("Cleaner", "mL", storage_place="low shelf")
    answer = at_owner.post("/stockroom/cleaner/edit/", {"name": "Cleaner", "kind": "chemical", "stock_unit": "mL", "liquid": "on", "saves": 1,
                                                        "cas_number": "7681-52-9", "storage_place": "low shelf"}, follow=True)
    assert answer.status_code == 200
    assert "Ammonia 28 % and Cleaner are stored together in low shelf" in answer.content.decode()
