"""The clock of a trial's ammoniacal silver: it starts with the mix, and no trial is closed while it runs."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from recipes.clocks import ClockRefused
from recipes.finishes.bench_rules import clock_starts
from recipes.models import MakingSafe, NotMixed, SilverClock, Trial
from recipes.reading import ANY_DAY, recipe_facts
from recipes.trials.changing import Change
from recipes.trials.conducting import (
    TrialRefused,
    change_trial,
    close_trial,
    make_trial_safe,
    say_not_mixed,
    start_trial_clock,
)
from studio.house.clock import pretend
from studio.house.models import House
from studio.kit import database_rules
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db
TEN = builders.TEN


@pytest.fixture
def tried(morning_workshop, owner):
    return builders.trial(morning_workshop.recipe, owner)


def close(client, trial: Trial):
    trial.refresh_from_db()
    return client.post(f"/finishes/trials/{trial.number}/close/", {"verdict": "liked", "score": "7", "saves": trial.saves})


def test_a_trial_by_its_pages_from_the_mix_to_its_end(tried, at_owner, at_helper):
    page = f"/finishes/trials/{tried.number}/"
    with pretend(TEN):
        assert "Silver part for step 3" in at_helper.get(page).content.decode()
        ahead = at_helper.post(f"{page}silver/s3p1/", {"key": builders.key(), "s3p1-done_at": "2026-03-04T19:00"})
        assert ahead.status_code == 422
        assert "still to come" in ahead.content.decode()
        assert at_helper.post(f"{page}silver/s9p9/", {"key": builders.key()}).status_code == 422
        key = builders.key()
        for _ in range(2):
            assert at_helper.post(f"{page}silver/s3p1/", {"key": key, "s3p1-done_at": "2026-03-04T09:50"}).status_code == 302
    clock = SilverClock.objects.get()
    assert clock.started_at == TEN - timedelta(minutes=10)
    with pretend(TEN + timedelta(minutes=55)):
        assert "1 h 5 min" in at_helper.get(page).content.decode()
        assert "1 h 5 min" in at_owner.get("/").content.decode()
        refused = close(at_helper, tried)
        assert refused.status_code == 422
        assert "Silver part for step 3" in refused.content.decode()
    with pretend(TEN + timedelta(minutes=110)):
        shown = at_owner.get("/stockroom/").content.decode()
        assert 'role="alert"' in shown
        assert f"Trial {tried.number}" in shown
        unsaid = at_helper.post(f"{page}made-safe/", {"key": builders.key(), "procedure": "1", "treated": ["rags"]})
        assert "Tick each mix that was made safe" in unsaid.content.decode()
        sent = {"clocks": [clock.pk], "procedure": "1", "treated": ["leftovers", "trays"],
                "none_left": ["first rinse: none", "guns: none", "hoses: none", "nozzles: none"]}
        assert at_helper.post(f"{page}made-safe/", {"key": builders.key(), **sent}).status_code == 302
        second = at_owner.post(f"{page}made-safe/", {"key": builders.key(), **sent})
        assert second.status_code == 422
        assert "made safe by teo at 11:50 already" in second.content.decode()
        assert 'role="alert"' not in at_owner.get("/stockroom/").content.decode()
        assert close(at_helper, tried).status_code == 302
        assert at_helper.post(f"{page}silver/s3p1/", {"key": builders.key()}).status_code == 422
    assert MakingSafe.objects.get().treated == [
        "leftovers", "first rinse: none", "guns: none", "hoses: none", "nozzles: none", "trays"]


def test_a_trial_whose_mixing_nobody_recorded_is_asked_about_before_it_is_closed(tried, helper, at_helper):
    """Given silver on paper only, when the trial is closed, then it asks: mixed when, made safe when, or not mixed."""
    page = f"/finishes/trials/{tried.number}/"
    with pretend(TEN):
        refused = close(at_helper, tried)
        assert refused.status_code == 422
        assert "or that it was not, then close it: Silver part for step 3." in refused.content.decode()
        assert "It was not mixed" in refused.content.decode()
        key = builders.key()
        for _ in range(2):
            assert at_helper.post(f"{page}silver/s3p1/not-mixed/", {"key": key}).status_code == 302
        assert at_helper.post(f"{page}silver/s9p9/not-mixed/", {"key": builders.key()}).status_code == 422
        said = NotMixed.objects.get()
        assert (said.trial, said.subject, said.by) == (tried, "s3p1", helper)
        assert "not mixed or sprayed, said teo" in at_helper.get(page).content.decode()
        assert close(at_helper, tried).status_code == 302
        assert at_helper.post(f"{page}silver/s3p1/not-mixed/", {"key": builders.key()}).status_code == 422


def test_a_trial_noted_from_paper_is_closed_with_the_times_at_which_it_was_done(tried, at_helper):
    page = f"/finishes/trials/{tried.number}/"
    with pretend(TEN + timedelta(hours=5)):
        at_helper.post(f"{page}silver/s3p1/", {"key": builders.key(), "s3p1-done_at": "2026-03-04T10:00"})
        clock = SilverClock.objects.get()
        denied = at_helper.post(f"{page}silver/s3p1/not-mixed/", {"key": builders.key()})
        assert "was recorded as mixed" in denied.content.decode()
        assert at_helper.post(f"{page}made-safe/", {
            "key": builders.key(), "clocks": [clock.pk], "procedure": "1",
            "treated": ["leftovers", "first rinse", "guns", "hoses", "nozzles"],
            "done_at": "2026-03-04T11:30"}).status_code == 302
        assert close(at_helper, tried).status_code == 302
    clock.refresh_from_db()
    assert clock.made_safe.done_at - clock.started_at == timedelta(minutes=90)
    assert not NotMixed.objects.exists()


def test_a_changed_solution_is_asked_about_anew(morning_workshop, tried, owner):
    """Given what was said of one solution, when the trial takes another, then that was not said of it."""
    builders.nothing_mixed(tried, owner)
    other = builders.solution("Other silver part", {"material": morning_workshop.silver, "amount": 6, "unit": "g"},
                              {"material": morning_workshop.ammonia, "amount": 7},
                              {"material": morning_workshop.water, "make_up": True},
                              keeps_minutes=None)
    change_trial(tried, None, by=owner, changes=[Change(step=3, part=1, what="solution", value=other.key)])
    with pytest.raises(TrialRefused, match="Other silver part for step 3"):
        close_trial(tried, None, verdict="liked", score=7)


def test_silver_that_was_made_safe_says_nothing_of_what_its_step_takes_since(morning_workshop, tried, owner):
    """Given one bath mixed, when its step takes another, then that has a clock of its own and is asked about."""
    other = builders.solution("Other silver part", {"material": morning_workshop.silver, "amount": 6, "unit": "g"},
                              {"material": morning_workshop.ammonia, "amount": 7}, {"material": morning_workshop.water},
                              keeps_minutes=None)
    safe = {"by": owner, "procedure": "1", "treated": ["leftovers", "first rinse", "guns", "hoses", "nozzles"]}
    with pretend(TEN):
        first = start_trial_clock(key=builders.key(), trial=tried, by=owner, subject="s3p1")
        change_trial(tried, None, by=owner, changes=[Change(step=3, part=1, what="solution", value=other.key)])
        make_trial_safe(key=builders.key(), trial=tried, clocks=[first.pk], **safe)
        with pytest.raises(TrialRefused, match="Other silver part for step 3"):
            close_trial(tried, None, verdict="liked", score=7)
        second = start_trial_clock(key=builders.key(), trial=tried, by=owner, subject="s3p1")
        assert second.what == "Other silver part for step 3"
        with pytest.raises(TrialRefused, match="was recorded as mixed"):
            say_not_mixed(key=builders.key(), trial=tried, by=owner, subject="s3p1")
        make_trial_safe(key=builders.key(), trial=tried, clocks=[second.pk], **safe)
        assert close_trial(tried, None, verdict="liked", score=7).closed_at


def test_neither_program_nor_hand_closes_a_trial_that_stands(tried, owner):
    with pretend(TEN):
        start_trial_clock(key=builders.key(), trial=tried, by=owner, subject="s3p1")
        with pytest.raises(TrialRefused, match="still stands"):
            close_trial(tried, None, verdict="liked", score=7)
        with pytest.raises(IntegrityError, match="still stands"), transaction.atomic():
            Trial.objects.filter(pk=tried.pk).update(closed_at=TEN, verdict="liked")


def test_a_mix_of_another_trial_is_not_made_safe_here(morning_workshop, tried, owner):
    with pretend(TEN):
        other = start_trial_clock(key=builders.key(), trial=builders.trial(morning_workshop.recipe, owner), by=owner, subject="s3p1")
        with pytest.raises(TrialRefused, match="no mix of this trial"):
            make_trial_safe(key=builders.key(), trial=tried, by=owner, clocks=[other.pk], procedure="1", treated=["rags"])
        with pytest.raises(ClockRefused, match="what was treated"):
            make_trial_safe(key=builders.key(), trial=other.trial, by=owner, clocks=[other.pk], procedure="1", treated=[])
    assert SilverClock.objects.get().made_safe is None


def test_two_stocks_that_meet_on_the_pane_start_with_their_first_spraying(morning_workshop, owner):
    silver = builders.solution("Silver stock", {"material": morning_workshop.silver, "amount": 12, "unit": "g"},
                               {"material": morning_workshop.water})
    ammonia = builders.solution("Ammonia stock", {"material": morning_workshop.ammonia, "amount": 14},
                                {"material": morning_workshop.water})
    steps = morning_workshop.steps()
    steps[2]["parts"] = [{"solution_version": silver}, {"solution_version": ammonia}]
    version = builders.recipe("Two stocks", steps)
    recipes, shelf = recipe_facts([version.pk], ANY_DAY)
    [start] = clock_starts(recipes[version.key], shelf)
    assert (start.key, start.began) == ("s3", "sprayed")
    with pretend(TEN):
        clock = start_trial_clock(key=builders.key(), trial=builders.trial(version, owner), by=owner, subject="s3")
    assert clock.began == "sprayed"


def test_the_audit_finds_a_closed_trial_whose_clock_was_never_stopped(tried, owner):
    with pretend(TEN):
        start_trial_clock(key=builders.key(), trial=tried, by=owner, subject="s3p1")
        database_rules.lift(transaction.get_connection())
        Trial.objects.filter(pk=tried.pk).update(closed_at=TEN, verdict="liked")
        said = audit()
        database_rules.install(transaction.get_connection())
    assert f"{tried} is closed, but Silver part for step 3 was never made safe." in said


def test_a_trials_page_says_what_to_wear_what_endangers_and_how_it_is_made_safe(tried, at_helper):
    house = House.objects.get()
    house.making_safe_procedure = "1. Acidify the leftovers.\n2. Into the closed container."
    house.save()
    shown = at_helper.get(f"/finishes/trials/{tried.number}/").content.decode()
    silver = shown[shown.index('id="step-3"'):shown.index('id="step-4"')]
    assert "<strong>Wear</strong>" in silver
    assert "oggles" in silver
    assert "<strong>Danger</strong> Ammoniacal silver" in shown
    assert "Acidify the leftovers.<br>2. Into the closed container." in shown
    assert "first water collected" in shown
