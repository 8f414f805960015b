"""Stops hold for trials too: the owner tries against one with a reason that stands with it, never with ammoniacal silver."""

from __future__ import annotations

from decimal import Decimal

import pytest

from recipes.models import Trial, TriedAgainst
from recipes.trials.against_stops import StopStands, trials_in_doubt
from recipes.trials.changing import Change
from recipes.trials.conducting import Taken, change_trial, close_trial, take_stock
from studio.house.clock import today
from studio.stockroom.materials import save_material, touched_by
from tests import builders
from tests.recipes.finishes.test_authoring import fields_of

pytestmark = pytest.mark.django_db


class Bleached:
    """A studio with bleach mist and an ammonia wash as two parts of one step: poisonous chloramines."""

    def __init__(self, owner):
        self.shop = builders.Workshop(owner)
        self.bleach = builders.material("Bleach", "mL", reacts_as=["hypochlorite"])
        self.lot = builders.lot(self.bleach, "500", owner, "B1")
        mist = builders.solution("Bleach mist", {"material": self.bleach, "amount": 50}, {"material": self.shop.water})
        wash = builders.solution("Ammonia wash", {"material": self.shop.ammonia, "amount": 20}, {"material": self.shop.water})
        self.gassed = builders.recipe("Gassed", [
            {"kind": "clean"}, {"kind": "antique", "how": "mist", "coverage_ml_per_m2": Decimal(40),
                                "parts": [{"solution_version": mist}, {"solution_version": wash}]},
            {"kind": "rinse", "rinse_full": True, "rinse_water": "distilled"}])


@pytest.fixture
def studio(owner, rates):
    return Bleached(owner)


def start(client, version, **more):
    page = f"/finishes/{version.finish.code}/{version.number}/try/"
    return client.post(page, fields_of(client.get(page).content.decode(), "try") | more)


def test_by_page_the_owner_tries_with_a_reason_and_a_helper_never(studio, at_owner, at_helper):
    for client, told in ((at_owner, "Write why it is tried all the same"), (at_helper, "Only the owner can try against that")):
        refused = start(client, studio.gassed, **({"against_because": "bo is curious"} if client is at_helper else {}))
        assert refused.status_code == 422
        assert told in refused.content.decode()
        assert "Step 2" in refused.content.decode()
    assert not Trial.objects.exists()
    assert start(at_owner, studio.gassed, against_because="outdoors, a drop of each").status_code == 302
    trial, row = Trial.objects.get(), TriedAgainst.objects.order_by("pk").first()
    assert (row.trial, row.step, row.because, row.by.name) == (trial, 2, "outdoors, a drop of each", "maud")
    shown = at_helper.get(f"/finishes/trials/{trial.number}/").content.decode()
    assert "Tried against a stop" in shown
    assert "outdoors, a drop of each" in shown


def test_with_ammoniacal_silver_nobody_tries_against_a_stop(studio, owner, helper):
    unrinsed = Change(step=4, what="rinse_collected", value="no")
    for who in (owner, helper):
        with pytest.raises(StopStands, match="With ammoniacal silver nobody tries against that"):
            builders.trial(studio.shop.recipe, who, unrinsed, against_because="I know what I do")
    trial = builders.trial(studio.shop.recipe, owner)
    with pytest.raises(StopStands, match="nobody tries against that"):
        change_trial(trial, trial.saves, changes=[unrinsed], by=owner, against_because="I know what I do")
    assert not trial.changes.exists()


def test_an_open_trial_that_became_unsound_is_named_and_stands_in_todays_doubts(studio, owner, at_helper):
    studio.bleach.reacts_as, studio.bleach.none_apply = [], True
    save_material(studio.bleach, why_taken_away="the sheet was another product's")
    trial, other = builders.trial(studio.gassed, owner), builders.trial(studio.shop.recipe, owner)
    studio.bleach.refresh_from_db()
    studio.bleach.reacts_as = ["hypochlorite"]
    save_material(studio.bleach)
    (told,) = [sentence for sentence in touched_by(studio.bleach) if sentence.startswith("Trial")]
    assert told.startswith(f"{trial} is open and in doubt: nothing more is mixed for it. Step 2:")
    page = " ".join(at_helper.get("/").content.decode().split())
    assert f"{trial}</a> is open and in doubt" in page
    assert f"{other}</a> is open and in doubt" not in page
    change_trial(trial, None, changes=[], by=owner, against_because="outdoors")
    assert trials_in_doubt([trial, other]) == []


def test_what_becomes_a_stop_takes_nothing_more_and_is_only_given_up(studio, owner, helper):
    """Given a trial that was sound, when the truth makes its step a stop, it goes no further until the owner says why."""
    studio.bleach.reacts_as, studio.bleach.none_apply = [], True
    save_material(studio.bleach, why_taken_away="the sheet was another product's")
    trial, given_up = builders.trial(studio.gassed, helper), builders.trial(studio.gassed, helper)
    studio.bleach.refresh_from_db()
    studio.bleach.reacts_as = ["hypochlorite"]
    save_material(studio.bleach)
    taken = [Taken(lot=studio.lot, amount=Decimal(1))]
    for who in (owner, helper):
        with pytest.raises(StopStands, match="Step 2"):
            take_stock(key=builders.key(), trial=trial, by=who, day=today(), taken=taken)
    with pytest.raises(StopStands, match="not worth it"):
        close_trial(trial, None, verdict="liked", score=7)
    change_trial(trial, None, changes=[], by=owner, against_because="outdoors")
    take_stock(key=builders.key(), trial=trial, by=helper, day=today(), taken=taken)
    close_trial(given_up, None, verdict="left", score=None)
    assert not given_up.tried_against.exists()
