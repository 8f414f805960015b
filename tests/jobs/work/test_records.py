"""Records as the bench sends them: late, twice, by two who did not know of each other, taken back. None is lost."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from uuid import UUID

import pytest

from jobs.models import RunEntry, WaitingRecord
from jobs.work import records
from jobs.work.bench import bench_state, used_amounts
from jobs.work.clock import clocks_of
from jobs.work.finishing import finish_run
from jobs.work.records import NotTaken, Sent, record, settle
from studio.house.clock import now, pretend
from studio.house.form_keys import NAME
from tests import builders

pytestmark = pytest.mark.django_db
Kind = RunEntry.Kind


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


@pytest.fixture
def run(workshop):
    return workshop.run()


def silver_mix(run):
    return next(mix.key for mix in bench_state(run).mixes if mix.is_ammoniacal)


def reducer(run):
    return next(mix.key for mix in bench_state(run).mixes if mix.mix.solution == "Reducer")


def sent(kind, subject="", *, key=None, **more):
    fields = {name: [value] if isinstance(value, str) else value for name, value in more.pop("fields", {}).items()}
    return Sent(key=key or builders.key(), kind=kind, subject=subject, fields=fields, **more)


def state_of(run, subject):
    return next(mix for mix in bench_state(run).mixes if mix.key == subject)


def used_of(run, material):
    return used_amounts(bench_state(run)).get(material.code, 0)


def test_a_record_sent_twice_counts_once(run, owner):
    one = sent(Kind.MIXED, reducer(run))
    assert record(run=run, by=owner, sent=one) == record(run=run, by=owner, sent=one)
    assert run.entries.filter(kind=Kind.MIXED).count() == 1


def test_one_making_of_two_devices_is_one_deduction_and_a_question(run, owner, helper, workshop):
    subject = reducer(run)
    record(run=run, by=helper, sent=sent(Kind.MIXED, subject, after=""))
    used = used_of(run, workshop.sugar)
    record(run=run, by=owner, sent=sent(Kind.MIXED, subject, after="", live=False))
    assert used_of(run, workshop.sugar) == used > 0
    assert "once or twice" in " ".join(sentence for sentence, _ in bench_state(run).missing)

    record(run=run, by=owner, sent=sent(Kind.MIXED, subject, fields={"act": "once"}))
    assert state_of(run, subject).twice is None
    assert used_of(run, workshop.sugar) == used


def test_mixed_twice_after_all_is_two_deductions_and_says_why(run, owner, helper, workshop):
    subject = reducer(run)
    for by in (helper, owner):
        record(run=run, by=by, sent=sent(Kind.MIXED, subject, after=""))
    used = used_of(run, workshop.sugar)
    record(run=run, by=owner, sent=sent(Kind.MIXED, subject, fields={"act": "twice"}))
    assert used_of(run, workshop.sugar) == 2 * used
    assert state_of(run, f"{subject}-2").because == "Two people mixed it, without knowing of each other."
    assert state_of(run, subject).twice is None


def test_a_question_answered_twice_writes_nothing_over_what_was_used(run, owner, helper, workshop):
    subject = reducer(run)
    for by in (helper, owner):
        record(run=run, by=by, sent=sent(Kind.MIXED, subject, after=""))
    record(run=run, by=owner, sent=sent(Kind.MIXED, subject, fields={"act": "twice"}))
    used = used_of(run, workshop.sugar)
    for act in ("once", "twice", "anyhow"):
        with pytest.raises(NotTaken):
            record(run=run, by=helper, sent=sent(Kind.MIXED, subject, fields={"act": act}))
    assert used_of(run, workshop.sugar) == used


def test_no_further_making_is_deducted_without_its_reason(run, owner, workshop):
    subject = reducer(run)
    record(run=run, by=owner, sent=sent(Kind.MIXED, subject))
    used = used_of(run, workshop.sugar)
    with pytest.raises(NotTaken, match="Say why"):
        record(run=run, by=owner, sent=sent(Kind.MIXED, f"{subject}-9"))
    record(run=run, by=owner, sent=sent(Kind.MIXED, f"{subject}-01", fields={"act": "not-made"}))
    assert (used, used_of(run, workshop.sugar)) == (used, 0)


def test_a_fault_of_the_book_keeps_nothing_back_on_the_tablet(run, owner, monkeypatch):
    def fails(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(records, "_mix", fails)
    assert isinstance(record(run=run, by=owner, sent=sent(Kind.MIXED, reducer(run), live=True)), WaitingRecord)


def test_who_knew_of_the_record_corrects_it_and_is_not_asked(run, owner):
    subject = reducer(run)
    first = record(run=run, by=owner, sent=sent(Kind.MIXED, subject, after=""))
    record(run=run, by=owner, sent=sent(Kind.MIXED, subject, after=str(first.client_key)))
    assert state_of(run, subject).twice is None


def test_a_second_making_needs_its_reason_and_is_used_too(run, owner, workshop):
    subject = reducer(run)
    record(run=run, by=owner, sent=sent(Kind.MIXED, subject))
    used = used_of(run, workshop.sugar)
    with pytest.raises(NotTaken, match="Say why it was mixed again"):
        record(run=run, by=owner, sent=sent(Kind.MIXED, f"{subject}-2", fields={"act": "again"}))
    record(run=run, by=owner, sent=sent(Kind.MIXED, f"{subject}-2", fields={"act": "again", "because": "knocked over"}))
    assert used_of(run, workshop.sugar) == 2 * used
    assert "knocked over" in state_of(run, f"{subject}-2").how


def test_a_second_making_that_two_recorded_is_asked_about_where_it_is_mixed(run, owner, helper, at_helper):
    again = f"{reducer(run)}-2"
    record(run=run, by=owner, sent=sent(Kind.MIXED, reducer(run)))
    for by in (helper, owner):
        record(run=run, by=by, sent=sent(Kind.MIXED, again, after="", live=False, fields={"act": "again", "because": "spilt"}))
    assert state_of(run, again).twice is not None
    page = at_helper.get(f"/bench/{run.pk}/steps/").content.decode()
    assert page.count("It was mixed once</button>") == 1
    record(run=run, by=owner, sent=sent(Kind.MIXED, again, fields={"act": "once"}))
    assert "It was mixed once</button>" not in at_helper.get(f"/bench/{run.pk}/steps/").content.decode()


def test_a_second_making_corrected_on_the_whole_page_keeps_its_reason(run, owner, at_helper):
    again = f"{reducer(run)}-2"
    record(run=run, by=owner, sent=sent(Kind.MIXED, reducer(run)))
    record(run=run, by=owner, sent=sent(Kind.MIXED, again, fields={"act": "again", "because": "knocked over"}))
    assert at_helper.post(f"/bench/{run.pk}/mixes/{again}/as-written/", {"key": builders.key()}).status_code == 302
    assert run.entries.filter(subject=again).count() == 2
    assert state_of(run, again).because == "knocked over"


def test_the_clock_of_silver_starts_when_silver_and_ammonia_are_both_in(run, owner):
    subject = silver_mix(run)
    done_at = now() - timedelta(minutes=20)
    record(run=run, by=owner, sent=sent(Kind.ADDED, subject, fields={"number": ["1"]}, done_at=done_at))
    assert not clocks_of(run).exists()
    record(run=run, by=owner, sent=sent(Kind.ADDED, subject, fields={"number": ["1", "2"]}, done_at=done_at))
    assert clocks_of(run).get().started_at == done_at
    record(run=run, by=owner, sent=sent(Kind.MIXED, subject))
    assert clocks_of(run).get().started_at == done_at


def test_two_helpers_at_one_mix_do_not_untick_each_other(run, owner, helper):
    subject = silver_mix(run)
    one = {"number": ["1"], "put_in": ["1"]}
    record(run=run, by=owner, sent=sent(Kind.ADDED, subject, fields=one, done_at=now()))
    assert not clocks_of(run).exists()
    record(run=run, by=helper, sent=sent(Kind.ADDED, subject, fields={"number": ["2"], "put_in": ["2"]}, done_at=now()))
    assert bench_state(run).added[subject] == (1, 2)
    assert clocks_of(run).filter(made_safe=None).count() == 1
    record(run=run, by=helper, sent=sent(Kind.ADDED, subject, fields={"number": [], "taken_out": ["2"]}, done_at=now()))
    assert bench_state(run).added[subject] == (1,)


def test_taking_silver_back_does_not_stop_its_clock(run, owner):
    subject = silver_mix(run)
    entry = record(run=run, by=owner, sent=sent(Kind.MIXED, subject))
    record(run=run, by=owner, sent=sent(Kind.UNDONE, subject, fields={"of": "mixed", "undoes": str(entry.client_key)}))
    assert state_of(run, subject).made is None
    assert clocks_of(run).filter(made_safe=None).exists()
    assert RunEntry.objects.filter(pk=entry.pk).exists()


def test_only_the_newest_is_taken_back(run, owner):
    subject = reducer(run)
    first = record(run=run, by=owner, sent=sent(Kind.MIXED, subject))
    record(run=run, by=owner, sent=sent(Kind.MIXED, subject, fields={"act": "not-made"}))
    back = {"of": "mixed", "undoes": str(first.client_key)}
    with pytest.raises(NotTaken, match="Something newer"):
        record(run=run, by=owner, sent=sent(Kind.UNDONE, subject, fields=back))


def test_what_was_done_last_counts_though_it_was_sent_first(run, owner):
    early, late = now() - timedelta(hours=2), now() - timedelta(hours=1)
    label = bench_state(run).panes[0].label
    record(run=run, by=owner, sent=sent(Kind.PANE, label, fields={"outcome": "good"}, done_at=late))
    spoilt = {"outcome": "spoilt", "because": "a scratch"}
    record(run=run, by=owner, sent=sent(Kind.PANE, label, fields=spoilt, done_at=early, live=False))
    assert bench_state(run).panes[0].outcome == "good"


def test_an_unusual_amount_is_asked_now_and_asked_again_later_but_never_lost(run, owner, workshop):
    subject = reducer(run)
    amounts = {f"{subject}-amount_{row.number}": f"{row.amount * 50}" for row in state_of(run, subject).mix.ingredients}
    with pytest.raises(NotTaken):
        record(run=run, by=owner, sent=sent(Kind.MIXED, subject, fields={"act": "amounts", **amounts}))
    assert state_of(run, subject).made is None
    record(run=run, by=owner, sent=sent(Kind.MIXED, subject, fields={"act": "amounts", **amounts}, live=False))
    assert state_of(run, subject).made
    assert "mixes" in {where for sentence, where in bench_state(run).missing if "meant so" in sentence}


def test_minutes_that_another_sent_later_are_read_and_what_is_unusual_stays_asked(run, owner, at_helper):
    """Sent after somebody else logged in, and none at all: the record says both beside its minutes."""
    none = sent(Kind.TIME, live=False, done_by="Bess", fields={"helper": "0", "owner": "0"})
    record(run=run, by=owner, sent=none)
    assert bench_state(run).minutes == {"helper": 0, "owner": 0}
    record(run=run, by=owner, sent=sent(Kind.MIXED, reducer(run), live=False, done_by="Bess"))
    assert state_of(run, reducer(run)).how == "mixed as written, Bess (sent by maud)"
    assert [part for sentence, part in bench_state(run).missing if "did nobody spend any time?" in sentence] == ["time"]
    assert at_helper.get(f"/bench/{run.pk}/").status_code == 200
    record(run=run, by=owner, sent=sent(Kind.TIME, live=False, fields={"helper": "50", "owner": "0"}))
    assert "time" not in {part for _, part in bench_state(run).missing}


def test_what_cannot_be_read_waits_and_the_run_does_not_end_before_it_is_settled(run, owner):
    builders.worked(run, owner)
    nonsense = sent(Kind.PANE, "99.9", fields={"outcome": "good"}, live=False, done_by="Ida Bell")
    waiting = record(run=run, by=owner, sent=nonsense)
    assert isinstance(waiting, WaitingRecord)
    assert record(run=run, by=owner, sent=nonsense) == waiting
    with pytest.raises(Exception, match="Ida Bell, sent later, could not be taken"):
        finish_run(run=run, by=owner)
    with pytest.raises(Exception, match="Say what became of it"):
        settle(waiting=waiting, by=owner, because=" ")
    settle(waiting=waiting, by=owner, because="a pane of another job")
    assert finish_run(run=run, by=owner).finished_at


def test_the_rest_of_a_load_that_waits_can_be_kept_in_a_book(run, owner):
    """Its silver is recorded by itself, so that the rest waits; it is of no kind of its own, and a book knows kinds only."""
    waiting = record(run=run, by=owner, sent=sent("rest", "r1l1", live=False, done_at=now()))
    assert isinstance(waiting, WaitingRecord)
    assert "by themselves" in waiting.why
    assert waiting.fields["sent as"] == ["rest"]
    waiting.full_clean(exclude=["fields"])
    assert record(run=run, by=owner, sent=sent("rest", "r1l1", live=False, key=waiting.client_key)) == waiting
    odd = record(run=run, by=owner, sent=sent("a kind of tomorrow", live=False))
    assert odd.kind == Kind.NOTE


def test_silver_whose_record_cannot_be_read_has_its_clock_all_the_same(run, owner):
    subject = silver_mix(run)
    done = now() - timedelta(minutes=40)
    late = sent(Kind.MIXED, subject, live=False, done_at=done, fields={"act": "amounts", f"{subject}-amount_1": "a lot"})
    for _ in range(2):
        assert isinstance(record(run=run, by=owner, sent=late), WaitingRecord)
    assert clocks_of(run).get().started_at == done
    record(run=run, by=owner, sent=sent(Kind.MIXED, reducer(run), live=False, fields={"act": "amounts"}))
    assert clocks_of(run).count() == 1


def test_what_comes_after_the_end_is_kept_and_told_on_today(run, owner, at_owner, at_helper):
    builders.worked(run, owner)
    finish_run(run=run, by=owner)
    subject = reducer(run)
    waiting = record(run=run, by=owner, sent=sent(Kind.MIXED, subject, live=False))
    assert waiting.why == "The run was over when it came."
    for desk in (at_owner, at_helper):
        assert "could not be taken: The run was over when it came." in desk.get("/").content.decode()
    at_owner.post(f"/bench/waiting/{waiting.pk}/", {"because": "never used: poured away and counted"})
    assert "could not be taken" not in at_owner.get("/").content.decode()


def test_the_rest_as_written_is_all_but_silver(run, owner):
    load = "r1l1"
    with pytest.raises(NotTaken, match="Their clock counts from it"):
        record(run=run, by=owner, sent=sent("rest", load))
    record(run=run, by=owner, sent=sent(Kind.MIXED, silver_mix(run)))
    rest = sent("rest", load)
    for _ in range(2):
        record(run=run, by=owner, sent=rest)
    state = bench_state(run)
    assert [mix.mix.solution for mix in state.mixes if mix.made is None and mix.mix.load] == []
    assert {step for step, one in state.steps.items() if one.done} == {
        f"{load}s{step.number}" for step in state.plan.recipes[0].steps}
    assert run.entries.filter(kind=Kind.MIXED).values("subject").distinct().count() == run.entries.filter(
        kind=Kind.MIXED).count()


def posted(client, run, *records, moment=None):
    return client.post(f"/bench/{run.pk}/steps/records/", json.dumps({
        "now": (moment or now()).isoformat(), "records": records}), content_type="application/json")


def of_device(kind, subject, at, **fields):
    return {"key": str(builders.key()), "kind": kind, "subject": subject, "at": at.isoformat(), "after": "",
            "fields": fields, "live": False, "by": "Teo", "screen": ""}


def test_a_tablet_whose_clock_is_wrong_says_when_it_was_all_the_same(run, at_helper):
    subject, wrong = silver_mix(run), timedelta(hours=3)
    mixed = of_device("mixed", subject, now() - timedelta(minutes=30) + wrong, act=["as-written"])
    answer = posted(at_helper, run, mixed, moment=now() + wrong).json()
    assert [one["is"] for one in answer["answers"]] == ["taken"]
    assert 29 < (now() - clocks_of(run).get().started_at).total_seconds() / 60 < 31


def test_what_is_no_list_of_records_is_refused_whole(run, at_helper):
    for body in ("", "[]", '{"now": "yesterday", "records": []}', json.dumps({
            "now": now().isoformat(), "records": [{"key": "x", "at": "y", "fields": {}}]}), *(json.dumps({
            "now": now().isoformat(), "records": [{"key": str(builders.key()), "at": at, "fields": {}}]})
            for at in ("2026-11-26T09:00:00", "9999-12-31T23:59:59Z")), "[" * 100_000):
        assert at_helper.post(f"/bench/{run.pk}/steps/records/", body, content_type="application/json").status_code == 400
    assert not run.entries.exists()


def test_letters_that_no_database_keeps_are_taken_out(run, at_helper):
    note = of_device("note", "", now(), text=["one\0 two \ud800"])
    assert posted(at_helper, run, note).json()["answers"][0]["is"] == "taken"
    assert bench_state(run).notes[0].content["text"] == "one two ?"


def test_a_refused_record_comes_back_as_its_screen_with_what_was_typed(run, at_helper):
    label = bench_state(run).panes[0].label
    spoilt = {**of_device("pane", label, now(), outcome=["spoilt"], because=[""]), "live": True,
              "screen": "r1l1-panes"}
    answer = posted(at_helper, run, spoilt).json()["answers"][0]
    assert answer["is"] == "refused"
    assert 'id="r1l1-panes"' in answer["screen"]
    assert answer["sentence"] == "Say what spoilt it: the next one learns from it."


def test_the_page_asks_cheaply_until_something_changes(run, at_helper, owner, django_assert_max_num_queries):
    mark = at_helper.get(f"/bench/{run.pk}/steps/state/").json()["mark"]
    with django_assert_max_num_queries(8):
        assert at_helper.get(f"/bench/{run.pk}/steps/state/?mark={mark}").status_code == 204
    record(run=run, by=owner, sent=sent(Kind.MIXED, reducer(run)))
    told = at_helper.get(f"/bench/{run.pk}/steps/state/?mark={mark}").json()
    assert told["said"][f"mixed {reducer(run)}"]["words"].startswith("Mixed as written, maud")


def test_the_kept_page_holds_no_price_and_no_contact(run, at_helper):
    page = at_helper.get(f"/bench/{run.pk}/steps/").content.decode()
    for word in ("ada@fenwick.example", "Ada Fenwick", "£", "price", "cost"):
        assert word not in page


def test_without_a_script_a_record_goes_on_to_the_next_screen(run, at_helper):
    key = str(builders.key())
    answer = at_helper.post(f"/bench/{run.pk}/steps/record/", {
        "key": key, "kind": "mixed", "subject": reducer(run), "screen": f"mix-{reducer(run)}", "next": "r1l1s3",
        "act": "as-written"})
    assert answer.status_code == 302
    assert answer["Location"].endswith("/steps/#r1l1s3")
    assert RunEntry.objects.get(client_key=UUID(key)).subject == reducer(run)


def test_a_late_record_of_silver_already_made_safe_starts_no_new_clock(morning_workshop, owner):
    run = morning_workshop.run()
    subject = silver_mix(run)
    with pretend(builders.TEN):
        record(run=run, by=owner, sent=sent(Kind.MIXED, subject))
    clock = clocks_of(run).get()
    with pretend(builders.TEN + timedelta(minutes=30)):
        record(run=run, by=owner, sent=sent(Kind.MADE_SAFE, fields={
            "clocks": [str(clock.pk)], "procedure": "Procedure 3", "treated": ["leftovers", "first rinse", "guns",
                                                                             "hoses", "nozzles"]}))
        record(run=run, by=owner, sent=sent(Kind.MIXED, subject, after="", live=False,
                                            done_at=builders.TEN + timedelta(minutes=2)))
    assert not clocks_of(run).filter(made_safe=None).exists()


@pytest.mark.parametrize(("anchor", "kind", "fields"), [
    ("leave", "time", {"helper": "0", "owner": "0"}), ("made-safe", "made safe", {}),
    ("trouble-spill", "note", {"what": "Spill", "text": "x" * 1000}), ("nowhere", "nothing", {}),
])
def test_without_a_script_a_refusal_stands_on_the_screen_that_was_sent(run, at_helper, anchor, kind, fields):
    page = at_helper.post(f"/bench/{run.pk}/steps/record/", {
        NAME: str(builders.key()), "kind": kind, "subject": "", "screen": anchor, **fields}).content.decode()
    here = re.findall(r'<section class="screen(?: whole)? here" id="([^"]+)"', page)
    assert here == ["all" if anchor == "nowhere" else anchor]
