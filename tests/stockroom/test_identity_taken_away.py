"""A material that is in use loses its identity: what it told stays until an owner says why it does not hold."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from recipes.reading import shelf_for
from recipes.solutions.rules import is_never_stored
from studio.house.clock import today
from studio.stockroom.materials import WhyTakenAway, save_material, take_published
from studio.stockroom.models import ClassesTakenAway, Material
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def ammonia(house):
    return builders.material("Ammonia 25 %", "mL", cas_number="1336-21-6", assay_share=Decimal("0.25"),
                             density_g_per_ml=Decimal("0.91"))


@pytest.fixture
def bath(ammonia):
    """The bath of a small studio: silver nitrate, ammonia, water."""
    silver = builders.material("Silver nitrate", cas_number="7761-88-8")
    water = builders.material("Water", "mL", kind="water")
    return builders.solution(
        "Silver bath", {"material": silver, "amount": 12, "unit": "g"}, {"material": ammonia, "amount": 14}, {"material": water},
        keeps_minutes=None)


def sent(row: Material, **more: object) -> dict[str, object]:
    row.refresh_from_db()
    return {"name": "Rinse helper", "kind": "chemical", "stock_unit": "mL", "liquid": "on", "density_g_per_ml": "0.91",
            "saves": row.saves, **more}


def is_ammoniacal(bath) -> bool:
    return is_never_stored(bath.key, shelf_for([bath.pk], today()))


def test_one_save_makes_no_ammoniacal_bath_ordinary(at_owner, ammonia, bath):
    """Renamed, its number emptied, none apply ticked and even a reason given: it still reacts as ammonia, and says so."""
    page = at_owner.post("/stockroom/ammonia-25/edit/", sent(ammonia, none_apply="on", why_taken_away="it is water"),
                         follow=True).content.decode()
    ammonia.refresh_from_db()
    assert (ammonia.name, ammonia.cas_number, ammonia.none_apply) == ("Rinse helper", "", False)
    assert ammonia.reacts_as == ["ammonia"]
    assert "Rinse helper is in use: it still reacts as ammonia, now as added by its owner" in page
    assert is_ammoniacal(bath)


def test_to_untick_it_asks_once_why_names_what_is_loosened_and_keeps_the_reason(at_owner, ammonia, bath, owner):
    at_owner.post("/stockroom/ammonia-25/edit/", sent(ammonia))
    asked = at_owner.post("/stockroom/ammonia-25/edit/", sent(ammonia, none_apply="on", storage_place="Low shelf"))
    assert asked.status_code == 422
    page = asked.content.decode()
    assert "Silver bath, version 1 would no longer count as ammoniacal silver" in page
    assert "Low shelf" in page
    assert is_ammoniacal(bath)
    at_owner.post("/stockroom/ammonia-25/edit/", sent(ammonia, none_apply="on", why_taken_away="the bottle is rinse aid"))
    noted = ClassesTakenAway.objects.get()
    assert (noted.classes, noted.why, noted.by) == (["ammonia"], "the bottle is rinse aid", owner)
    assert not is_ammoniacal(bath)
    assert "the bottle is rinse aid" in at_owner.get("/stockroom/ammonia-25/").content.decode()
    assert audit() == []


@pytest.mark.parametrize("emptied", ["number", "formula", "silver", "statement"])
def test_whatever_told_it_a_direct_save_keeps_it(owner, house, emptied):
    told = {"number": {"cas_number": "1310-73-2"}, "formula": {"formula": "NaOH"}, "silver": {"silver_g_per_unit": Decimal("0.1")},
            "statement": {"hazard_statements": ["H225"]}}[emptied]
    row = builders.material("Thing", **told)
    builders.lot(row, "100", owner)
    before = set(row.classes)
    for name, value in told.items():
        setattr(row, name, type(value)())
    row.save()
    assert set(Material.objects.get().classes) == before


def test_what_was_never_used_is_corrected_freely(at_owner, ammonia):
    at_owner.post("/stockroom/ammonia-25/edit/", sent(ammonia, cas_number="67-64-1"))
    ammonia.refresh_from_db()
    assert ammonia.known_classes == {"acetone"} | ammonia.told.classes
    assert ammonia.reacts_as == []


def test_a_program_is_asked_why_too(ammonia, bath):
    ammonia.cas_number, ammonia.reacts_as = "", ["ammonia", "chloride"]
    save_material(ammonia)
    ammonia.reacts_as = []
    with pytest.raises(WhyTakenAway, match="chloride"):
        save_material(ammonia)
    assert set(Material.objects.get(pk=ammonia.pk).reacts_as) == {"ammonia", "chloride"}


@pytest.mark.parametrize("used", ["lot", "solution"])
def test_the_database_lets_no_class_go_without_a_reason(ammonia, bath, owner, used):
    row = ammonia
    if used == "lot":
        row = builders.material("Bleach", "mL", cas_number="7681-52-9")
        builders.lot(row, "100", owner)
    with pytest.raises(IntegrityError, match="loses no class"), transaction.atomic():
        Material.objects.filter(pk=row.pk).update(classes=[])


def test_silver_by_its_number_alone_holds_its_silver(at_owner, house):
    new = {"kind": "chemical", "cas_number": "7761-88-8", "silver_g_per_unit": "0", "storage_place": ""}
    at_owner.post("/stockroom/new/", new | {"name": "Silver nitrate", "stock_unit": "g"})
    at_owner.post("/stockroom/new/", new | {"name": "Silver stock", "stock_unit": "mL", "assay_share": "10 %",
                                            "density_g_per_ml": "1.09"})
    assert [row.silver_g_per_unit for row in Material.objects.all()] == [Decimal("0.634993"), Decimal("0.069214")]


def test_hazards_that_nobody_entered_are_said_and_offered(at_owner, at_helper, owner, ammonia):
    builders.lot(ammonia, "500", owner)
    page = at_owner.get("/stockroom/ammonia-25/").content.decode()
    assert "Hazards not entered" in page
    assert "Source: " in page
    assert "data sheet comes first" in " ".join(page.split())
    assert "hazards of 1 material are not entered" in " ".join(at_helper.get("/").content.decode().split())
    assert at_helper.post("/stockroom/ammonia-25/published-hazards/", {"saves": 1}).status_code == 403
    at_owner.post("/stockroom/ammonia-25/published-hazards/", {"saves": ammonia.saves})
    ammonia.refresh_from_db()
    assert {"H314", "H335"} <= set(ammonia.hazard_statements)
    assert ammonia.label.signal_word == "Danger"
    assert 0 < len(ammonia.precautions) <= 6
    assert "Hazards not entered" not in at_owner.get("/stockroom/ammonia-25/").content.decode()
    assert "hazards of 1 material" not in " ".join(at_helper.get("/").content.decode().split())


def test_what_the_owner_entered_is_not_written_over(at_owner, ammonia, owner):
    ammonia.hazard_statements = ["H302"]
    save_material(ammonia)
    with pytest.raises(Exception, match="Nothing published"):
        take_published(ammonia, None, owner)
    ammonia.refresh_from_db()
    assert ammonia.hazard_statements == ["H302"]


def test_a_sheet_without_statements_is_read_once(at_owner, house):
    varnish = builders.material("Varnish", "mL", kind="sealer", reacts_as=["solvent"])
    assert varnish.hazards_not_entered
    at_owner.post("/stockroom/varnish/edit/", {"name": "Varnish", "kind": "sealer", "stock_unit": "mL", "liquid": "on", "saves": 1,
                                               "reacts_as": ["solvent"], "no_statements": "on"})
    varnish.refresh_from_db()
    assert varnish.no_statements
    assert not varnish.hazards_not_entered
    assert not builders.material("Dextrose", cas_number="50-99-7").hazards_not_entered  # published: none
