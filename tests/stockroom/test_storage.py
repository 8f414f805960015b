"""What must not be stored in one place: listed, and the deadly pairs stopped."""

from __future__ import annotations

from fractions import Fraction

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from studio.stockroom import storage
from studio.stockroom.deliveries.price_list import apply_price_list, read_price_list
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.materials import DeadlyTogether, save_material
from studio.stockroom.models import Material, StoragePlace
from studio.stockroom.places import make_place
from studio.stockroom.storage import MAY_STAND_IN, PLACE_TYPES, Stored, stored_together, types_for, wrong_place
from tests import builders

pytestmark = pytest.mark.django_db


def test_what_must_stand_apart(at_helper, at_owner, shop):
    found = stored_together([
        Stored(name="Acid", place="Cabinet 1", agents=frozenset({"acid"})), Stored(name="Liver", place="cabinet 1", agents=frozenset({"sulfide"})),
        Stored(name="Lye", place="Cabinet 1", agents=frozenset({"caustic"})), Stored(name="Lye 2", place="Elsewhere", agents=frozenset({"caustic"})),
        Stored(name="Unplaced", place="", agents=frozenset({"acid"})),
    ])
    assert [(item.first, item.second, item.stops) for item in found] == [("Acid", "Liver", True), ("Acid", "Lye", True)]
    assert all(item.pair.reason in item.sentence and item.pair.source not in item.sentence for item in found)
    for row, agents in ((shop.silver, ["silver_salt"]), (shop.ammonia, ["ammonia"])):
        row.storage_place, row.reacts_as = "one shelf", agents
        row.save()
    assert "Stop: Ammonia 28 % and Silver nitrate must not share" in at_helper.get("/stockroom/storage/").content.decode()
    assert "must not share one shelf" in at_helper.get("/stockroom/").content.decode()
    shop.sugar.reacts_as, shop.sugar.storage_place = ["ammonia"], "one shelf"
    shop.sugar.save()
    looked = at_owner.post("/stockroom/receive/check/", {"supplier": "Q", "received_on": today().isoformat(), "share_by": "value",
                                                   "table": "Dextrose,D9,1 kg,9\n", "key": builders.key()})
    assert "Dextrose and Silver nitrate must not share one shelf" in looked.content.decode()


def test_the_deadly_are_stopped_when_received_and_when_moved(at_owner, shop, owner):
    bleach = builders.material("Bleach", "mL", reacts_as=["hypochlorite"], storage_place="low shelf")
    shop.ammonia.storage_place = "low shelf"
    shop.ammonia.save()
    sent = {"supplier": "Q", "received_on": today().isoformat(), "share_by": "value", "table": "Bleach,B1,1 L,90\n", "key": builders.key()}
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
    assert "Ammonia 28 % and Cleaner must not share low shelf" in answer.content.decode()


def test_what_each_class_may_stand_in_is_known_and_of_known_types():
    assert MAY_STAND_IN.keys() <= REACTS_AS.keys()
    assert all(types <= PLACE_TYPES.keys() for types in MAY_STAND_IN.values())
    assert types_for({"oxidising_acid", "acid", "oxidiser"}) == {"acids"}  # nitric acid is no friend of the oxidisers' cabinet
    assert types_for({"organic_acid", "flammable"}) == {"flammables"}  # glacial acetic acid
    assert types_for({"hypochlorite"}) == {"caustics", "oxidisers"}
    assert types_for({"caustic", "sulfide"}) == {"caustics"}
    assert types_for({"fluoride", "acid"}) == {"toxics"}
    assert types_for({"water"}) == types_for([]) == PLACE_TYPES.keys()
    assert types_for({"oxidiser", "solvent"}) == set()


def test_silver_nitrate_wants_oxidisers_and_the_dark():
    classes = frozenset({"silver_salt", "oxidiser", "nitrate"})
    said = [wrong.sentence for wrong in wrong_place(Stored(name="Silver nitrate", place="the shelf", agents=classes))]
    assert said == ["Silver nitrate (nitrate, oxidiser, silver salt) stands in the shelf, a general place: it belongs in a place for oxidisers.",
                    "Silver nitrate wants the dark, and the shelf is not said to be dark."]
    assert len(wrong_place(Stored(name="Silver nitrate", place="C1", agents=classes, type="oxidisers"))) == 1
    assert wrong_place(Stored(name="Silver nitrate", place="C1", agents=classes, type="oxidisers", is_dark=True)) == []
    assert wrong_place(Stored(name="Silver nitrate", place="", agents=classes)) == []


def test_a_cabinet_built_for_both_keeps_them_apart_by_shelves_and_says_so():
    def both(kind):
        return stored_together([Stored(name="Nitric acid", place="C1", agents=frozenset({"oxidising_acid"}), type=kind),
                                Stored(name="Vinegar", place="c1", agents=frozenset({"organic_acid"}), type=kind)])

    assert [two.stops for two in both("general")] == [True]
    assert [two.stops for two in both("acids")] == [False]
    assert "Keep each on a shelf or tray of its own there." in both("acids")[0].sentence
    bleach = [Stored(name=name, place="C2", agents=frozenset({cls}), type="caustics") for name, cls in (("Bleach", "hypochlorite"), ("Ammonia", "ammonia"))]
    assert any(two.stops for two in stored_together(bleach))  # no shelf keeps a gas apart


def test_two_closed_packages_meet_and_a_third_beside_them_does_not():
    """A leaking lye frees ammonia from an ammonium salt: the two stop. Silver nitrate beside them is another cabinet's
    matter only where it meets one of them by itself."""
    things = [Stored(name="Lye", place="C1", agents=frozenset({"caustic"})), Stored(name="Sal ammoniac", place="C1", agents=frozenset({"ammonium", "chloride"})),
              Stored(name="Silver oxide paste", place="C1", agents=frozenset({"silver_chloride"}))]
    found = {(two.first, two.second, two.pair.name) for two in stored_together(things) if two.stops}
    assert found == {("Lye", "Sal ammoniac", "ammonium salt and caustic")}
    # one package that is both: the ammonia in it is free, and reaches silver chloride beside it
    things[0] = Stored(name="Lye", place="C1", agents=frozenset({"caustic", "ammonium"}))
    assert ("Lye", "Silver oxide paste", "silver chloride and ammonia") in {
        (two.first, two.second, two.pair.name) for two in stored_together(things) if two.stops}


def test_a_typed_name_becomes_a_general_place_once(shop):
    shop.sugar.storage_place = "Dry Shelf"
    save_material(shop.sugar)
    shop.water.storage_place = "dry shelf"
    save_material(shop.water)
    assert [(row.name, row.type) for row in StoragePlace.objects.all()] == [("Dry Shelf", "general")]
    with pytest.raises(IntegrityError), transaction.atomic():
        StoragePlace.objects.create(name="DRY SHELF")
    with pytest.raises(IntegrityError), transaction.atomic():
        StoragePlace.objects.create(name="Elsewhere", type="cellar")


def test_the_owner_says_what_a_place_is_for_and_pages_follow(at_owner, at_helper, shop):
    shop.silver.storage_place = "Cabinet 3"
    shop.silver.cas_number = "7761-88-8"
    save_material(shop.silver)
    wrong = "Silver nitrate (nitrate, oxidiser, silver salt) stands in Cabinet 3, a general place"
    for address in ("/stockroom/storage/", "/stockroom/silver-nitrate/"):
        assert wrong in at_helper.get(address).content.decode()
    received = at_owner.post("/stockroom/receive/", {"supplier": "Q", "received_on": today().isoformat(), "share_by": "value",
                                                     "table": "Silver nitrate,S7,10 g,9\n", "key": builders.key()}, follow=True)
    assert wrong in received.content.decode()
    address = "/stockroom/storage/place/?name=cabinet+3"
    assert at_helper.get(address).status_code == 403
    assert 'name="saves" value="1"' in at_owner.get(address).content.decode()
    assert at_owner.get("/stockroom/storage/place/?name=nowhere").status_code == 404
    said = at_owner.post(address, {"type": "oxidisers", "is_dark": "on", "saves": 1}, follow=True).content.decode()
    assert "Cabinet 3 is for oxidisers, dark." in said
    assert "For oxidisers, dark." in said
    assert wrong not in said
    assert "for oxidisers, dark" in at_helper.get("/stockroom/silver-nitrate/").content.decode()
    stale = at_owner.post(address, {"type": "general", "saves": 1})
    assert stale.status_code == 422
    assert "You changed this in another window" in stale.content.decode()


def test_a_place_that_nobody_entered_can_be_entered_from_its_text(at_owner, shop):
    Material.objects.filter(pk=shop.sugar.pk).update(storage_place="Tin box")
    assert at_owner.post("/stockroom/storage/place/?name=Tin+box", {"type": "toxics"}).status_code == 302
    assert StoragePlace.objects.get().type == "toxics"


def test_every_row_that_stops_stops_a_move_by_page_and_by_table(at_owner, shop, owner):
    """Acid beside caustic is no longer a mere caution, and a pasted table is no way round it."""
    acid = builders.material("Spirit of salt", "mL", cas_number="7647-01-0", storage_place="Cupboard")
    builders.lot(acid, "100", owner)
    lye = builders.material("Lye", cas_number="1310-73-2")
    lye.storage_place = "cupboard"
    with pytest.raises(DeadlyTogether, match="Acid and caustic meet with heat"):
        save_material(lye)
    lines, wrong = read_price_list("material\tstorage place\nLye\tCupboard")
    assert wrong == []
    with pytest.raises(DeadlyTogether):
        apply_price_list(lines)
    pasted = at_owner.post("/stockroom/prices/", {"table": "material\tstorage place\nLye\tCupboard"})
    assert pasted.status_code == 422
    assert "Acid and caustic meet with heat" in pasted.content.decode()
    assert Material.objects.get(pk=lye.pk).storage_place == ""


def test_receiving_one_lot_where_it_must_not_stand_is_refused(at_owner, shop, owner):
    acid = builders.material("Spirit of salt", "mL", cas_number="7647-01-0", storage_place="Cupboard")
    builders.lot(acid, "100", owner)
    builders.material("Lye", cas_number="1310-73-2", storage_place="Cupboard")
    sent = {"lot_number": "N1", "amount": "100 g", "cost_with_carriage": "3", "received_on": today().isoformat(), "key": builders.key()}
    answer = at_owner.post("/stockroom/lye/receive/", sent)
    assert answer.status_code == 422
    assert "another storage place first" in answer.content.decode()
    make_place("Low cupboard", "caustics")
    Material.objects.filter(name="Lye").update(storage_place="Low cupboard")
    assert at_owner.post("/stockroom/lye/receive/", sent | {"key": builders.key()}).status_code == 302


def test_no_door_puts_stock_where_it_must_not_stand(shop, owner):
    """A program that receives, and mixing ahead, pass the same check as the page; nothing is half saved."""
    acid = builders.material("Spirit of salt", "mL", cas_number="7647-01-0", storage_place="Cupboard")
    builders.lot(acid, "1000", owner)
    lye = builders.material("Lye", cas_number="1310-73-2", storage_place="cupboard")
    with pytest.raises(DeadlyTogether, match="Acid and caustic meet with heat"):
        builders.lot(lye, "100", owner)
    assert not lye.lots.exists()
    Material.objects.filter(pk=acid.pk).update(storage_place="")
    builders.lot(Material.objects.get(pk=lye.pk), "100", owner)
    sour = builders.solution("Sour wash", {"material": acid, "amount": 50}, {"material": shop.water})
    first = mix_ahead(key=builders.key(), by=owner, version=sour, volume_ml=Fraction(100), day=today())
    Material.objects.filter(pk=first.material_id).update(storage_place="elsewhere")
    mix_ahead(key=builders.key(), by=owner, version=sour, volume_ml=Fraction(100), day=today())
    Material.objects.filter(pk=first.material_id).update(storage_place="Cupboard")
    with pytest.raises(DeadlyTogether, match="Lye and Sour wash must not share"):
        mix_ahead(key=builders.key(), by=owner, version=sour, volume_ml=Fraction(100), day=today())
    assert first.material.lots.count() == 2


def test_a_book_lists_and_the_audit_tells_what_stands_wrong(shop, owner, capsys, tmp_path):
    """The truth of where things stand is saved and read back, and told."""
    acid = builders.material("Spirit of salt", "mL", cas_number="7647-01-0", storage_place="Cupboard")
    lye = builders.material("Lye", cas_number="1310-73-2")
    for row in (acid, lye):
        builders.lot(row, "100", owner)
    Material.objects.filter(pk=lye.pk).update(storage_place="cupboard")
    call_command("audit")
    said = capsys.readouterr().out
    assert "Lye and Spirit of salt must not share cupboard" in said
    assert "Lye (caustic, solid caustic) stands in cupboard, a general place" in said


def test_the_storage_pages_ask_no_more_for_more_rows(at_owner, shop, owner):
    def asked(address):
        with CaptureQueriesContext(connection) as queries:
            assert at_owner.get(address).status_code == 200
        return len(queries)

    few = [asked(address) for address in ("/stockroom/storage/", "/stockroom/silver-nitrate/")]
    for number in range(12):
        builders.lot(builders.material(f"Salt {number}", reacts_as=["chloride"], storage_place=f"Place {number}"), "5", owner)
        make_place(f"Place {number}")
    assert [asked(address) for address in ("/stockroom/storage/", "/stockroom/silver-nitrate/")] == few


def test_what_has_no_place_was_checked_by_nobody(at_owner, shop):
    """Given stock without a place, then the page never says that all is well; once all have one, it does."""
    well, unchecked = "each stands in a place that suits it", "nobody checked what stands beside"
    Material.objects.update(storage_place="", reacts_as=[], none_apply=True, cas_number="", formula="")
    page = " ".join(at_owner.get("/stockroom/storage/").content.decode().split())
    assert unchecked in page
    assert well not in page
    Material.objects.update(storage_place="one shelf")
    page = " ".join(at_owner.get("/stockroom/storage/").content.decode().split())
    assert unchecked not in page
    assert (well in page) != ("to put right" in page)


def test_bottles_that_are_alike_are_looked_at_once_and_each_is_named(monkeypatch):
    asked = []
    meeting = storage.meet
    monkeypatch.setattr(storage, "meet", lambda *of, **more: asked.append(of) or meeting(*of, **more))
    things = [Stored(name=f"{name} {at}", place="C1", agents=frozenset({agent}))
              for at in range(20) for name, agent in (("Bleach", "hypochlorite"), ("Vinegar", "acid"))]
    found = stored_together(things)
    assert {(two.first, two.second) for two in found} == {(f"Bleach {a}", f"Vinegar {b}") for a in range(20) for b in range(20)}
    assert len(asked) <= 3  # 780 pairs of bottles are three pairs of classes
