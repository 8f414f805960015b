"""Write solutions in the app: amounts as people write them, cycles and dangers refused in words, new versions taken up."""

from __future__ import annotations

import re
from decimal import Decimal
from io import BytesIO

import pytest
from django.db import IntegrityError, transaction
from pypdf import PdfReader

from recipes.chemistry.mixing import SolutionCycle
from recipes.finishes.authoring import start_draft
from recipes.models import Solution, SolutionVersion
from recipes.solutions.authoring import IngredientDraft, drafts_behind, next_version, save_solution
from recipes.solutions.rules import NeverStored
from studio.house.models import House
from tests import builders
from tests.asking import error_beside, tick_beside
from tests.recipes.finishes.test_authoring import fields_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def typed(shop, *rows, **more):
    """Return a solution form as sent: rows of what, amount and more."""
    sent = {"solution-name": "Tin wash", "in-TOTAL_FORMS": str(len(rows)), "in-INITIAL_FORMS": "0", **more}
    for at, (what, amount, *flags) in enumerate(rows):
        sent |= {f"in-{at}-what": what, f"in-{at}-amount": amount, f"in-{at}-place": str(at + 1)}
        sent |= {f"in-{at}-{flag}": "on" for flag in flags}
    return sent


def m(material):
    return f"m{material.pk}"


def test_amounts_are_kept_as_they_were_written(at_owner, shop):
    tin = builders.material("Tin(II) chloride dihydrate", formula="SnCl2", hydrate="dihydrate", reacts_as=["tin_salt"])
    acid = builders.material("Hydrochloric acid 37 %", "mL", formula="HCl", assay_share=Decimal("0.37"),
                             density_g_per_ml=Decimal("1.19"), reacts_as=["acid"])
    answer = at_owner.post("/finishes/solutions/new/", typed(
        shop, (m(tin), "0.01 mol/L", "scales_with_strength"), (m(acid), "1:49"), (m(shop.water), "", "make_up"),
        **{"solution-keeps_minutes": "2 weeks"}))
    version = SolutionVersion.objects.get(solution__name="Tin wash")
    assert answer["Location"] == "/finishes/solutions/tin-wash/1/"
    # 0.01 mol/L × 225.6464 g/mol (IUPAC weights); 1 part made into 50
    assert [(ingredient.amount_per_litre, ingredient.unit, ingredient.typed) for ingredient in version.ingredients.all()] == [
        (Decimal("2.256464"), "g", "0.01 mol/L"), (Decimal(20), "mL", "1:49"), (Decimal(0), "mL", "")]
    assert version.keeps_minutes == 20160
    sent = fields_of(at_owner.get("/finishes/solutions/tin-wash/1/edit/").content.decode(), "sheet-and-price")
    assert sent["in-0-amount"] == "0.01 mol/L"
    assert sent["solution-keeps_minutes"] == "2 weeks"
    assert at_owner.post("/finishes/solutions/tin-wash/1/edit/", sent).status_code == 302
    again = SolutionVersion.objects.get(pk=version.pk)
    assert list(again.ingredients.values_list("amount_per_litre", "typed")) == list(version.ingredients.values_list("amount_per_litre", "typed"))
    assert again.keeps_minutes == version.keeps_minutes


@pytest.mark.parametrize(("written", "minutes"), [("", None), ("0", 0), ("7 min", 7), ("1 h", 60)])
def test_how_long_a_batch_takes_to_mix_is_kept(at_owner, shop, written, minutes):
    """Empty says nothing, and nought says that it takes no time."""
    at_owner.post("/finishes/solutions/new/", typed(
        shop, (m(shop.water), "", "make_up"), **{"solution-mixing_minutes": written}))
    version = SolutionVersion.objects.get(solution__name="Tin wash")
    assert version.mixing_minutes == minutes
    page = at_owner.get("/finishes/solutions/tin-wash/1/").content.decode()
    assert ("Mixing a batch takes" in page) is (minutes is not None)
    sent = fields_of(at_owner.get("/finishes/solutions/tin-wash/1/edit/").content.decode(), "sheet-and-price")
    assert at_owner.post("/finishes/solutions/tin-wash/1/edit/", sent).status_code == 302
    assert SolutionVersion.objects.get(pk=version.pk).mixing_minutes == minutes
    assert next_version(version, "slower").mixing_minutes == minutes


@pytest.mark.parametrize(("written", "more", "sentence"), [
    ("1 h", {}, ""), ("4 h", {"solution-keeps_minutes": "1 day"}, ""), ("5 h", {"solution-keeps_minutes": "5 h"}, ""),
    ("5 h", {}, "At most 4 h, unless the solution keeps so long"),
    ("5 h", {"solution-keeps_minutes": "4 h"}, "At most 4 h"), ("0", {}, "above zero"),
    ("1 h", {"solution-works_at_once": "on"}, "never shared: leave this empty"),
])
def test_how_long_a_mix_works_is_kept_and_bounded(at_owner, shop, written, more, sentence):
    answer = at_owner.post("/finishes/solutions/new/", typed(
        shop, (m(shop.water), "", "make_up"), **{"solution-working_minutes": written, **more}))
    version = SolutionVersion.objects.filter(solution__name="Tin wash").first()
    if sentence:
        assert version is None
        assert sentence in error_beside(answer.content.decode(), "solution-working_minutes")
        return
    assert version.working_minutes == int(written.split()[0]) * 60
    assert "from the beginning of" in at_owner.get("/finishes/solutions/tin-wash/1/").content.decode()
    sent = fields_of(at_owner.get("/finishes/solutions/tin-wash/1/edit/").content.decode(), "sheet-and-price")
    assert at_owner.post("/finishes/solutions/tin-wash/1/edit/", sent).status_code == 302
    assert SolutionVersion.objects.get(pk=version.pk).working_minutes == version.working_minutes
    assert next_version(version, "longer").working_minutes == version.working_minutes


def test_ammoniacal_silver_works_no_longer_than_the_studios_limit(at_owner, shop):
    House.objects.update(ammoniacal_limit_minutes=90)
    rows = (m(shop.silver), "12 g/L"), (m(shop.ammonia), "14 mL/L"), (m(shop.water), "", "make_up")
    refused = at_owner.post("/finishes/solutions/new/", typed(shop, *rows, **{"solution-working_minutes": "91 min"}))
    assert "it works for 90 minutes at most, the studio" in refused.content.decode()
    assert not SolutionVersion.objects.filter(solution__name="Tin wash").exists()
    at_owner.post("/finishes/solutions/new/", typed(shop, *rows, **{"solution-working_minutes": "90 min"}))
    assert SolutionVersion.objects.get(solution__name="Tin wash").working_minutes == 90


@pytest.mark.parametrize("values", [
    {"working_minutes": 0}, {"working_minutes": 241}, {"working_minutes": 60, "works_at_once": True},
    {"working_minutes": 300, "keeps_minutes": 299},
])
def test_the_database_bounds_a_working_time(shop, values):
    fresh = builders.solution("Fresh", {"material": shop.water}, keeps_minutes=None)
    with pytest.raises(IntegrityError), transaction.atomic():
        SolutionVersion.objects.filter(pk=fresh.pk).update(**values)
    SolutionVersion.objects.filter(pk=fresh.pk).update(working_minutes=240)


def test_it_is_worked_out_as_it_is_typed_with_both_readings_of_a_ratio(at_owner, shop):
    gel = builders.material("Antiquing concentrate", "mL", must_be_diluted=True)
    shown = at_owner.post("/finishes/solutions/check/", typed(
        shop, (m(gel), "1:32", "scales_with_strength"), (m(shop.water), "", "make_up"))).content.decode()
    assert "30.303 mL per litre" in shown
    assert "Read as 1 in 32 it would be 31.25 mL per litre" in shown
    assert "to 1,000 mL" in shown
    assert "about 970 mL" in shown  # one litre less 30.303 mL, as a vessel reads
    assert not Solution.objects.filter(name="Tin wash").exists()


def test_a_new_ingredient_scales_with_strength_unless_it_is_unticked(at_owner, shop):
    """The page of a new solution is sent back as it opens: half strength then halves the salt, not the water."""
    page = at_owner.get("/finishes/solutions/new/").content.decode()
    sent = typed(shop, (m(shop.silver), "12 g/L"), (m(shop.water), "", "make_up"))
    sent |= dict.fromkeys(re.findall(r'name="(in-\d+-scales_with_strength)"[^>]*checked', page), "on")
    at_owner.post("/finishes/solutions/new/", sent)
    silver, water = SolutionVersion.objects.latest("pk").ingredients.order_by("number")
    assert [silver.scales_with_strength, water.scales_with_strength] == [True, False]
    half = at_owner.get("/finishes/solutions/tin-wash/1/?volume=1+L&strength=1/2").content.decode()
    assert "6 g" in half[half.index('id="measure"'):]


@pytest.mark.parametrize(("rows", "more", "sentence"), [
    ([("silver", "12 g/L"), ("ammonia", "14 mL/L"), ("water", "", "make_up")], {"solution-keeps_minutes": "1 day"},
     "never stored and never mixed ahead"),
    ([("silver", "1:32"), ("water", "", "make_up")], {}, "is a solid"),
    ([("sugar", "2 %"), ("water", "", "make_up")], {}, "can be grams or mL"),
    ([("sugar", ""), ("water", "", "make_up")], {}, "Give an amount per litre"),
    ([("water", "", "make_up"), ("water", "", "make_up")], {}, "Only one ingredient"),
    ([], {}, "needs an ingredient"),
    ([("water", "", "make_up")], {"solution-name": "Reducer"}, "There is a solution with that name"),
    ([("water", "", "make_up")], {"solution-keeps_minutes": "1 day", "solution-works_at_once": "on"}, "works at once cannot keep"),
])
def test_what_cannot_be_is_refused_in_words_and_nothing_is_kept(at_owner, shop, rows, more, sentence):
    by_name = {"silver": shop.silver, "ammonia": shop.ammonia, "sugar": shop.sugar, "water": shop.water}
    sent = typed(shop, *((m(by_name[name]), *rest) for name, *rest in rows), **more)
    answer = at_owner.post("/finishes/solutions/new/", sent)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert SolutionVersion.objects.count() == 3


def test_a_cycle_is_refused_naming_the_way_round(shop):
    first = builders.solution("First", {"material": shop.water})
    second = builders.solution("Second", {"nested": first, "amount": 100}, {"material": shop.water})
    with pytest.raises(SolutionCycle, match="First → Second → First"):
        save_solution(first, first.saves, {}, [IngredientDraft(nested_id=second.pk, amount_per_litre=Decimal(5)),
                                                 IngredientDraft(material_id=shop.water.pk, make_up=True)])
    assert first.ingredients.get().nested is None


def test_never_stored_holds_at_any_depth_whoever_asks(shop):
    outer = builders.solution("Outer", {"material": shop.water}, keeps_minutes=Decimal(60))
    with pytest.raises(NeverStored):
        save_solution(outer, outer.saves, {"keeps_minutes": Decimal(60)},
                      [IngredientDraft(nested_id=shop.silver_part.pk, amount_per_litre=Decimal(500)),
                       IngredientDraft(material_id=shop.water.pk, make_up=True)])


def test_a_new_version_says_which_drafts_would_want_it(at_owner, shop):
    draft = start_draft(shop.recipe.finish, came_from=shop.recipe)
    stronger = next_version(shop.reducer, "Stronger.")
    assert stronger.number == 2
    assert next_version(shop.reducer, "again") == stronger  # the open one, not a third
    assert drafts_behind(stronger) == [draft]
    shown = at_owner.get("/finishes/solutions/reducer/2/").content.decode()
    assert "still use an earlier version" in shown
    assert str(draft) in shown
    at_owner.post("/finishes/solutions/reducer/2/adopt/", {"draft": [draft.pk, shop.recipe.pk]})
    assert set(draft.steps.get(kind="silver").parts.values_list("solution_version", flat=True)) == {shop.silver_part.pk, stronger.pk}
    assert drafts_behind(stronger) == []
    in_use = shop.recipe.steps.get(kind="silver").parts.values_list("solution_version", flat=True)
    assert shop.reducer.pk in in_use  # what is in use keeps what it pinned


def test_a_frozen_solution_leads_to_its_next_version(at_owner, shop):
    assert at_owner.get("/finishes/solutions/reducer/1/edit/").status_code == 302
    answer = at_owner.post("/finishes/solutions/reducer/1/next/", {"why": "Milder."})
    assert answer["Location"] == "/finishes/solutions/reducer/2/edit/"
    at_owner.post("/finishes/solutions/reducer/2/remove/")
    assert Solution.objects.get(name="Reducer").versions.count() == 1
    at_owner.post("/finishes/solutions/reducer/1/remove/")
    assert Solution.objects.get(name="Reducer").versions.count() == 1


def test_another_row_without_javascript(at_owner, shop):
    sent = typed(shop, (m(shop.sugar), "9 g/L"), (m(shop.water), "", "make_up"))
    shown = at_owner.post("/finishes/solutions/another-ingredient/", sent).content.decode()
    assert 'name="in-2-what"' in shown
    assert 'value="9 g/L"' in shown


def test_the_vessels_label(at_owner, shop, settings):
    settings.PUBLIC_URL = "https://daybook.example"
    shop.silver.pictograms, shop.silver.signal_word = ["GHS03", "GHS05", "GHS09"], "Danger"
    shop.silver.hazard_statements = ["H272", "H314", "H400", "H410"]
    shop.silver.save()
    label = PdfReader(BytesIO(at_owner.get("/finishes/solutions/silver-part/1/label.pdf?volume=750+mL").content))
    text = " ".join(label.pages[0].extract_text().split())
    assert len(label.pages) == 1
    assert text.startswith("Explosive if it stands or dries: make leftovers safe in this shift. Silver part")
    assert "USE AT ONCE. NEVER STORED." in text
    assert "DANGER" in text.upper()
    assert "Very toxic to aquatic life with long lasting effects" in text
    assert "Discard by" not in text
    keeps = PdfReader(BytesIO(at_owner.get("/finishes/solutions/reducer/1/label.pdf").content)).pages[0].extract_text()
    assert "Discard by" in keeps
    assert "Explosive" not in keeps


@pytest.mark.parametrize(("volume", "label_mm"), [
    ("750+mL", (105, 74)), ("5+L", (105, 74)), ("60+L", (148, 105)), ("600+L", (210, 148))])
def test_the_vessels_label_grows_with_the_vessel(at_owner, shop, volume, label_mm):
    """Up to 3 L at least 52 × 74 mm, to 50 L 74 × 105, to 500 L 105 × 148, above 148 × 210 (CLP Annex I, table 1.3)."""
    shop.silver.hazard_statements = ["H272", "H314", "H410"]
    shop.silver.save()
    page = PdfReader(BytesIO(at_owner.get(f"/finishes/solutions/silver-part/1/label.pdf?volume={volume}").content)).pages[0]
    width, height = (float(side) / 72 * 25.4 for side in page.mediabox[2:])
    assert width >= label_mm[0] - 0.1
    assert height >= label_mm[1] - 0.1
    assert "Causes severe skin burns and eye damage." in " ".join(page.extract_text().split())


@pytest.mark.parametrize(("query", "sentences"), [
    # OpenStax, Chemistry 2e, section 3.4 (from memory): 37.2 % HCl of 1.19 g/mL is 442.7 g/L, 12.1 mol/L
    ("formula=HCl&amount=37.2&way=%25+w/w&solution_density=1.19", ["442.68", "12.141"]),
    ("wanted=1:32&volume=750+mL", ["22.73", "23.44 mL"]),
    ("formula=AgNO3&amount=2&way=mol/L&wanted=0.1&wanted_way=mol/L&volume=1+L", ["50 <span", "made up to 1,000 mL"]),
    ("amount=20&way=%25+w/w&wanted=5&wanted_way=%25+w/w&volume=200+g", ["50 <span", "150 g of water"]),
])
def test_strengths_are_converted_and_diluted(at_helper, house, query, sentences):
    answer = at_helper.get(f"/finishes/strengths/?{query}")
    assert all(sentence in answer.content.decode() for sentence in sentences), answer.content.decode()


@pytest.mark.parametrize(("query", "field", "sentence"), [
    ("amount=2&way=mol/L", "molar_mass", "molar mass of the substance is not known"),
    ("amount=20&way=%25+w/w", "solution_density", "density of the solution of the substance is not known"),
    ("amount=1&way=g/L&wanted=5&wanted_way=g/L", "wanted", "stronger than the stock"),
    ("amount=much&way=g/L", "amount", "was not understood as a number"), ("formula=Qq&amount=1&way=mol/L", "formula", "no"),
    ("amount=5&way=g/L&wanted=1&wanted_way=g/L&volume=200+g", "volume", "state both strengths as percent by mass"),
])
def test_what_cannot_be_known_is_asked_beside_its_field(at_helper, house, query, field, sentence):
    answer = at_helper.get(f"/finishes/strengths/?{query}")
    shown = answer.content.decode()
    assert answer.status_code == 422
    place = shown.index(f'id="id_{field}_error"')
    assert sentence in shown[place:place + 300]


ADD = "/finishes/solutions/new/"


@pytest.mark.parametrize(("amount", "question"), [
    ("2500 g/L", "About 2160 g of Lunar salt dissolve in a litre of water"), ("2.5 g/mL", "About 2160 g"),
])
def test_more_than_dissolves_is_asked_once_and_kept(at_owner, shop, amount, question):
    """Silver nitrate: 216 g in 100 mL of water at 20 °C (any handbook; from memory)."""
    salt = builders.material("Lunar salt", formula="AgNO3", reacts_as=["silver_salt"])
    sent = typed(shop, (m(salt), amount, "scales_with_strength"), (m(shop.water), "", "make_up"))
    asked = at_owner.post(ADD, sent)
    page = asked.content.decode()
    assert asked.status_code == 422
    assert question in error_beside(page, "in-0-amount")
    assert f'value="{amount}"' in page
    assert not Solution.objects.filter(name="Tin wash").exists()
    tick = tick_beside(page, "in-0-amount")
    assert at_owner.post(ADD, {**sent, **tick, "in-0-amount": "2600 g/L"}).status_code == 422
    assert at_owner.post(ADD, {**sent, **tick}).status_code == 302
    again = fields_of(at_owner.get("/finishes/solutions/tin-wash/1/edit/").content.decode(), "sheet-and-price")
    assert at_owner.post("/finishes/solutions/tin-wash/1/edit/", again).status_code == 302  # it was meant so


@pytest.mark.parametrize(("what", "amount", "sentence"), [
    ("sugar", "12 kg/L", "A litre cannot hold 12000 g of Dextrose"),
    ("ammonia", "1001 mL/L", "A litre cannot hold 1001 mL"), ("ammonia", "950 g/L", "A litre cannot hold 950 g"),
])
def test_more_than_a_litre_holds_is_refused_without_a_tick(at_owner, shop, what, amount, sentence):
    """950 g of ammonia solution of 0.9 g/mL are 1056 mL; 12 kg of a solid would be heavier than silver."""
    page = at_owner.post(ADD, typed(shop, (m(getattr(shop, what)), amount), (m(shop.water), "", "make_up")))
    assert page.status_code == 422
    assert sentence in error_beside(page.content.decode(), "in-0-amount")
    assert tick_beside(page.content.decode(), "in-0-amount") == {}


def test_an_ordinary_dilution_is_asked_nothing(at_owner, shop):
    sent = typed(shop, (m(shop.ammonia), "1:50"), (m(shop.water), "", "make_up"))
    assert at_owner.post(ADD, sent).status_code == 302


def test_ten_years_are_asked_about_and_hundreds_refused(at_owner, shop):
    rows = ((m(shop.sugar), "9 g/L"), (m(shop.water), "", "make_up"))
    ten = typed(shop, *rows, **{"solution-keeps_minutes": "3700 days"})
    page = at_owner.post(ADD, ten).content.decode()
    assert "more than 10?" in error_beside(page, "solution-keeps_minutes")
    beyond = at_owner.post(ADD, {**ten, "solution-keeps_minutes": "40000 days"}).content.decode()
    assert "Nothing keeps for 110 years" in error_beside(beyond, "solution-keeps_minutes")
    assert tick_beside(beyond, "solution-keeps_minutes") == {}
    assert at_owner.post(ADD, {**ten, **tick_beside(page, "solution-keeps_minutes")}).status_code == 302
    assert at_owner.post(ADD, {**ten, "solution-name": "Other", "solution-keeps_minutes": "9 days"}).status_code == 302


def test_an_ingredient_scales_unless_it_is_said_that_it_does_not():
    assert IngredientDraft(material_id=1).scales_with_strength
