"""Trials on a page: what a helper does with one hand, and what the owner sees of it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext

from recipes.models import SearchWords, Trial
from recipes.trials.changing import Change
from recipes.trials.conducting import add_note, close_trial
from studio.stockroom.models import Lot
from studio.whole.find.everything import everything
from studio.whole.find.wanted import read_wanted
from tests import builders
from tests.asking import error_beside, tick_beside
from tests.recipes.finishes.test_authoring import fields_of
from tests.recipes.trials.test_trials import HOT, LONG, STRONG, UNSEEN

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def queries(client: Any, address: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert client.get(address).status_code == 200
    return len(seen)


def closed(trial: Trial, score: int | None, verdict: str = "further") -> Trial:
    builders.nothing_mixed(trial, trial.made_by)
    return close_trial(trial, trial.saves, verdict=verdict, score=score)


def test_a_trial_is_the_values_typed_over(at_helper, shop):
    sent = fields_of(at_helper.get("/finishes/plain-silver/1/try/").content.decode(), "try")
    sent |= {"s3p1-strength": "double", "s3-dwell_minutes": "30 s", "s6-left_out": "on", "size_text": "6 x 6 in",
             "question": "What does doubling the silver do?"}
    answer = at_helper.post("/finishes/plain-silver/1/try/", sent)
    trial = Trial.objects.get()
    assert answer["Location"] == f"/finishes/trials/{trial.number}/"
    assert [(c.step, c.part, c.what, c.value) for c in trial.changes.all()] == [
        (3, 0, "dwell_minutes", "0.5"), (3, 1, "strength", "2"), (6, 0, "left out", "yes")]
    assert (trial.width_mm, trial.made_by.username) == (Decimal("152.4"), "teo")
    shown = at_helper.get(answer["Location"]).content.decode()
    assert "strength of Silver part as written → double strength" in shown
    assert "inspect: left out" in shown
    at_helper.post("/finishes/plain-silver/1/try/", sent)  # sent twice, it counts once
    assert Trial.objects.count() == 1


def test_a_step_that_is_opened_and_not_changed_is_no_change(at_helper, shop, owner):
    """Also where a value comes from a gun, which no field shows in full."""
    from studio.house.models import GunCalibration

    GunCalibration.objects.create(gun="pair", measured_on="2026-01-01", flow_ml_per_minute=100, passes=1, traverse_m2_per_minute=3)
    steps = shop.steps()
    steps[2] |= {"gun": "pair", "coverage_ml_per_m2": 0, "instructions": "One.\nTwo."}
    version = builders.recipe("Gunned", steps)
    sent = fields_of(at_helper.get("/finishes/gunned/1/try/").content.decode(), "try")
    assert at_helper.post("/finishes/gunned/1/try/", sent).status_code == 302
    assert not Trial.objects.get(recipe_version=version).changes.exists()


def test_trying_further_keeps_what_was_changed(at_helper, shop, owner):
    first = builders.trial(shop.recipe, owner, STRONG, UNSEEN)
    sent = fields_of(at_helper.get(f"/finishes/trials/{first.number}/further/").content.decode(), "try")
    assert (sent["s3p1-strength"], sent["s6-left_out"]) == ("2", "on")
    at_helper.post(f"/finishes/trials/{first.number}/further/", sent | {"s7-drying": "hot air"})
    second = Trial.objects.get(parent=first)
    assert {(c.step, c.what) for c in second.changes.all()} == {(3, "strength"), (6, "left out"), (7, "drying")}


@pytest.mark.parametrize(("more", "sentence"), [
    ({"size_text": "big"}, "was not understood as a size"), ({"s3-dwell_minutes": "a while"}, "was not understood as a time"),
    ({"s3p1-strength": "0"}, "above zero"), ({"s3p1-solution_version": ""}, "to leave one out, start a draft"),
    ({f"s{n}-left_out": "on" for n in range(1, 8)}, "Every step is left out"),
])
def test_what_is_refused_keeps_what_was_typed(at_helper, shop, more, sentence):
    sent = fields_of(at_helper.get("/finishes/plain-silver/1/try/").content.decode(), "try") | {"question": "Kept?"}
    answer = at_helper.post("/finishes/plain-silver/1/try/", sent | more)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert "Kept?" in answer.content.decode()
    assert not Trial.objects.exists()


def test_conditions_notes_times_and_photographs(at_helper, shop, owner):
    trial = builders.trial(shop.recipe, owner)
    here = f"/finishes/trials/{trial.number}/"
    saves = Trial.objects.get().saves
    at_helper.post(here + "conditions/", {"saves": saves, "air_c": "68 F", "humidity_share": "55 %", "water": "new drum",
                                          "conductivity_us_cm": "1.8"})
    bad = at_helper.post(here + "conditions/", {"saves": saves + 1, "humidity_share": "155 %"})
    assert "at most 100 %" in bad.content.decode()
    stale = at_helper.post(here + "conditions/", {"saves": saves, "air_c": "1 C"})
    assert "Trial 1 now reads air 20 °C" in stale.content.decode()
    note = {"key": builders.key(), "text": "Even to the rim."}
    for _ in range(2):
        at_helper.post(here + "note/", note)
    at_helper.post(here + "timing/", {"key": builders.key(), "step": 3, "took": "4 min"})
    wrong = at_helper.post(here + "timing/", {"key": builders.key(), "step": 3, "took": "ages"})
    assert wrong.status_code == 422
    at_helper.post(here + "photograph/", {"key": builders.key(), "side": "back",
                                          "photograph": SimpleUploadedFile("a.jpg", builders.photograph(), "image/jpeg")})
    trial.refresh_from_db()
    assert (trial.air_c, trial.humidity_share) == (20, Decimal("0.55"))
    assert trial.notes.count() == 1
    assert trial.timings.get().seconds == 240
    assert trial.photographs.get().side == "back"
    photograph = trial.photographs.get()
    at_helper.post(f"/finishes/trials/photographs/{photograph.pk}/crop/", {"left": "10", "top": "0", "side": "50"})
    photograph.refresh_from_db()
    assert photograph.crop_side == Decimal("0.5")


def test_lots_are_taken_from_the_list_or_by_what_a_label_says(at_helper, shop, owner):
    trial = builders.trial(shop.recipe, owner)
    here, key = f"/finishes/trials/{trial.number}/", builders.key()
    page = at_helper.get(here).content.decode()
    assert "0.24 g" in page  # 20 mL of 12 g/L
    sent = {f"take-{shop.silver.pk}-lot": shop.silver_lot.pk, f"take-{shop.silver.pk}-amount": "0.3 g", "key": key,
            "other_lot": f"https://daybook.example/stockroom/lots/{shop.lots[2].pk}/", "other_amount": "180 mg"}
    for _ in range(2):
        assert at_helper.post(here + "stock/", sent).status_code == 302
    assert Lot.objects.get(pk=shop.silver_lot.pk).level.on_hand == Decimal("499.7")
    assert Lot.objects.get(pk=shop.lots[2].pk).level.on_hand == Decimal("999.82")
    for other, much, sentence in (("NO-SUCH", "1 g", "is not one lot on the shelf"), ("D1", "", "Give the amount of"),
                                  ("D1", "a lot", "was not understood"), ("D1", "0 g", "more than nothing")):
        refused = at_helper.post(here + "stock/", {"key": builders.key(), "other_lot": other, "other_amount": much})
        assert refused.status_code == 422
        assert sentence in refused.content.decode()
    slip = {"key": builders.key(), "other_lot": "D1", "other_amount": "5 kg"}
    asked = at_helper.post(here + "stock/", slip).content.decode()
    assert "5000 g of Dextrose is ten times too much or more: the trial needs 0.18 g" in error_beside(
        asked, "other_amount")
    assert 'value="5 kg"' in asked
    meant = at_helper.post(here + "stock/", {**slip, **tick_beside(asked, "other_amount")})
    assert "holds 999.82 g" in meant.content.decode()
    own = f"take-{shop.silver.pk}-amount"
    slip = {"key": builders.key(), f"take-{shop.silver.pk}-lot": shop.silver_lot.pk, own: "24 g"}
    asked = at_helper.post(here + "stock/", slip).content.decode()
    assert "the trial needs 0.24 g" in error_beside(asked, own)
    assert Lot.objects.get(pk=shop.silver_lot.pk).level.on_hand == Decimal("499.7")
    assert at_helper.post(here + "stock/", {**slip, **tick_beside(asked, own)}).status_code == 302
    assert Lot.objects.get(pk=shop.silver_lot.pk).level.on_hand == Decimal("475.7")
    lot_page = at_helper.get(f"/finishes/trials/take/{shop.silver_lot.pk}/").content.decode()
    assert f"{here}?lot=/stockroom/lots/{shop.silver_lot.pk}/#stock" in lot_page


def test_closing_and_promoting(at_helper, at_owner, shop, owner):
    trial = builders.trial(shop.recipe, owner, STRONG)
    add_note(key=builders.key(), trial=trial, by=owner, text="Brighter by far.")
    builders.nothing_mixed(trial, owner)
    here, saves = f"/finishes/trials/{trial.number}/", Trial.objects.get().saves
    unsaid = at_helper.post(here + "close/", {"saves": saves, "score": "8", "verdict": ""})
    assert unsaid.status_code == 422
    at_helper.post(here + "close/", {"saves": saves, "score": "8", "verdict": "liked", "kept_where": "box 4"})
    trial.refresh_from_db()
    assert (trial.score, trial.kept_where, bool(trial.closed_at)) == (8, "box 4", True)
    assert at_helper.post(here + "promote/").status_code == 403
    answer = at_owner.post(here + "promote/", {"why": ""}, follow=True)
    shown = answer.content.decode()
    assert "Made from" in shown
    assert "Brighter by far." in shown
    assert shop.recipe.finish.versions.get(number=2).why.startswith("From trial 1: silver: strength of Silver part")


def test_side_by_side_and_one_change_at_a_time(at_helper, shop, owner):
    plain = closed(builders.trial(shop.recipe, owner), 5)
    strong = closed(builders.trial(shop.recipe, owner, STRONG), 8, "liked")
    closed(builders.trial(shop.recipe, owner, STRONG, LONG, HOT), 9)
    side = at_helper.get(f"/finishes/compare/?of={plain.number}&of={strong.number}&of=plain-silver/1").content.decode()
    assert "silver: strength" in side
    assert "double strength" in side
    assert "silver: dwell" not in side
    page = at_helper.get("/finishes/plain-silver/one-change/").content.decode()
    assert "silver: strength" in page
    assert "5 → 8" in page
    assert "+3" in page
    assert "<svg" in page
    assert "silver: dwell</h2>" not in page  # it changed together with the drying
    assert at_helper.get("/finishes/compare/?of=nonsense&of=0").status_code == 200


def test_queries_do_not_grow_with_trials(at_owner, shop, owner):
    def make() -> None:
        for change in (STRONG, LONG, HOT):
            trial = builders.trial(shop.recipe, owner, change)
            add_note(key=builders.key(), trial=trial, by=owner, text="so")
            closed(trial, 6)

    make()
    addresses = ("/finishes/trials/", "/finishes/plain-silver/one-change/", "/finishes/compare/?of=1&of=2", "/finishes/plain-silver/",
                 "/finishes/trials/1/", "/find/?q=double", "/finishes/plain-silver/1/used/")
    for address in addresses:
        at_owner.get(address)
    few = [queries(at_owner, address) for address in addresses]
    make()
    make()
    for address in addresses:
        at_owner.get(address)  # words of what is new are written at the first search
    assert [queries(at_owner, address) for address in addresses] == few


def kinds_found(wanted: str) -> set[str]:
    """Return what of the library is found: finish, recipe, solution, and each trial by its number."""
    names = {"finishes": "finish", "versions": "recipe", "solutions": "solution"}
    groups = everything(read_wanted(wanted), runs_desk=True).groups
    return {names.get(group.key) or hit.title.split(",")[0].lower() for group in groups
            if group.key in (*names, "trials") for hit in group.rows}


@pytest.mark.parametrize(("wanted", "found"), [
    ("double strength", {"trial 1"}), ("doub stren", {"trial 1"}), ("rocked", {"trial 2"}), ("rim hazy", {"trial 3"}),
    ("plain silv", {"trial 1", "trial 2", "trial 3", "finish", "recipe"}), ("sprayed still", {"trial 1", "trial 2", "trial 3", "recipe"}),
    ("just clear", {"solution"}), ("nothing so called", set()), ("", set()), ("%", {"solution"}), ("_", set()),
    ("hot air dry", {"trial 3"}), ("9 min", {"trial 2"}),
])
def test_found_by_word_parts_and_by_value(shop, owner, wanted, found):
    builders.trial(shop.recipe, owner, STRONG)
    builders.trial(shop.recipe, owner, LONG, Change(step=3, what="motion", value="rocked"))
    third = builders.trial(shop.recipe, owner, HOT)
    add_note(key=builders.key(), trial=third, by=owner, text="Hazy along the rim.")
    assert kinds_found(wanted) == found


def test_what_is_renamed_or_loaded_is_found_too(shop, owner):
    builders.trial(shop.recipe, owner, STRONG)
    SearchWords.objects.all().delete()
    assert kinds_found("silver") == {"finish", "recipe", "solution", "trial 1"}


def test_the_list_is_sorted_from_liked_to_not_worth_it_and_open_ones_stand_last(at_helper, shop, owner):
    # given trials that came out each way, one of them without a score, and one still open that is liked so far
    shown = {}
    for name, score, verdict in (("left", 2, "left"), ("liked", 9, "liked"), ("further", None, "further")):
        shown[closed(builders.trial(shop.recipe, owner), score, verdict).number] = name
    still = builders.trial(shop.recipe, owner)
    Trial.objects.filter(pk=still.pk).update(verdict="liked")
    shown[still.number] = "open"

    def asked(sort):
        # when the list is sorted by a head
        return [shown[row.number] for row in at_helper.get(f"/finishes/trials/?sort={sort}").context["listing"].rows]

    # then what is liked comes first, what nobody judged last, and a head pressed again turns it round
    assert asked("came-out") == ["liked", "further", "left", "open"]
    assert asked("-came-out") == ["open", "left", "further", "liked"]
    assert asked("score") == ["left", "liked", "open", "further"]
    assert asked("-score") == ["further", "open", "liked", "left"]
