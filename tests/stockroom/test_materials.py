"""Materials entered in the app: what is made of one is checked again when it changes."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError

from recipes.models import SilverClock
from recipes.reading import material_facts
from recipes.solutions.holding import make_lot_safe
from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from studio.stockroom.ledger import LedgerError
from studio.stockroom.lots.keeping import discard, release_lot
from studio.stockroom.models import Lot, LotLevel, Material
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


def test_a_material_is_entered_and_used(at_owner, house):
    answer = at_owner.post("/stockroom/new/", {
        "name": "Tin(II) chloride dihydrate", "kind": "chemical", "stock_unit": "g", "formula": "SnCl2", "hydrate": "dihydrate",
        "cas_number": "10025-69-1", "reacts_as": ["tin_salt"], "pictograms": ["GHS05", "GHS07"], "signal_word": "Danger",
        "hazard_statements": ["H314"], "assay_share": "98.5 %", "list_price": "0.18", "silver_g_per_unit": ""})
    row = Material.objects.get()
    assert answer["Location"] == f"/stockroom/{row.code}/"
    assert (row.reacts_as, row.list_price, row.silver_g_per_unit) == (["tin_salt"], Decimal("0.18"), 0)
    assert row.assay_share == Decimal("0.985")
    assert 'value="98.5 %"' in at_owner.get(f"/stockroom/{row.code}/edit/").content.decode()


@pytest.mark.parametrize(("more", "sentence"), [
    ({"cas_number": "7761-88-7"}, "check digit does not fit"),
    ({"kind": "glass sheet", "stock_unit": "sheet"}, "give its size, thickness"), ({"name": ""}, "required"),
    ({"sheet_width_mm": "wide"}, "was not understood as a length"), ({"density_g_per_ml": "0"}, "between 0.5 and 20"),
    ({"density_g_per_ml": "1190"}, "between 0.5 and 20"), ({"assay_share": "37"}, "at most 100 %"),
    ({"cas_number": "7761-88-8", "formula": "NaNO3"}, "is not silver nitrate"),
    ({"formula": "SnCl2·2H2O", "hydrate": "dihydrate"}, "said twice"), ({"formula": "Xy7"}, "not understood as a formula"),
    ({"formula": "AgNO3", "silver_g_per_unit": "0.7"}, "63.5 % silver"),
    ({"hazard_statements": "H314, H999"}, "H999 is no statement"),
    ({"hazard_statements": "R35"}, "R35 is no H or EUH statement"), ({"precautions": "P280 P999"}, "P999 is no statement"),
])
def test_a_refusal_keeps_what_was_typed(at_owner, house, more, sentence):
    sent = {"name": "Odd thing", "kind": "chemical", "stock_unit": "g", "storage_place": "dry shelf", **more}
    answer = at_owner.post("/stockroom/new/", sent)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert "dry shelf" in answer.content.decode()
    assert not Material.objects.exists()


def test_the_truth_is_always_entered_and_what_it_touches_is_named(at_owner, owner, rates):
    """Sugar that turns out to hold ammonia would put ammoniacal silver on the shelf: it is saved, and the page says so."""
    silver = builders.material("Silver nitrate", reacts_as=["silver_salt"])
    odd, water = builders.material("Odd sugar", none_apply=True), builders.material("Water", "mL", kind="water")
    kept = builders.solution("Kept", {"material": silver, "amount": 5, "unit": "g"}, {"material": odd, "amount": 5, "unit": "g"},
                             {"material": water})
    for row in (silver, odd, water):
        builders.lot(row, "5000", owner)
    lot = mix_ahead(key=builders.key(), by=owner, version=kept, volume_ml=Fraction(500), day=today())
    sent = {"name": "Odd sugar", "kind": "chemical", "stock_unit": "g", "saves": odd.saves, "reacts_as": ["ammonia"]}
    saved = at_owner.post("/stockroom/odd-sugar/edit/", sent, follow=True)
    page = saved.content.decode()
    assert "Kept, version 1 is touched: Kept holds ammoniacal silver (a silver salt and ammonia)" in page
    assert f"lot {lot.lot_number} was mixed of Kept, version 1" in page
    odd.refresh_from_db()
    assert (odd.reacts_as, odd.saves) == (["ammonia"], 2)
    stale = at_owner.post("/stockroom/odd-sugar/edit/", sent | {"reacts_as": []})
    assert "Odd sugar now reads reacts as ammonia" in stale.content.decode()


def test_a_recipe_in_use_that_a_class_touches_is_named(at_owner, shop):
    """A sugar that turns out to be bleach stands against the version whose reducer it is."""
    sent = {"name": "Dextrose", "kind": "chemical", "stock_unit": "g", "saves": shop.sugar.saves,
            "reacts_as": ["reducer", "hypochlorite"]}
    page = at_owner.post("/stockroom/dextrose/edit/", sent, follow=True).content.decode()
    assert "Plain silver, version 1 is in use and touched: step 3" in page
    assert "bleach" in page


def test_what_identity_tells_cannot_be_unticked(at_owner, house):
    sent = {"name": "White salt", "kind": "chemical", "stock_unit": "g", "cas_number": "6484-52-2", "none_apply": "on"}
    page = at_owner.post("/stockroom/new/", sent, follow=True).content.decode()
    row = Material.objects.get()
    assert row.known_classes == {"ammonium", "nitrate", "oxidiser", "ammonium_nitrate"}
    assert (row.reacts_as, row.none_apply) == ([], False)
    assert "“none apply” is not kept" in page
    assert "CAS 6484-52-2 is ammonium nitrate" in page
    at_owner.post("/stockroom/white-salt/edit/", sent | {"saves": 1, "reacts_as": ["chloride"], "none_apply": ""})
    row.refresh_from_db()
    assert row.known_classes > {"ammonium", "chloride"}
    assert "entered by the owner: chloride" in at_owner.get("/stockroom/white-salt/").content.decode()
    at_owner.post("/stockroom/white-salt/edit/", sent | {"saves": 2, "reacts_as": [], "none_apply": ""})
    row.refresh_from_db()
    assert row.known_classes == {"ammonium", "nitrate", "oxidiser", "ammonium_nitrate"}


def test_unknown_is_shown_as_unknown_until_somebody_has_read_the_sheet(at_owner, at_helper, owner, house):
    paste = builders.material("Grey paste", storage_place="dry shelf")
    builders.lot(paste, "100", owner)
    for address in ("/stockroom/", "/stockroom/storage/", "/stockroom/grey-paste/"):
        assert "unknown" in at_helper.get(address).content.decode(), address
    sent = {"name": "Grey paste", "kind": "chemical", "stock_unit": "g", "storage_place": "dry shelf", "saves": 1, "none_apply": "on"}
    assert at_owner.post("/stockroom/grey-paste/edit/", sent).status_code == 302
    for address in ("/stockroom/", "/stockroom/storage/", "/stockroom/grey-paste/"):
        assert "unknown" not in at_helper.get(address).content.decode(), address


@pytest.mark.parametrize(("kind", "unit", "unclassed"), [
    ("chemical", "g", True), ("sealer", "mL", True), ("backing", "mL", True), ("backing", "each", False), ("water", "mL", False),
    ("consumable", "each", False), ("solution", "mL", False),
])
def test_only_what_is_used_wet_can_be_unclassed(kind, unit, unclassed):
    row = Material(name="Thing", kind=kind, stock_unit=unit, liquid=unit == "mL")
    assert row.is_unclassed is unclassed
    assert material_facts(row, None).unclassed is (unclassed or kind == "consumable")  # once it is mixed in
    row.cas_number = "7681-52-9"
    assert row.is_unclassed is False
    assert material_facts(row, None).reacts_as >= {"hypochlorite", "caustic"}


def test_silver_is_worked_out_where_it_was_left_empty(at_owner, house):
    sent = {"kind": "chemical", "formula": "AgNO3", "hydrate": "", "silver_g_per_unit": "", "cas_number": "7761-88-8"}
    at_owner.post("/stockroom/new/", sent | {"name": "Silver nitrate", "stock_unit": "g", "assay_share": "99.8 %"})
    at_owner.post("/stockroom/new/", sent | {"name": "Silver stock", "stock_unit": "mL", "assay_share": "10 %", "density_g_per_ml": "1.09",
                                             "silver_g_per_unit": "0"})
    assert [row.silver_g_per_unit for row in Material.objects.all()] == [Decimal("0.633723"), Decimal("0.069214")]


def test_ammoniacal_silver_is_entered_and_never_received_whatever_its_name(at_owner, house):
    """The truth is never refused: what is refused is to keep it."""
    sent = {"name": "Tollens", "kind": "chemical", "stock_unit": "mL", "formula": "[Ag(NH3)2]NO3"}
    page = at_owner.post("/stockroom/new/", sent, follow=True).content.decode()
    assert "Tollens is ammoniacal silver (a silver salt and ammonia)" in page
    assert "Make safe by the written procedure what there is of it" in page
    answer = at_owner.post("/stockroom/tollens/receive/", {"key": builders.key(), "lot_number": "T1", "amount": "1 L",
                                                           "cost_with_carriage": "1", "received_on": "2026-03-02"})
    assert answer.status_code == 422
    assert not Lot.objects.exists()


def test_a_silver_bottle_that_turns_out_to_hold_ammonia_is_held_and_made_safe(at_owner, owner, rates):
    """Ammonia ticked on a silver bottle is saved; its lots are held, stand with a clock, and leave made safe alone."""
    silver = builders.material("Silver stock", "mL", reacts_as=["silver_salt"])
    lot, empty = builders.lot(silver, "500", owner), builders.lot(silver, "10", owner, "L2")
    discard(key=builders.key(), lot=empty, by=owner, amount=Decimal(10), why="spilt")
    sent = {"name": "Silver stock", "kind": "chemical", "stock_unit": "mL", "saves": silver.saves,
            "reacts_as": ["silver_salt", "ammonia"]}
    page = at_owner.post("/stockroom/silver-stock/edit/", sent, follow=True).content.decode()
    assert f"lot {lot.lot_number} is held, and its clock has run since" in page
    lot.refresh_from_db()
    empty.refresh_from_db()
    assert lot.is_held
    assert empty.is_held, "a posting may be reversed"
    assert [str(clock) for clock in SilverClock.objects.all()] == ["Silver stock, as delivered"]
    assert "nobody takes of it" in at_owner.get(f"/stockroom/lots/{lot.pk}/").content.decode()
    with pytest.raises(LedgerError, match="stays held: It holds ammoniacal silver"):
        release_lot(key=builders.key(), lot=lot, by=owner, why="I say so")
    with pytest.raises(LedgerError, match="make it safe by the written procedure first"):
        discard(key=builders.key(), lot=lot, by=owner, amount=Decimal(1), why="down the drain")
    make_lot_safe(key=builders.key(), lot=lot, by=owner, procedure="1", treated=["leftovers"])
    assert LotLevel.objects.get(lot=lot).on_hand == 0
    assert audit() == []


def test_a_helper_enters_none(at_helper, house):
    assert at_helper.get("/stockroom/new/").status_code == 403


def entered(client, **more):
    """Enter a material with what a sheet says of its hazards; return it as it is kept."""
    sent = {"name": "Odd thing", "kind": "chemical", "stock_unit": "g", **more}
    assert client.post("/stockroom/new/", sent).status_code == 302
    return Material.objects.get()


def test_statements_are_pasted_from_the_sheet_and_shown_back(at_owner, house):
    row = entered(at_owner, hazard_statements="H272 (3) - May intensify fire; oxidiser.\nH314 - Causes severe skin burns "
                  "and eye damage.\nH332", precautions="P280, P301 + P330 + P331")
    assert (row.hazard_statements, row.statement_categories) == (["H272", "H314", "H332"], {"H272": "3"})
    assert row.precautions == ["P280", "P301+P330+P331"]
    assert (row.label.pictograms, row.label.signal_word) == (("GHS03", "GHS05", "GHS07"), "Danger")
    page = at_owner.get("/stockroom/odd-thing/").content.decode()
    assert all(words in page for words in ("Harmful if inhaled (H332)", "IF SWALLOWED: Rinse mouth", "GHS07.svg"))
    form = at_owner.get("/stockroom/odd-thing/edit/").content.decode()
    assert ">\nH272 (3), H314, H332</textarea>" in form
    assert "From the statements follow: Danger; flame over circle, corrosion, exclamation mark." in " ".join(form.split())


def test_nothing_typed_is_lost_with_an_unknown_statement(at_owner, house):
    typed = "H314 - Causes severe skin burns and eye damage.\nH31O - no such thing"
    answer = at_owner.post("/stockroom/new/", {"name": "Odd thing", "kind": "chemical", "stock_unit": "g",
                                               "hazard_statements": typed, "precautions": "P280"})
    assert answer.status_code == 422
    assert "H31O is no H or EUH statement" in answer.content.decode()
    assert typed in answer.content.decode().replace("\r", "")
    assert ">\nP280</textarea>" in answer.content.decode()


def test_pictograms_and_signal_word_are_only_raised(at_owner, house):
    """What follows from the statements is not kept twice, so it goes when they go; what was raised stays."""
    row = entered(at_owner, hazard_statements="H302", pictograms=["GHS07", "GHS08"], signal_word="Danger")
    assert (row.pictograms, row.signal_word) == (["GHS08"], "Danger")
    sent = {"name": "Odd thing", "kind": "chemical", "stock_unit": "g", "saves": row.saves, "hazard_statements": "H314",
            "signal_word": "Warning"}
    assert at_owner.post("/stockroom/odd-thing/edit/", sent).status_code == 302
    row.refresh_from_db()
    assert (row.pictograms, row.signal_word, row.label.signal_word) == ([], "", "Danger")


def test_a_statement_without_its_category_takes_the_graver_and_says_so(at_owner, house):
    row = entered(at_owner, hazard_statements="H272")
    assert row.label.signal_word == "Danger"
    assert "The signal word of H272 depends on its category" in at_owner.get("/stockroom/odd-thing/edit/").content.decode()
    assert "H272 is taken at its graver category" in at_owner.get("/stockroom/odd-thing/").content.decode()


@pytest.mark.parametrize("wrong", [
    {"statement_categories": {"H272": "1"}}, {"statement_categories": {"H314": "1"}}, {"statement_categories": ["H272"]},
    {"precautions": ["P999"]}, {"precautions": "P280"}, {"hazard_statements": ["H999"]},
])
def test_a_book_or_command_enters_no_unknown_statement(wrong):
    with pytest.raises(ValidationError):
        builders.material("Odd thing", **wrong)


def test_a_consumable_mixed_into_a_solution_is_unknown_too(house):
    """Whatever its kind, what is mixed in is used wet: a book can name a consumable where the form offers none."""
    odd = builders.material("Mystery tablet", "each", kind="consumable")
    assert material_facts(odd, None).unclassed
    assert not material_facts(builders.material("Water", "mL", kind="water"), None).unclassed
    assert not material_facts(builders.material("Salt tablet", "each", kind="consumable", none_apply=True), None).unclassed
