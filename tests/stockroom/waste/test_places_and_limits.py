"""Waste containers stand in places too; what and how much they may take is changed, but not against what they hold."""

from __future__ import annotations

from decimal import Decimal

import pytest

from studio.house.clock import today
from studio.stockroom.materials import DeadlyTogether, save_material
from studio.stockroom.models import Material, StoragePlace, WasteContainer
from studio.stockroom.waste.containers import WasteRefused, put_in, save_container
from studio.whole.known_doubts import known_doubts
from tests import builders

pytestmark = pytest.mark.django_db
BESIDE = "Bleach and Container A-1 must not share the bay"


def container(name="A-1", **more) -> WasteContainer:
    return save_container(WasteContainer(name=name, meant_for="sour rinse", opened_on=today(), **more))


def pour(into, owner, *classes, millilitres=100):
    put_in(key=builders.key(), container=into, by=owner, what="rinse", agents=classes, volume_ml=Decimal(millilitres))


@pytest.fixture
def bleach(shop, owner):
    row = builders.material("Bleach", "mL", cas_number="7681-52-9", storage_place="the bay")
    builders.lot(row, "500", owner, "B1")
    return row


def test_what_is_poured_is_checked_with_what_stands_beside_it(at_owner, bleach, owner):
    """It is told, not refused: a rinse must go somewhere."""
    drum = container(place="the bay")
    assert StoragePlace.objects.filter(name="the bay").exists()
    pour(drum, owner, "acid")
    for page in (f"/stockroom/waste/{drum.pk}/", "/stockroom/storage/", "/stockroom/"):
        assert BESIDE in at_owner.get(page).content.decode()
    assert "Container A-1" in at_owner.get("/stockroom/storage/").content.decode()
    assert any(sentence.startswith(BESIDE) for sentence in known_doubts())
    drum.refresh_from_db()
    drum.handed_on, drum.handed_to = today(), "Ebb Refiners"
    drum.save()
    assert BESIDE not in at_owner.get("/stockroom/storage/").content.decode()


def test_neither_is_moved_to_the_other(at_owner, bleach, owner):
    drum = container(place="elsewhere")
    pour(drum, owner, "acid")
    drum.refresh_from_db()
    sent = {"name": "A-1", "meant_for": "sour rinse", "place": "The Bay", "saves": drum.saves}
    refused = at_owner.post(f"/stockroom/waste/{drum.pk}/change/", sent)
    assert refused.status_code == 422
    assert "Bleach and Container A-1 must not share" in refused.content.decode()
    assert WasteContainer.objects.get().place == "elsewhere"
    bleach.storage_place = "elsewhere"
    with pytest.raises(DeadlyTogether, match="Container A-1"):
        save_material(bleach)
    Material.objects.filter(pk=bleach.pk).update(storage_place="elsewhere")
    with pytest.raises(DeadlyTogether, match="Container A-1"):
        builders.lot(Material.objects.get(pk=bleach.pk), "500", owner, "B2")


def test_two_containers_of_silver_made_safe_share_a_bay(owner, shop):
    for name in ("S-1", "S-2"):
        drum = container(name, place="waste bay")
        put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=["silver_chloride", "ammonium"],
               volume_ml=Decimal(100))
    assert known_doubts() == []
    pour(container("A-1", place="waste bay"), owner, "hypochlorite")
    assert any("Container A-1 and Container S-1" in sentence for sentence in known_doubts())


def test_limits_are_changed_but_not_against_what_it_holds(at_owner, at_helper, owner, house):
    drum = container(holds_most_ml=Decimal(1000), takes=["silver_salt", "acid"])
    pour(drum, owner, "acid", millilitres=400)
    address = f"/stockroom/waste/{drum.pk}/change/"
    drum.refresh_from_db()
    sent = {"name": "A-1", "meant_for": "sour rinse", "place": "", "takes": ["silver_salt", "acid"], "saves": drum.saves}
    assert at_helper.post(address, sent).status_code == 403
    page = at_owner.get(f"/stockroom/waste/{drum.pk}/").content.decode()
    assert "Change the container" in page
    for change, sentence in (({"holds_most": "300 mL"}, "A-1 holds 400 mL already: no less than that is its limit."),
                             ({"takes": ["silver_salt"]}, "A-1 holds acid already: it takes that until it is handed over.")):
        refused = at_owner.post(address, sent | change)
        assert refused.status_code == 422
        assert sentence in refused.content.decode()
    assert at_owner.post(address, sent | {"holds_most": "500 mL", "takes": ["acid", "chloride"]}).status_code == 302
    drum.refresh_from_db()
    assert (drum.holds_most_ml, sorted(drum.takes)) == (500, ["acid", "chloride"])
    with pytest.raises(WasteRefused, match="100 mL more go"):
        pour(drum, owner, "acid", millilitres=101)
    stale = at_owner.post(address, sent)
    assert stale.status_code == 422
    assert "You changed this in another window" in stale.content.decode()


def test_a_name_is_not_taken_twice_and_a_handed_over_one_stays(at_owner, owner, house):
    first, second = container("A-1"), container("A-2")
    sent = {"name": "A-1", "meant_for": "rinse", "place": "", "saves": 1}
    assert "A container had that name before" in at_owner.post(f"/stockroom/waste/{second.pk}/change/", sent).content.decode()
    WasteContainer.objects.filter(pk=first.pk).update(handed_on=today(), handed_to="Ebb")
    first.refresh_from_db()
    with pytest.raises(WasteRefused, match="was handed over"):
        save_container(first)
