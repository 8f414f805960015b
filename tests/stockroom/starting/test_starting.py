"""An empty studio picks its shelf from the trade's list; what nobody has classed is worked through in one sitting."""

from __future__ import annotations

from decimal import Decimal

import pytest

from studio.stockroom.hazards.statements import HAZARD_STATEMENTS, follows_from, is_precaution
from studio.stockroom.hazards.trade import trade_materials
from studio.stockroom.models import Material
from studio.stockroom.starting.starting_shelf import offered, pick_starting_shelf
from tests import builders

pytestmark = pytest.mark.django_db

SHELF, UNCLASSED = "/stockroom/starting-shelf/", "/stockroom/unclassed/"


def test_an_empty_studio_is_led_to_its_starting_shelf(at_owner, at_helper, house):
    for address, leads_to in (("/", "/start/"), ("/stockroom/", SHELF)):
        assert f'href="{leads_to}"' in at_owner.get(address).content.decode()
        assert f'href="{leads_to}"' not in at_helper.get(address).content.decode()
    assert at_helper.get(SHELF).status_code == at_helper.get(UNCLASSED).status_code == 403


def test_what_is_picked_is_complete(at_owner, house):
    page = at_owner.post(SHELF, {"material": ["silver_nitrate", "ammonia_28_30", "hydrochloric_acid_37"]}, follow=True).content.decode()
    assert "3 materials entered" in page
    silver = Material.objects.get(name="Silver nitrate")
    assert (silver.formula, silver.cas_number, silver.stock_unit, silver.liquid) == ("AgNO3", "7761-88-8", "g", False)
    assert silver.silver_g_per_unit == Decimal("0.634993")
    assert silver.known_classes == {"silver_salt", "oxidiser", "nitrate"}
    assert (silver.hazard_statements, silver.pictograms, silver.signal_word) == (
        ["H272", "H314", "H410"], ["GHS03", "GHS05", "GHS09"], "Danger")
    assert silver.statement_categories == {"H272": "2"}
    assert {"P280", "P305+P351+P338", "P310"} <= set(silver.precautions)
    assert silver.follows.undecided == ()
    assert silver.storage_place == "oxidisers cabinet"
    ammonia = Material.objects.get(cas_number="1336-21-6")
    assert (ammonia.density_g_per_ml, ammonia.assay_share, ammonia.stock_unit, ammonia.shelf_life_days) == (
        Decimal("0.9"), Decimal("0.28"), "mL", 365)
    assert at_owner.get(f"/stockroom/{ammonia.code}/edit/").status_code == 200


def test_what_is_picked_says_what_to_do_on_its_label(house):
    """A row with statements has the usual precautions; six at most, unless first aid for what burns or poisons needs more."""
    pick_starting_shelf({material.key for material in offered()})
    for row in Material.objects.exclude(hazard_statements=[]):
        if row.hazard_statements != ["EUH032"]:
            assert row.precautions, row
        assert len([code for code in row.precautions if code < "P300" or code >= "P370"]) <= 6, row
    assert Material.objects.get(name="Nitric acid 65 %").label.precautions


def test_picking_again_is_skipped_and_said(at_owner, house):
    builders.material("Lunar salt", cas_number="7761-88-8", formula="AgNO3")
    builders.material("Weak spirit", "mL", cas_number="7647-01-0", assay_share=Decimal("0.1"))
    builders.material("DEXTROSE, ANHYDROUS")
    page = at_owner.post(SHELF, {"material": ["silver_nitrate", "hydrochloric_acid_37", "dextrose"]}, follow=True).content.decode()
    assert "Silver nitrate is in the stockroom already as Lunar salt: left as it is." in page
    assert "Dextrose, anhydrous is in the stockroom already as DEXTROSE, ANHYDROUS" in page
    assert "1 material entered" in page
    assert list(Material.objects.filter(cas_number="7647-01-0").values_list("name", flat=True)) == ["Hydrochloric acid 37 %", "Weak spirit"]
    assert "1 material entered" not in at_owner.post(SHELF, {"material": ["hydrochloric_acid_37"]}, follow=True).content.decode()
    assert Material.objects.count() == 4


def test_nothing_ticked_is_said(at_owner, house):
    answer = at_owner.post(SHELF, {})
    assert answer.status_code == 422
    assert "Nothing is ticked" in answer.content.decode()


def test_the_whole_list_can_be_picked_and_hydrofluoric_acid_cannot(house):
    keys = {material.key for material in trade_materials()}
    picked = pick_starting_shelf(keys)
    assert (len(picked.added), picked.said) == (53, [])
    assert not Material.objects.filter(cas_number="7664-39-3").exists()
    unclassed = sorted(row.name for row in Material.objects.all() if row.is_unclassed)
    assert unclassed == ["Mirror backing paint", "Shellac or lacquer, solvent-based", "Water-based sealer"]
    for material, row in zip(offered(), picked.added, strict=True):
        assert row.known_classes == set(material.classes), row.name
    again = pick_starting_shelf(keys)
    assert (len(again.added), len(again.said)) == (0, 53)


def test_a_place_that_would_be_deadly_is_left_open(owner, house):
    beside = builders.material("Descaler", "mL", cas_number="7664-93-9", storage_place="Sulfides' own box, away from acids")
    builders.lot(beside, "100", owner)
    picked = pick_starting_shelf({"liver_of_sulfur"} if "EUH031" in HAZARD_STATEMENTS else {"sodium_sulfide"})
    assert picked.added[0].storage_place == ""
    assert "hydrogen sulfide" in picked.said[0]


def test_the_unclassed_are_worked_through_in_one_sitting(at_owner, at_helper, house):
    pastes = [builders.material(name) for name in ("Alum paste", "Bleach paste", "Chalk paste", "Dark paste")]
    for address in ("/", "/stockroom/"):
        assert "How 4 materials react is" in " ".join(at_helper.get(address).content.decode().split())
        assert f'href="{UNCLASSED}"' in at_owner.get(address).content.decode()
    page = at_owner.get(UNCLASSED).content.decode()
    assert all(row.name in page for row in pastes)
    assert "Its name says “Bleach”: does it react as hypochlorite" in page
    sent = {f"{row.code}-{name}": value for row in pastes for name, value in (("saves", "1"), ("cas_number", ""), ("formula", ""), ("hydrate", ""))}
    sent |= {"alum-paste-none_apply": "on", "bleach-paste-cas_number": "7681-52-9", "chalk-paste-reacts_as": ["carbonate"]}
    done = at_owner.post(UNCLASSED, sent, follow=True).content.decode()
    assert "3 materials saved" in done
    assert "Dark paste" in done
    assert "Alum paste" not in done
    known = {row.name: (row.none_apply, row.known_classes) for row in Material.objects.all()}
    assert known["Alum paste"] == (True, frozenset())
    assert "hypochlorite" in known["Bleach paste"][1]
    assert known["Chalk paste"] == (False, {"carbonate"})
    assert "How 1 material reacts is" in " ".join(at_owner.get("/").content.decode().split())


def test_a_row_that_is_refused_stands_with_its_sentence_and_the_others_are_saved(at_owner, house):
    builders.material("Alum paste"), builders.material("Dark paste")
    sent = {"alum-paste-saves": "1", "alum-paste-none_apply": "on", "dark-paste-saves": "1", "dark-paste-cas_number": "7761-88-8",
            "dark-paste-formula": "NaNO3"}
    answer = at_owner.post(UNCLASSED, sent)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "is not silver nitrate" in page
    assert 'value="NaNO3"' in page
    assert Material.objects.get(name="Alum paste").none_apply
    assert Material.objects.get(name="Dark paste").is_unclassed


def test_a_row_that_somebody_saved_meanwhile_is_refused(at_owner, house):
    row = builders.material("Dark paste", saves=3)
    answer = at_owner.post(UNCLASSED, {f"{row.code}-saves": "2", f"{row.code}-none_apply": "on"})
    assert answer.status_code == 422
    assert "Somebody else changed this meanwhile" in answer.content.decode()


def test_every_listed_statement_has_its_category_and_every_hazard_its_precautions():
    """H272 alone decides neither pictogram nor signal word; what is said of a hazard says what to do."""
    for wanted in trade_materials():
        follows = follows_from(wanted.statements, wanted.statement_categories)
        assert follows.undecided == (), wanted.name
        assert follows.signal_word == wanted.signal_word, wanted.name
        assert all(is_precaution(code) for code in wanted.precautions), wanted.name
        assert wanted.precautions or not wanted.statements, wanted.name


def test_what_was_typed_of_a_material_classed_meanwhile_stands_and_one_entered_since_is_left(at_owner, house):
    row = builders.material("Dark paste")
    opened = {f"{row.code}-{name}": "" for name in ("cas_number", "formula", "hydrate")} | {f"{row.code}-saves": "1"}
    Material.objects.filter(pk=row.pk).update(none_apply=True, saves=2)
    builders.material("New paste")
    assert at_owner.post(UNCLASSED, opened).status_code == 302, "left empty: nothing was said of either"
    late = at_owner.post(UNCLASSED, opened | {f"{row.code}-cas_number": "7681-52-9"})
    assert late.status_code == 422
    assert 'value="7681-52-9"' in late.content.decode()
    assert "New paste" in late.content.decode()
    assert Material.objects.get(pk=row.pk).cas_number == ""
