"""A trial at the bench: the same cards as a run's, each record once and with its own time, nothing thrown away."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal

import pytest

from recipes.bench_page import NotTaken, Sent
from recipes.models import SilverClock, TrialRecord
from recipes.trials.bench import bench_of
from recipes.trials.changing import Change
from recipes.trials.conducting import TrialRefused, close_trial
from recipes.trials.records import record, settle
from studio.house.clock import pretend
from studio.stockroom.models import Lot
from tests import builders

pytestmark = pytest.mark.django_db
TEN = builders.TEN
Kind = TrialRecord.Kind


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


@pytest.fixture
def tried(workshop, owner):
    return builders.trial(workshop.recipe, owner, Change(step=3, what="dwell_minutes", value="2"))


def sent(kind, subject="", *, key=None, fields=None, **more):
    return Sent(key=key or builders.key(), kind=kind, subject=subject, **more,
                fields={name: [value] if isinstance(value, str) else value for name, value in (fields or {}).items()})


def printed(trial, subject):
    """What the screen of a mix says to take, as its form sends it."""
    return {"act": "as-written", "printed": [
        f"{number} {pick.lot_id} {pick.amount}" for number, taking in bench_of(trial).takings[subject].items()
        for pick in taking.picks]}


def left(workshop):
    return Lot.objects.get(pk=workshop.silver_lot.pk).level.on_hand


def test_the_order_of_the_hand_is_a_mix_right_before_what_needs_it(tried):
    anchors = [screen.anchor for screen in bench_of(tried).screens]
    assert anchors[0] == "conditions"
    assert [one for one in anchors if one.startswith("s")] == [f"s{number}" for number in range(1, 8)]
    assert anchors.index("mix-s3p1") < anchors.index("s3")
    assert anchors.index("mix-s7p1") > anchors.index("s4")


def test_the_page_says_this_panes_amounts_what_changed_what_endangers_and_no_cost(tried, at_helper):
    shown = at_helper.get(f"/finishes/trials/{tried.number}/steps/").content.decode()
    mix = shown[shown.index('id="mix-s3p1"'):shown.index('id="s3"')]
    assert "lot S1" in mix
    assert "<strong>Danger</strong> Ammoniacal silver" in mix
    assert "<h2>Wear</h2>" in mix
    step = shown[shown.index('id="s3"'):shown.index('id="s4"')]
    assert "<b>Changed</b>" in step
    assert 'data-seconds="120"' in step
    assert "first water collected" in shown
    for cost in ("0.001", "EUR", "€", "unit_cost", "price"):
        assert cost not in shown
    assert f"/finishes/trials/{tried.number}/steps/" in at_helper.get(f"/finishes/trials/{tried.number}/").content.decode()


def test_a_mix_takes_its_lots_once_and_starts_the_clock_at_the_devices_time(tried, helper, workshop):
    before, one = left(workshop), sent(Kind.MIXED, "s3p1", fields=printed(tried, "s3p1"), done_at=TEN, live=False)
    with pretend(TEN + timedelta(minutes=20)):
        for _ in range(2):
            record(trial=tried, by=helper, sent=one)
    taken = bench_of(tried).takings["s3p1"][1].amount
    assert before - left(workshop) == taken > 0
    assert SilverClock.objects.get().started_at == TEN
    row = TrialRecord.objects.get()
    assert (row.done_at, row.at, row.why) == (TEN, TEN + timedelta(minutes=20), "")


def test_the_clock_starts_with_the_tick_at_which_silver_and_ammonia_meet(tried, helper):
    with pretend(TEN):
        record(trial=tried, by=helper, sent=sent(Kind.ADDED, "s3p1", fields={"number": ["1"]}))
        assert not SilverClock.objects.exists()
        record(trial=tried, by=helper, sent=sent(Kind.ADDED, "s3p1", fields={"number": ["1", "2"]}))
        assert SilverClock.objects.get().started_at == TEN
    with pretend(TEN + timedelta(minutes=5)):  # mixed is set no later
        record(trial=tried, by=helper, sent=sent(Kind.MIXED, "s3p1", fields=printed(tried, "s3p1")))
        assert SilverClock.objects.get().started_at == TEN


def test_what_two_devices_mixed_is_taken_once_and_the_second_waits(tried, owner, helper, workshop):
    record(trial=tried, by=helper, sent=sent(Kind.MIXED, "s3p2", fields=printed(tried, "s3p2")))
    with pytest.raises(NotTaken, match="taken from stock once"):
        record(trial=tried, by=owner, sent=sent(Kind.MIXED, "s3p2"))
    waits = record(trial=tried, by=owner, sent=sent(Kind.MIXED, "s3p2", live=False, done_at=TEN))
    assert "taken from stock once" in waits.why
    assert tried.uses.count() == 1
    builders.nothing_mixed(tried, owner)
    with pytest.raises(TrialRefused, match="say what became of it"):
        close_trial(tried, tried.saves, verdict="further", score=None)
    with pytest.raises(TrialRefused, match="Say what became of it"):
        settle(waiting=waits, by=owner, because=" ")
    settle(waiting=waits, by=owner, because="One making: both wrote it down.")
    tried.refresh_from_db()
    close_trial(tried, tried.saves, verdict="further", score=None)


def test_silver_that_cannot_be_taken_from_stock_has_its_clock_all_the_same(tried, helper, workshop):
    shown = printed(tried, "s3p1")
    Lot.objects.filter(pk=workshop.silver_lot.pk).update(state=Lot.State.HELD, hold_reason="cloudy")
    waits = record(trial=tried, by=helper, sent=sent(Kind.MIXED, "s3p1", fields=shown, live=False, done_at=TEN))
    assert "held" in waits.why
    assert SilverClock.objects.get().started_at == TEN
    assert not tried.uses.exists()


def test_begun_and_done_say_how_long_a_step_really_took(tried, helper):
    for did, minutes in (("began", 0), ("done", 7)):
        record(trial=tried, by=helper, sent=sent(
            Kind.STEP, "s3", fields={"did": did}, live=False, done_at=TEN + timedelta(minutes=minutes)))
    timing = tried.timings.get()
    assert (timing.step, timing.seconds, timing.at) == (3, 420, TEN + timedelta(minutes=7))


def test_taken_back_a_mix_gives_back_what_it_took(tried, helper, workshop):
    before = left(workshop)
    one = record(trial=tried, by=helper, sent=sent(Kind.MIXED, "s3p1", fields=printed(tried, "s3p1")))
    record(trial=tried, by=helper, sent=sent(Kind.UNDONE, "s3p1", fields={"of": "mixed", "undoes": str(one.key)}))
    assert left(workshop) == before
    assert SilverClock.objects.filter(made_safe=None).count() == 1, "only making safe stops a clock"


def test_conditions_notes_and_trouble_stand_with_the_trial(tried, helper):
    def at(minutes, typed):
        record(trial=tried, by=helper, sent=sent(Kind.CONDITIONS, fields={"air_c": typed}, live=False,
                                                 done_at=TEN + timedelta(minutes=minutes)))

    at(10, "21 C")
    at(0, "15 C")  # sent late, measured before: it changes nothing
    tried.refresh_from_db()
    assert tried.air_c == Decimal(21)
    record(trial=tried, by=helper, sent=sent(Kind.NOTE, fields={"what": "Spill", "text": "a drop"}))
    assert tried.notes.get().text == "Spill: a drop"
    with pytest.raises(NotTaken, match="Write the note"):
        record(trial=tried, by=helper, sent=sent(Kind.NOTE, fields={"text": " "}))


def test_late_records_of_a_closed_trial_wait_and_are_not_lost(tried, owner, helper, at_owner):
    builders.nothing_mixed(tried, owner)
    tried.refresh_from_db()
    close_trial(tried, tried.saves, verdict="liked", score=7)
    late = record(trial=tried, by=helper, sent=sent(Kind.STEP, "s1", fields={"did": "done"}, live=False, done_at=TEN))
    assert "was closed when it came" in late.why
    page = at_owner.get(f"/finishes/trials/{tried.number}/").content.decode()
    assert "Sent from the bench, and not taken" in page
    at_owner.post(f"/finishes/trials/{tried.number}/steps/waiting/{late.pk}/", {"because": "Done, not written down."})
    assert "Sent from the bench, and not taken" not in at_owner.get(f"/finishes/trials/{tried.number}/").content.decode()


def test_without_a_script_and_with_one_the_same_is_sent(tried, at_helper):
    page = f"/finishes/trials/{tried.number}/steps/"
    key = builders.key()
    form = {"key": key, "kind": "step", "subject": "s1", "screen": "s1", "next": "s2", "did": "done"}
    assert at_helper.post(f"{page}record/", form)["Location"] == f"{page}#s2"
    refused = at_helper.post(f"{page}record/", form | {"key": builders.key(), "subject": "s99", "screen": "s1"})
    assert refused.status_code == 422
    assert "That step is not in this trial" in refused.content.decode()
    state = at_helper.get(f"{page}state/").json()
    assert state["said"]["step s1"]["done"]
    assert at_helper.get(f"{page}state/?mark={state['mark']}").status_code == 204
    many = {"now": TEN.isoformat(), "records": [
        {"key": str(key), "kind": "step", "subject": "s1", "at": TEN.isoformat(), "fields": {"did": ["done"]}},
        {"key": str(builders.key()), "kind": "step", "subject": "s2", "at": TEN.isoformat(), "fields": {}, "live": True},
        {"key": str(builders.key()), "kind": "step", "subject": "s99", "at": TEN.isoformat(), "fields": {}},
    ]}
    answer = at_helper.post(f"{page}records/", json.dumps(many), content_type="application/json").json()
    assert [one["is"] for one in answer["answers"]] == ["taken", "taken", "waits"]
    assert at_helper.post(f"{page}records/", "[]", content_type="application/json").status_code == 400


def test_the_trials_page_asks_for_no_lot_that_the_bench_took_already(tried, helper, at_helper):
    page = f"/finishes/trials/{tried.number}/"
    assert "<strong>Silver nitrate</strong>" in at_helper.get(page).content.decode()
    one = record(trial=tried, by=helper, sent=sent(Kind.MIXED, "s3p1", fields=printed(tried, "s3p1")))
    shown = at_helper.get(page).content.decode()
    assert "<strong>Silver nitrate</strong>" not in shown
    assert "<strong>Dextrose</strong>" in shown
    record(trial=tried, by=helper, sent=sent(Kind.UNDONE, "s3p1", fields={"of": "mixed", "undoes": str(one.key)}))
    assert "<strong>Silver nitrate</strong>" in at_helper.get(page).content.decode()
